// Figures as a person reads them, as sheets/numbers.py and sheets/table.py write them.

const MINUS = "−";
const endless = (value) => !Number.isFinite(value);

function signed(value, digits = 1) {
  const plain = Math.abs(value).toFixed(digits);
  if (Number(plain) === 0) return plain;
  return (value < 0 ? MINUS : "+") + plain;
}

function unsigned(value, digits) {
  const plain = Math.abs(value).toFixed(digits);
  return value < 0 && Number(plain) !== 0 ? MINUS + plain : plain;
}

function stopsWords(figure, sign = true) {
  if (figure === null) return "not in the frame";
  if (figure.high === -Infinity) return "no light found";
  const show = sign ? signed : unsigned,
    [less, more] = sign ? ["darker", "brighter"] : ["less", "more"];
  if (endless(figure.low)) return endless(figure.high) ? "not known yet" : `${less} than ${show(figure.high, 1)}`;
  if (endless(figure.high)) return `${more} than ${show(figure.low, 1)}`;
  const half = (figure.high - figure.low) / 2;
  if (half <= 0.3) return `${show(figure.value, 2)} ± ${Math.max(half, 0.005).toFixed(2)}`;
  return `${show(figure.value, 1)} (${show(figure.low, 1)} … ${show(figure.high, 1)})`;
}

function amountWords(value, unit) {
  const said = (number) => `${number} ${unit}`.trim();
  if (value === 0) return said("0");
  const power = Math.floor(Math.log10(Math.abs(value)));
  if (Math.abs(value) >= 1e-3 && Math.abs(value) < 1e4) return said(value.toFixed(Math.max(0, 2 - power)));
  const raised = [...String(power)].map((sign) => "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"["-0123456789".indexOf(sign)]).join("");
  return said(`${(value / 10 ** power).toFixed(2)}·10${raised}`);
}

function shareWords(part) {
  const percent = 100 * part;
  if (percent === 0) return "0 %";
  return percent >= 9.95 ? `${percent.toFixed(0)} %` : percent >= 0.095 ? `${percent.toFixed(1)} %` : "under 0.1 %";
}

function placeInFrame(across, down) {
  const edge = 1 / 12,
    at = (part) => Math.min(2, Math.floor(3 * part));
  const third = ["upper third", "middle", "lower third"][at(down)],
    side = ["left third", "middle", "right third"][at(across)];
  const upright = down < edge ? "top" : down > 1 - edge ? "bottom" : "",
    level = across < edge ? "left" : across > 1 - edge ? "right" : "";
  if (upright && level) return `${upright} ${level} corner`;
  if (level) return `${level} edge, ${third}`;
  if (upright) return `${upright} edge, ${side}`;
  if (third === "middle" && side === "middle") return "centre";
  return third === side ? third : `${side}, ${third}`;
}

// The table of readings: [label, figure, remark] a line.
function readingLines(told) {
  return [
    ...subjectLines(told.subject),
    ...backdropLines(told.backdrop, told.stray),
    ...strayLines(told.stray),
    ...otherLines(told),
  ];
}

function subjectLines(subject) {
  if (subject === null) return [["Subject", "not in the frame", ""]];
  const { clipped } = subject;
  return [
    ["Subject", stopsWords(subject.mean), "stops over mid-grey, mean of what the camera sees"],
    ["  darkest 5 %", stopsWords(subject.percentile5), ""],
    ["  median", stopsWords(subject.median), ""],
    ["  brightest 5 %", stopsWords(subject.percentile95), ""],
    ["  past clip", `${shareWords(clipped.part)} ± ${shareWords(clipped.half)}`, "of the visible subject"],
    ...(subject.byHead.length > 1
      ? subject.byHead.map(([name, figure]) => [`  ${name} alone`, stopsWords(figure), ""])
      : []),
  ];
}

function backdropLines(backdrop, stray) {
  if (backdrop === null) return [["Backdrop", "not in the frame", ""]];
  const { worst } = backdrop;
  const drowned = backdrop.cloth.value < backdrop.veil.value - common.drowned;
  const again = worst.again ? "" : "; read at the first look only";
  return [
    ["Backdrop", stopsWords(backdrop.mean), `stops over mid-grey, 8-bit value ${backdrop.code}`],
    ["  cloth", stopsWords(backdrop.cloth), ""],
    ["  veil", stopsWords(backdrop.veil), drowned ? veilRemark(stray) : ""],
    ...(backdrop.underSubject === null
      ? []
      : [["  under the subject", stopsWords(backdrop.underSubject, false), "stops"]]),
    ["  worst patch", stopsWords(worst.exposure), `${worst.place}, 8-bit value ${worst.code}${again}`],
    ...(backdrop.worstUnderSubject === null
      ? []
      : [["  … under the subject", stopsWords(backdrop.worstUnderSubject, false), "stops"]]),
    ...(drowned
      ? []
      : backdrop.routes.slice(0, 4).map((route) => ["  cloth lit by", shareWords(route.share), route.words])),
  ];
}

function veilRemark(stray) {
  const whole = 2 ** stray.veil.value;
  if (whole === 0) return "the veil makes the backdrop";
  const parts = stray.veilByHead.map(([name, figure]) => [name, 2 ** figure.value / whole]);
  parts.push(["room light", 1 - parts.reduce((sum, [, part]) => sum + part, 0)]);
  const [name, part] = parts.reduce((most, each) => (each[1] > most[1] ? each : most));
  return `the veil makes the backdrop; ${shareWords(part)} of it from ${name}`;
}

function strayLines(stray) {
  const span = `${amountWords(stray.low, "")} … ${amountWords(stray.high, "")}`;
  return [
    ["Stray light", amountWords(stray.outside, "lx·s"), `on the front element from outside the frame (${span})`],
    ["  veil", stopsWords(stray.veil), "stops over mid-grey, over the whole frame"],
    ...stray.seen
      .filter(([, part]) => part > 0)
      .map(([name, part]) => [`  ${name}`, shareWords(part), "of its face sees the front element"]),
    ...stray.routes.slice(0, 4).map((route) => ["  by", shareWords(route.share), route.words]),
  ];
}

function otherLines({ ambient, spots }) {
  const without =
    ambient === null
      ? []
      : [
          ["Without flash", "", "the same frame by room, windows and continuous lamps, stops over mid-grey"],
          ["  subject", stopsWords(ambient.subject), ""],
          ["  backdrop", stopsWords(ambient.backdrop), ""],
        ];
  return [...without, ...spots.map(([name, figure]) => [`Spot “${name}”`, stopsWords(figure), "stops over mid-grey"])];
}
