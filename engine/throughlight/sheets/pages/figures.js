// Figures from replicates: means, Student's t intervals, stops; as readings/intervals.py and readings/patches.py.

const log2OrNone = (value) => (value > 0 ? Math.log2(value) : -Infinity);

function meanOf(values) {
  const n = values.length;
  let sum = 0,
    squares = 0;
  for (const value of values) sum += value;
  const mean = sum / n;
  for (const value of values) squares += (value - mean) ** 2;
  return { value: mean, error: Math.sqrt(squares / (n - 1) / n) };
}

// Log2 of an estimate over a unit, with the interval `t` standard errors wide: the delta method while that is narrow.
function inStops({ value, error }, unit, t) {
  const half = t * error;
  if (!(value > 0)) return { value: -Infinity, low: -Infinity, high: log2OrNone(half / unit) };
  const middle = Math.log2(value / unit);
  if (half < common.narrow * value) {
    const width = half / (value * Math.LN2);
    return { value: middle, low: middle - width, high: middle + width };
  }
  return { value: middle, low: log2OrNone((value - half) / unit), high: log2OrNone((value + half) / unit) };
}

// How many stops `dark` lies under `bright`, replicate by replicate; null when one of them has no light.
function ratioUnder(dark, bright, t) {
  if (bright === null) return null;
  const d = meanOf(dark),
    b = meanOf(bright);
  if (!(d.value > 0 && b.value > 0)) return null;
  const ratio = d.value / b.value;
  const stops = inStops({ value: ratio, error: ratio * Math.hypot(d.error / d.value, b.error / b.value) }, 1, t);
  return { value: -stops.value, low: -stops.high, high: -stops.low };
}

function worstUnder(worst, subject) {
  if (subject === null || !Number.isFinite(worst.value) || !Number.isFinite(subject.value)) return null;
  const under = subject.value - worst.value;
  return {
    value: under,
    low: under - Math.hypot(worst.high - worst.value, subject.value - subject.low),
    high: under + Math.hypot(worst.value - worst.low, subject.high - subject.value),
  };
}

// Mean and standard error of each cell over some of the replicates; those that are not a number don't count.
function meansAndErrors(cells, replicates, count) {
  const means = new Float64Array(count),
    errors = new Float64Array(count);
  for (let cell = 0; cell < count; cell += 1) {
    let number = 0,
      sum = 0,
      squares = 0;
    for (const r of replicates) {
      const value = cells[r * count + cell];
      if (value === value) {
        number += 1;
        sum += value;
      }
    }
    const mean = sum / number;
    for (const r of replicates) {
      const value = cells[r * count + cell];
      if (value === value) squares += (value - mean) ** 2;
    }
    means[cell] = number > 0 ? mean : 0;
    errors[cell] = number > 1 ? Math.sqrt(squares / (number - 1) / number) : Infinity;
  }
  return { means, errors };
}

// The cells that could be the brightest, at most so many.
function contenders(cells, replicates, count, t, most) {
  const { means, errors } = meansAndErrors(cells, upTo(replicates), count);
  let floor = -Infinity;
  for (let cell = 0; cell < count; cell += 1) {
    if (errors[cell] < Infinity) floor = Math.max(floor, means[cell] - t * errors[cell]);
  }
  const reach = (cell) => (errors[cell] < Infinity ? means[cell] + t * errors[cell] : 0);
  return upTo(count)
    .filter((cell) => reach(cell) >= floor)
    .sort((a, b) => means[b] - means[a])
    .slice(0, most);
}

// The brightest of the cells; its interval reaches up to the highest end of any, all holding together.
function brightest(cells, replicates, count, unit, t) {
  const { means, errors } = meansAndErrors(cells, upTo(replicates), count);
  let best = 0,
    high = -Infinity;
  for (let cell = 0; cell < count; cell += 1) {
    if (means[cell] > means[best]) best = cell;
    high = Math.max(high, inStops({ value: means[cell], error: errors[cell] }, unit, t).high);
  }
  const own = inStops({ value: means[best], error: errors[best] }, unit, t);
  return { best, exposure: { value: own.value, low: own.low, high } };
}
