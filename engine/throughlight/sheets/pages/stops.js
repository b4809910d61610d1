// Exposures as colour, with a line at each whole stop: the scale and the lines of darkroom/scale.py.

const SCALE = common.scale;
const COLOURS = Object.fromEntries(["graded", "clipped", "darker"].map((name) => [name, bytesOf(SCALE[name])]));

// Where whole stops pass: 0 nowhere, 1 a line, 2 the line of mid-grey. Softened first, so that grain frays no line;
// no line where stops lie so close that they are the edge of a thing.
function contours(field, width, height) {
  const size = width * height,
    line = new Uint8Array(size),
    edge = new Float64Array(size);
  const reach = Math.max(1, Math.round(Math.max(width, height) * SCALE.blur));
  const steepest = 0.5 / Math.sqrt(reach * (reach + 1));
  const held = Float64Array.from(field, (stops) =>
    Math.min(Math.max(stops === stops ? stops : -Infinity, SCALE.darkest - 1), SCALE.brightest + 1),
  );
  const soft = softened(held, width, height, reach);
  for (const [step, columns, rows] of [
    [width, width, height - 1],
    [1, width - 1, height],
  ]) {
    for (let row = 0; row < rows; row += 1) {
      for (let column = 0; column < columns; column += 1) {
        const at = row * width + column,
          here = soft[at],
          there = soft[at + step];
        const low = Math.floor(here),
          high = Math.floor(there),
          passed = Math.max(low, high);
        if (low !== high && passed >= SCALE.darkest && passed <= SCALE.brightest)
          line[at] = Math.max(line[at], passed === 0 ? 2 : 1);
        if (Math.abs(there - here) >= steepest) edge[at] = 1;
      }
    }
  }
  softened(edge, width, height, reach).forEach((near, at) => {
    if (near > 1e-6) line[at] = 0;
  });
  return line;
}

// Three moving averages each way, nearly a Gaussian blur; past the edges the picture goes on as it ends there.
function softened(field, width, height, reach) {
  let from = field,
    to = new Float64Array(field.length);
  for (const averaged of [averagedDown, averagedAcross]) {
    for (let pass = 0; pass < 3; pass += 1) {
      averaged(from, to, width, height, reach);
      [from, to] = [to, from === field ? new Float64Array(field.length) : from];
    }
  }
  return from;
}

function averagedAcross(from, to, width, height, reach) {
  const span = 2 * reach + 1,
    last = width - 1;
  for (let row = 0, start = 0; row < height; row += 1, start += width) {
    let sum = 0;
    for (let at = -reach; at <= reach; at += 1) sum += from[start + (at < 0 ? 0 : at > last ? last : at)];
    for (let at = 0; at < width; at += 1) {
      to[start + at] = sum / span;
      const next = at + reach + 1,
        done = at - reach;
      sum += from[start + (next > last ? last : next)] - from[start + (done < 0 ? 0 : done)];
    }
  }
}

// Row by row, with a sum for each column: a walk down each column would fetch every number from afar.
function averagedDown(from, to, width, height, reach) {
  const span = 2 * reach + 1,
    last = height - 1,
    sums = new Float64Array(width);
  for (let at = -reach; at <= reach; at += 1) {
    const start = (at < 0 ? 0 : at > last ? last : at) * width;
    for (let column = 0; column < width; column += 1) sums[column] += from[start + column];
  }
  for (let row = 0, at = 0; row < height; row += 1) {
    const next = Math.min(row + reach + 1, last) * width,
      done = Math.max(row - reach, 0) * width;
    for (let column = 0; column < width; column += 1, at += 1) {
      to[at] = sums[column] / span;
      sums[column] += from[next + column] - from[done + column];
    }
  }
}

// The entry of a table of colours that stands for stops from `first` to `last`.
function entryOf(stops, first, last, count) {
  const place = Math.round(((stops - first) * (count - 1)) / (last - first));
  return place < 0 ? 0 : place >= count ? count - 1 : place;
}

function stopsInto(pixels, light, width, iso) {
  const size = light.length / 3,
    unit = midGrey(iso),
    field = new Float64Array(size),
    { graded, clipped, darker } = COLOURS;
  for (let at = 0; at < size; at += 1) {
    field[at] = Math.log2(luminanceOf(light[3 * at], light[3 * at + 1], light[3 * at + 2]) / unit);
  }
  const lines = contours(field, width, size / width);
  for (let at = 0, to = 0; at < size; at += 1, to += 4) {
    const stops = field[at];
    let table = darker,
      entry = 0;
    if (stops >= SCALE.clipStops) {
      table = clipped;
      entry = entryOf(stops, SCALE.clipStops, SCALE.brightest, clipped.length / 9);
    } else if (stops >= SCALE.darkest) {
      table = graded;
      entry = entryOf(stops, SCALE.darkest, SCALE.clipStops, graded.length / 9);
    }
    const from = (lines[at] * table.length) / 3 + 3 * entry; // a third of a table for each kind of line
    pixels[to] = table[from];
    pixels[to + 1] = table[from + 1];
    pixels[to + 2] = table[from + 2];
    pixels[to + 3] = 255;
  }
}
