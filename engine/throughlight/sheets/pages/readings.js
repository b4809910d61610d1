// A set's readings at other powers, f-number, ISO speed and shutter: what readings/assemble.py makes of the same sums.

// What the controls say, as numbers: the factor of each layer, of the image behind the lens, and the ISO speed.
function settingsOf(set, state) {
  const { camera } = set;
  const time = camera.shutters[state.shutter].value / camera.shutters[camera.shutterAt].value;
  const stop = camera.fNumbers[camera.fNumberAt].value / camera.fNumbers[state.fNumber].value;
  return {
    factors: set.lights.map((light, at) => (state.on[at] ? 2 ** (state.thirds[at] / 3) * (light.flash ? 1 : time) : 0)),
    image: stop * stop,
    iso: camera.isos[state.iso].value,
  };
}

const asSet = (set) => ({
  thirds: set.lights.map(() => 0),
  on: set.lights.map(() => true),
  fNumber: set.camera.fNumberAt,
  shutter: set.camera.shutterAt,
  iso: set.camera.isoAt,
});

const isAsSet = (set, state) => JSON.stringify(state) === JSON.stringify(asSet(set));

// Rows of numbers by replicate, weighed by layer: one number a replicate.
const weighed = (rows, factors) => rows.map((row) => row.reduce((sum, value, at) => sum + value * factors[at], 0));
const added = (one, other) => one.map((value, at) => value + other[at]);

// The same of (replicate, cell, layer) sums in one array.
function weighedCells(values, factors) {
  const layers = factors.length,
    cells = new Float64Array(values.length / layers);
  for (let cell = 0, at = 0; cell < cells.length; cell += 1) {
    let sum = 0;
    for (let layer = 0; layer < layers; layer += 1, at += 1) sum += values[at] * factors[layer];
    cells[cell] = sum;
  }
  return cells;
}

const withVeil = (cells, veil, count) => cells.map((value, at) => value + veil[Math.floor(at / count)]);

function readingsOf(set, state) {
  const { sums } = set,
    { factors, image, iso } = settingsOf(set, state);
  const onFilm = factors.map((factor) => factor * image);
  const grey = midGrey(iso),
    t = sums.t;
  const stops = (values, unit = grey) => inStops(meanOf(values), unit, t);
  const only = (at) => onFilm.map((factor, layer) => (layer === at ? factor : 0));
  const veil = weighed(sums.veil, onFilm);
  const lights = upTo(set.lights.length).filter((at) => !set.lights[at].room);
  const told = { iso, veil, subject: null, backdrop: null, ambient: null };
  const subject = sums.subject === null ? null : added(weighed(sums.subject, onFilm), veil);
  if (subject !== null) {
    told.subject = {
      replicates: subject,
      mean: stops(subject),
      byHead: lights.map((at) => [
        set.lights[at].name,
        stops(added(weighed(sums.subject, only(at)), weighed(sums.veil, only(at)))),
      ]),
      ...squareFigures(sums, onFilm, veil, iso),
    };
  }
  if (sums.backdrop !== null) told.backdrop = backdropOf(set, onFilm, veil, subject, grey, iso);
  const outside = meanOf(weighed(sums.outside, factors));
  told.stray = {
    replicates: weighed(sums.outside, factors),
    outside: outside.value,
    low: Math.max(0, outside.value - t * outside.error),
    high: outside.value + t * outside.error,
    inside: meanOf(weighed(sums.inside, factors)).value,
    veil: stops(veil),
    veilByHead: lights.map((at) => [set.lights[at].name, stops(weighed(sums.veil, only(at)))]),
    seen: sums.seen,
    routes: routesOf(set, sums.front, factors),
  };
  const steady = onFilm.map((factor, at) => (set.lights[at].flash ? 0 : factor));
  if (set.ambient) {
    const haze = weighed(sums.veil, steady);
    const steadily = (rows) => (rows === null ? null : stops(added(weighed(rows, steady), haze)));
    told.ambient = { subject: steadily(sums.subject), backdrop: steadily(sums.backdrop) };
  }
  told.spots = sums.spots.map(({ name, rows }) => [name, stops(added(weighed(rows, onFilm), veil))]);
  told.verdicts = verdictsOf(set, told, state);
  return told;
}

function squareFigures(sums, onFilm, veil, iso) {
  const { weights } = sums,
    count = weights.length,
    clip = clipOf(iso);
  const cells = withVeil(weighedCells(sums.squares, onFilm), veil, count);
  const figures = figuresOfCells(cells, sums.replicates, weights, (values, each) => [
    ...percentilesOf(values, each, [5, 50, 95]),
    clippedOf(values, each, clip),
  ]);
  const [darkest, median, brightest5] = figures.map((figure) => inStops(figure, midGrey(iso), sums.t));
  const halfASquare = (0.5 * Math.max(...weights)) / weights.reduce((sum, value) => sum + value, 0);
  const clipped = { part: Math.min(figures[3].value, 1), half: Math.hypot(sums.t * figures[3].error, halfASquare) };
  return { percentile5: darkest, median, percentile95: brightest5, clipped };
}

// The patches that could be the brightest at these powers, each as the second look read it, or the first look where the
// second one passed it over: (replicate, patch, layer) sums, and how they were read.
function lookAt(sums, onFilm) {
  const { first, second, replicates } = sums,
    layers = onFilm.length,
    all = first.places.length;
  if (second === null) return { ...first, again: first.places.map(() => true), firstBy: first.by };
  const able = contenders(weighedCells(first.light, onFilm), replicates, all, sums.tAmong, common.contenders);
  const secondAt = new Map(second.places.map((place, at) => [place, at]));
  const again = able.map((cell) => secondAt.has(first.places[cell]));
  const light = new Float64Array(replicates * able.length * layers);
  for (let r = 0, to = 0; r < replicates; r += 1) {
    able.forEach((cell, at) => {
      const from = again[at] ? r * second.places.length + secondAt.get(first.places[cell]) : r * all + cell;
      const source = again[at] ? second.light : first.light;
      for (let layer = 0; layer < layers; layer += 1, to += 1) light[to] = source[from * layers + layer];
    });
  }
  return { places: able.map((cell) => first.places[cell]), light, again, by: second.by, firstBy: first.by };
}

function backdropOf(set, onFilm, veil, subject, grey, iso) {
  const { sums, camera } = set,
    t = sums.t;
  const cloth = weighed(sums.backdrop, onFilm),
    total = added(cloth, veil);
  const look = lookAt(sums, onFilm),
    count = look.places.length;
  const cells = withVeil(weighedCells(look.light, onFilm), veil, count);
  const { best, exposure } = brightest(cells, sums.replicates, count, grey, sums.tAmong);
  const cell = look.places[best];
  const across = ((cell % sums.columns) + 0.5) / sums.columns,
    down = (Math.floor(cell / sums.columns) + 0.5) / sums.rows;
  const head = strongestLayer(look, best, count, onFilm),
    by = (look.again[best] ? look.by : look.firstBy)[head];
  const worst = {
    exposure,
    place: placeInFrame(across, down),
    again: look.again[best],
    code: codeOfExposure(Number.isFinite(exposure.value) ? grey * 2 ** exposure.value : 0, iso),
    route: by === "" ? `${set.lights[head].name}, directly` : `${set.lights[head].name} → ${by}`,
  };
  const mean = inStops(meanOf(total), grey, t),
    under = subject === null ? null : inStops(meanOf(subject), grey, t);
  return {
    replicates: total,
    mean,
    cloth: inStops(meanOf(cloth), grey, t),
    veil: inStops(meanOf(veil), grey, t),
    code: codeOfExposure(meanOf(total).value, iso),
    underSubject: ratioUnder(total, subject, t),
    worst,
    worstUnderSubject: worstUnder(exposure, under),
    routes: routesOf(set, sums.cloth, onFilm),
  };
}

function strongestLayer(look, patch, count, onFilm) {
  const layers = onFilm.length,
    sums = onFilm.map(() => 0);
  for (let at = patch * layers; at < look.light.length; at += count * layers) {
    for (let layer = 0; layer < layers; layer += 1) {
      const value = look.light[at + layer];
      if (value === value) sums[layer] += value * onFilm[layer];
    }
  }
  return sums.indexOf(Math.max(...sums));
}

// Routes that matter, the strongest first, as shares of the whole.
function routesOf(set, table, factors) {
  const whole = table.reduce((sum, row, layer) => sum + factors[layer] * row.reduce((a, b) => a + b, 0), 0);
  const routes = table.flatMap((row, layer) =>
    row.map((light, route) => {
      const by = set.sums.routes[route],
        name = set.lights[layer].name;
      return { words: by === "" ? `${name}, directly` : `${name} → ${by}`, share: (light * factors[layer]) / whole };
    }),
  );
  return routes
    .filter(({ share }) => share > common.leastShare)
    .sort((a, b) => b.share - a.share)
    .slice(0, common.toldRoutes);
}
