// The picture on the page: light added up as the controls have it, shown in one of three ways, and read at a place.

const SHOWN = { picture: developInto, stops: stopsInto, ends: endsInto };
const CLIPPED = bytesOf(common.scale.clipped).slice(0, 3),
  CRUSHED = [38, 66, 112];

// Clipped and crushed parts over a faint grey picture: what the sensor can't hold, and what an 8-bit file hardly tells
// from black.
function endsInto(pixels, light, width, iso, look) {
  const signal = signalOf(light, iso, look),
    clip = clipOf(iso);
  for (let at = 0, to = 0; at < light.length; at += 3, to += 4) {
    const clipped = Math.max(light[at], light[at + 1], light[at + 2]) >= clip;
    const crushed = Math.max(signal[at], signal[at + 1], signal[at + 2]) < common.crushed + 0.5;
    const grey = 20 + 0.45 * luminanceOf(signal[at], signal[at + 1], signal[at + 2]);
    for (let band = 0; band < 3; band += 1)
      pixels[to + band] = clipped ? CLIPPED[band] : crushed ? CRUSHED[band] : grey;
    pixels[to + 3] = 255;
  }
}

// Which layers are looked at, and whether their image is: everything, one light, or the veil alone.
const showsLayer = (only, layer) => only === "all" || only === "veil" || Number(only) === layer;

// Light of every pixel, lx·s, three bands each.
function lightAsSeen(set, state, only, light = new Float32Array(3 * set.width * set.height)) {
  const { factors, image } = settingsOf(set, state);
  const shown = factors.map((factor, layer) => (showsLayer(only, layer) ? factor * image : 0));
  const [red, green, blue] = [0, 1, 2].map((band) =>
    shown.reduce((sum, factor, at) => sum + factor * set.veil[at][band], 0),
  );
  for (let at = 0; at < light.length; at += 3) {
    light[at] = red;
    light[at + 1] = green;
    light[at + 2] = blue;
  }
  if (only === "veil") return light;
  shown.forEach((factor, layer) => {
    const own = set.light[layer];
    if (factor === 0 || own === null) return;
    for (let at = 0; at < light.length; at += 1) light[at] += factor * own[at];
  });
  return light;
}

// The light at a place: the mean over a small square of pixels about it.
function lightAt(light, set, column, row) {
  const reach = (set.square - 1) / 2,
    sum = [0, 0, 0];
  let count = 0;
  for (let y = Math.max(0, row - reach); y <= Math.min(set.height - 1, row + reach); y += 1) {
    for (let x = Math.max(0, column - reach); x <= Math.min(set.width - 1, column + reach); x += 1, count += 1) {
      for (let band = 0; band < 3; band += 1) sum[band] += light[3 * (y * set.width + x) + band];
    }
  }
  return sum.map((value) => value / count);
}

function pointReading(set, state, light, subject, column, row) {
  const { iso } = settingsOf(set, state),
    bands = lightAt(light, set, column, row);
  const stops = Math.log2(luminanceOf(...bands) / midGrey(iso));
  const codes = [...signalOf(Float32Array.from(bands), iso, set.look)].map(Math.round);
  return {
    stops,
    codes,
    place: placeInFrame((column + 0.5) / set.width, (row + 0.5) / set.height),
    under: subject === null || endless(subject.mean.value) ? null : subject.mean.value - stops,
  };
}

// A canvas that shows a set; it is drawn at most once for each frame of the screen.
function viewOf(set, canvas) {
  canvas.width = set.width;
  canvas.height = set.height;
  const brush = canvas.getContext("2d", { alpha: false, willReadFrequently: true }),
    sheet = brush.createImageData(set.width, set.height);
  const view = { light: null, state: null };
  view.draw = (state, shownAs, only) => {
    view.state = state;
    view.light = lightAsSeen(set, state, only, view.light ?? undefined);
    SHOWN[shownAs](sheet.data, view.light, set.width, settingsOf(set, state).iso, set.look);
    brush.putImageData(sheet, 0, 0);
  };
  return view;
}

// Unpacks a set's layers and tables, one after the other, so that the page stays awake.
async function unpack(set, number) {
  set.light = [];
  for (const [layer, packed] of set.layers.entries()) {
    const holder = byId(`layer-${number}-${layer}`);
    if (packed === null) {
      set.light.push(null);
      continue;
    }
    const [low, high] = holder.textContent.trim().split(".");
    holder.remove();
    set.light.push(lightOf(await unpacked(low), await unpacked(high), packed.offset, set.step, set.width, set.height));
  }
  const { sums } = set;
  if (sums.squares !== null) sums.squares = await tableOf(sums.squares);
  for (const look of [sums.first, sums.second]) {
    if (look !== null) look.light = await tableOf(look.light);
  }
}
