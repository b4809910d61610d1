// Layers of light as they were packed: sheets/layer_codes.py tells how, and why.

const bytesOf = (base64) => Uint8Array.from(atob(base64), (sign) => sign.charCodeAt(0));

async function unpacked(base64) {
  const stream = new Blob([bytesOf(base64)]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

// One plane of whole numbers from its rests: those of each kind of place begin where `next` says.
function followed(low, high, next, width, height) {
  const plane = new Int16Array(width * height),
    [first, second, third, fourth, fifth, sixth] = common.lively;
  let above = new Int32Array(width + 2),
    sizes = new Int32Array(width + 2); // of the rests, one place of zero at each end
  for (let row = 0, at = 0; row < height; row += 1) {
    let left = row === 0 ? 0 : plane[at - width];
    for (let column = 0; column < width; column += 1, at += 1) {
      let expected = left;
      if (row > 0) {
        const up = at - width;
        const before = plane[column === 0 ? up : up - 1],
          after = plane[column === width - 1 ? up : up + 1];
        expected = (left + plane[up] + before + after) >> 2;
      }
      const about = sizes[column] + above[column] + above[column + 1] + above[column + 2];
      const kind =
        about < third
          ? about < first
            ? 0
            : about < second
              ? 1
              : 2
          : about < fourth
            ? 3
            : about < fifth
              ? 4
              : about < sixth
                ? 5
                : 6;
      const from = next[kind];
      next[kind] = from + 1;
      const folded = low[from] | (high[from] << 8),
        rest = (folded >> 1) ^ -(folded & 1);
      sizes[column + 1] = rest < 0 ? -rest : rest;
      left = plane[at] = expected + rest;
    }
    [above, sizes] = [sizes, above];
    sizes[0] = 0;
  }
  return plane;
}

// A layer's light, lx·s, three bands a pixel, without veil.
function lightOf(lowWithHead, high, offset, step, width, height) {
  const size = width * height,
    kinds = common.lively.length + 1,
    head = 3 * kinds;
  const counts = new Uint32Array(lowWithHead.slice(0, 4 * head).buffer),
    low = lowWithHead.subarray(4 * head);
  const starts = new Uint32Array(head);
  for (let at = 1; at < head; at += 1) starts[at] = starts[at - 1] + counts[at - 1];
  const planes = [0, 1, 2].map((at) => followed(low, high, starts.slice(at * kinds, (at + 1) * kinds), width, height));
  const [green, red, blue] = planes,
    light = new Float32Array(3 * size);
  let most = 0;
  for (let at = 0; at < size; at += 1) most = Math.max(most, green[at], green[at] + red[at], green[at] + blue[at]);
  const factor = Float64Array.from({ length: most + 1 }, (_, code) => 2 ** (code * step) - 1);
  for (let at = 0, to = 0; at < size; at += 1, to += 3) {
    light[to] = offset[0] * factor[green[at] + red[at]];
    light[to + 1] = offset[1] * factor[green[at]];
    light[to + 2] = offset[2] * factor[green[at] + blue[at]];
  }
  return light;
}

// A table of sums: 16-bit codes, 0 for not a number, 1 for no light, then steps of log2; low bytes, then high bytes.
async function tableOf(packed) {
  const bytes = await unpacked(packed.codes);
  const size = bytes.length / 2,
    values = new Float64Array(size);
  for (let at = 0; at < size; at += 1) {
    const code = bytes[at] | (bytes[at + size] << 8);
    values[at] = code === 0 ? NaN : code === 1 ? 0 : 2 ** (packed.low + (code - 2) * packed.step);
  }
  return values;
}
