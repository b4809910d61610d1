// Percentiles and the clipped part over the subject's squares, noise taken out; as readings/patches.py.

// Rows of ±1, all orthogonal (Sylvester): the number of ones that two numbers share, even or odd.
function signOf(row, column) {
  let shared = row & column,
    odd = 0;
  for (; shared > 0; shared >>= 1) odd ^= shared & 1;
  return odd ? -1 : 1;
}

function average(values, weights) {
  let sum = 0,
    whole = 0;
  for (let at = 0; at < values.length; at += 1) {
    sum += values[at] * weights[at];
    whole += weights[at];
  }
  return sum / whole;
}

// Cells drawn toward their mean until only the spread that is no noise is left.
function withoutNoise(means, errors, weights) {
  const middle = average(means, weights);
  const spread = average(
    means.map((value) => (value - middle) ** 2),
    weights,
  );
  const noise = average(
    errors.map((error) => error * error),
    weights,
  );
  const kept = spread > 0 ? Math.sqrt(Math.max(0, 1 - noise / spread)) : 1;
  return means.map((value) => middle + kept * (value - middle));
}

// The values under which these percentages of the weight lie.
function percentilesOf(values, weights, percents) {
  const order = upTo(values.length).sort((a, b) => values[a] - values[b]);
  const levels = new Float64Array(order.length);
  let sum = 0;
  order.forEach((cell, at) => {
    sum += weights[cell];
    levels[at] = sum - weights[cell] / 2;
  });
  return percents.map((percent) => {
    const level = (percent / 100) * sum,
      last = order.length - 1;
    let above = levels.findIndex((each) => each > level);
    if (above === 0) return values[order[0]];
    if (above < 0) return values[order[last]];
    const part = (level - levels[above - 1]) / (levels[above] - levels[above - 1]);
    return values[order[above - 1]] + part * (values[order[above]] - values[order[above - 1]]);
  });
}

function clippedOf(values, weights, clip) {
  let past = 0,
    whole = 0;
  for (let at = 0; at < values.length; at += 1) {
    whole += weights[at];
    if (values[at] > clip) past += weights[at];
  }
  return past / whole;
}

// Several figures of the cells at once, each with its standard error from balanced half-samples.
function figuresOfCells(cells, replicates, weights, figures) {
  const count = weights.length;
  const known = (set) => {
    const { means, errors } = meansAndErrors(cells, set, count);
    const usable = upTo(count).filter((cell) => errors[cell] < Infinity);
    const pick = (values) => Float64Array.from(usable, (cell) => values[cell]);
    return [pick(means), pick(errors), pick(weights)];
  };
  const [means, errors, each] = known(upTo(replicates));
  const values = figures(withoutNoise(means, errors, each), each),
    plain = figures(means, each);
  const squares = values.map(() => 0);
  for (let row = 1; row < replicates; row += 1) {
    const halves = [1, -1].map((sign) => {
      const half = known(upTo(replicates).filter((column) => signOf(row, column) === sign));
      return figures(withoutNoise(...half), half[2]);
    });
    squares.forEach((_, at) => {
      squares[at] += (halves[0][at] - halves[1][at]) ** 2;
    });
  }
  return values.map((value, at) => {
    const sampling = common.squares.smooth * 0.5 * Math.sqrt(squares[at] / (replicates - 1));
    return { value: Math.max(value, 0), error: Math.hypot(sampling, common.squares.trust * (plain[at] - value)) };
  });
}
