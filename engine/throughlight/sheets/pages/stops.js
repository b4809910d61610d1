// Exposures as colour, with a line at each whole stop: the scale and the lines of darkroom/scale.py.

const SCALE = common.scale;
const COLOURS = Object.fromEntries(["graded", "clipped", "darker"].map((name) => [name, bytesOf(SCALE[name])]));

// Where whole stops pass: 0 nowhere, 1 a line, 2 the line of mid-grey. Softened first, so that grain frays no line;
// no line where stops lie so close that they are the edge of a thing.
function contours(field, width, height) {
  const size = width * height, line = new Uint8Array(size), edge = new Float64Array(size);
  const reach = Math.max(1, Math.round(Math.max(width, height) * SCALE.blur));
  const steepest = 0.5 / Math.sqrt(reach * (reach + 1));
  const held = Float64Array.from(field, (stops) =>
    Math.min(Math.max(stops === stops ? stops : -Infinity, SCALE.darkest - 1), SCALE.brightest + 1));
  const soft = softened(held, width, height, reach);
  for (const [step, columns, rows] of [[width, width, height - 1], [1, width - 1, height]]) {
    for (let row = 0; row < rows; row += 1) {
      for (let column = 0; column < columns; column += 1) {
        const at = row * width + column, here = soft[at], there = soft[at + step];
        const low = Math.floor(here), high = Math.floor(there), passed = Math.max(low, high);
        if (low !== high && passed >= SCALE.darkest && passed <= SCALE.brightest) line[at] = Math.max(line[at], passed === 0 ? 2 : 1);
        if (Math.abs(there - here) >= steepest) edge[at] = 1;
      }
    }
  }
  softened(edge, width, height, reach).forEach((near, at) => { if (near > 1e-6) line[at] = 0; });
  return line;
}

// Three moving averages each way, nearly a Gaussian blur; past the edges the picture goes on as it ends there.
function softened(field, width, height, reach) {
  const runs = [[height, width, width, 1], [width, 1, height, width]];
  let from = field;
  for (const [length, step, lines, apart] of runs) {
    for (let pass = 0; pass < 3; pass += 1) {
      const to = new Float64Array(from.length);
      for (let each = 0; each < lines; each += 1) averaged(from, to, each * apart, step, length, reach);
      from = to;
    }
  }
  return from;
}

function averaged(from, to, start, step, length, reach) {
  const span = 2 * reach + 1, last = length - 1;
  let sum = 0;
  for (let at = -reach; at <= reach; at += 1) sum += from[start + Math.min(Math.max(at, 0), last) * step];
  for (let at = 0; at < length; at += 1) {
    to[start + at * step] = sum / span;
    sum += from[start + Math.min(at + reach + 1, last) * step] - from[start + Math.max(at - reach, 0) * step];
  }
}

// Where a colour of the scale stands in its table.
function colourAt(stops) {
  const entry = (part, first, last, table) => {
    const count = COLOURS[table].length / 9;
    return [COLOURS[table], Math.min(Math.max(Math.round(((part - first) * (count - 1)) / (last - first)), 0), count - 1), count];
  };
  if (stops >= SCALE.clipStops) return entry(stops, SCALE.clipStops, SCALE.brightest, "clipped");
  if (stops >= SCALE.darkest) return entry(stops, SCALE.darkest, SCALE.clipStops, "graded");
  return entry(0, 0, 1, "darker");
}

function stopsInto(pixels, light, width, iso) {
  const size = light.length / 3, unit = midGrey(iso), field = new Float64Array(size);
  for (let at = 0; at < size; at += 1) {
    field[at] = Math.log2(luminanceOf(light[3 * at], light[3 * at + 1], light[3 * at + 2]) / unit);
  }
  const lines = contours(field, width, size / width);
  for (let at = 0; at < size; at += 1) {
    const [table, entry, count] = colourAt(field[at]), from = 3 * (lines[at] * count + entry);
    for (let band = 0; band < 3; band += 1) pixels[4 * at + band] = table[from + band];
    pixels[4 * at + 3] = 255;
  }
}
