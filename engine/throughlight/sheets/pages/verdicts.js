// The set against its wishes, as readings/verdicts.py says it: [met, words] each.

const much = (stops) => (stops >= 0.05 ? stops.toFixed(1) : stops >= 0.005 ? stops.toFixed(2) : "less than 0.01");
const certainty = (missing, { low, high }) =>
  Math.abs(missing) > (high - low) / 2 ? "" : " (within the interval: not certain)";

function verdictsOf(set, told, state) {
  const { wanted } = set,
    found = [];
  if (wanted.subject !== null) found.push(onSubject(wanted, told.subject));
  if (wanted.backdropUnder !== null) found.push(onBackdrop(wanted.backdropUnder, told.backdrop, told.subject));
  if (wanted.veil !== null) found.push(onVeil(wanted.veil, told.stray));
  set.lights.forEach((light, at) => {
    const complaint = onPower(light, state.on[at] ? state.thirds[at] / 3 : null);
    if (complaint !== null) found.push([false, complaint]);
  });
  const { camera } = set;
  if (set.lights.some((light, at) => light.flash && state.on[at]) && state.shutter !== camera.shutterAt) {
    const { value, said } = camera.shutters[state.shutter];
    if (value * (1 + 1e-9) < camera.sync) {
      found.push([false, `${said} is faster than the sync limit of ${camera.syncSaid}: part of the frame stays dark`]);
    }
  }
  return [...found, ...camera.complaints.map((words) => [false, words])];
}

function onSubject({ subject: wanted, subjectTolerance: slack }, subject) {
  if (subject === null) return [false, "the subject is not in the frame"];
  const off = subject.mean.value - wanted,
    stands = `${signed(subject.mean.value)} stops over mid-grey, ${signed(wanted)} asked`;
  if (Math.abs(off) <= slack) return [true, `subject as wanted: ${stands}`];
  if (endless(off)) return [false, "no light was found on the subject"];
  const way = off > 0 ? "bright" : "dark";
  return [
    false,
    `subject ${much(Math.abs(off))} stops too ${way}: ${stands}${certainty(Math.abs(off) - slack, subject.mean)}`,
  ];
}

function onBackdrop(wanted, backdrop, subject) {
  if (backdrop === null || subject === null) {
    return [
      false,
      `how far the backdrop lies under the subject can't be told: the ${backdrop === null ? "backdrop" : "subject"} is not in the frame`,
    ];
  }
  const under = backdrop.worstUnderSubject,
    { worst } = backdrop;
  if (under === null) {
    const black = worst.exposure.value === -Infinity;
    return [black, `no light was found on the ${black ? "backdrop" : "subject"}`];
  }
  const missing = wanted - under.value;
  if (missing <= 0)
    return [
      true,
      `backdrop as wanted: its worst patch (${worst.place}) lies ${under.value.toFixed(1)} stops under the subject`,
    ];
  const cause = backdrop.veil.value >= worst.exposure.value - 1 ? "the veil" : `spill (${worst.route})`;
  const where = worst.place.includes(",") ? `${worst.place},` : worst.place;
  return [false, `${cause} lifts the backdrop's ${where} ${much(missing)} stops too far${certainty(missing, under)}`];
}

function onVeil(wanted, stray) {
  const over = stray.veil.value - wanted;
  if (over <= 0)
    return [true, `veil as wanted: ${signed(stray.veil.value)} stops over mid-grey, at most ${signed(wanted)} asked`];
  const main = stray.routes.length > 0 ? stray.routes[0].words : "the subject itself";
  const source =
    stray.inside > stray.outside
      ? "most of it comes from inside the frame"
      : `most of the stray light comes by ${main}`;
  return [false, `veil ${much(over)} stops too much; ${source}${certainty(over, stray.veil)}`];
}

// Whether a head has what is asked, `more` stops over the set's own; null for a head that is off.
function onPower({ name, power }, more) {
  if (power === null || more === null || !power.fullKnown) return null;
  const stops = power.stops + more;
  if (stops > 1e-9) {
    const joules =
      power.full === null
        ? ""
        : ` (${threeDigits(power.full * 2 ** stops)} ${power.unit} of ${threeDigits(power.full)} ${power.unit})`;
    return `${name} is asked for ${stops.toFixed(1)} stops more than it has${joules}`;
  }
  const short = -power.range - stops;
  return short > 1e-9
    ? `${name} is asked to go ${short.toFixed(1)} stops lower than its range of ${Number(power.range.toPrecision(2))} stops`
    : null;
}

// Three significant digits, never with an exponent.
function threeDigits(value) {
  if (value === 0) return "0";
  const after = 2 - Math.floor(Math.log10(Math.abs(value)));
  const rounded = after >= 0 ? value.toFixed(after) : (Math.round(value * 10 ** after) / 10 ** after).toFixed(0);
  return rounded.includes(".") ? rounded.replace(/\.?0+$/, "") : rounded;
}
