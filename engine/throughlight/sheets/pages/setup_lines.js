// What was changed, as lines of a setup file: each under the table and the name that it belongs to.

// A name between quotation marks as TOML writes it; what can't be seen becomes its number.
const quoted = (name) =>
  JSON.stringify(name).replace(/[\p{C}]/gu, (sign) => {
    const code = sign.codePointAt(0).toString(16);
    return code.length > 4 ? `\\U${code.padStart(8, "0")}` : `\\u${code.padStart(4, "0")}`;
  });

function setupLines(set, state) {
  const { camera } = set,
    blocks = [],
    ofCamera = [];
  if (state.fNumber !== camera.fNumberAt) ofCamera.push(`f_number = ${camera.fNumbers[state.fNumber].line}`);
  if (state.shutter !== camera.shutterAt) ofCamera.push(`shutter = "${camera.shutters[state.shutter].line}"`);
  if (state.iso !== camera.isoAt) ofCamera.push(`iso = ${camera.isos[state.iso].line}`);
  if (ofCamera.length > 0) blocks.push(["[camera]", ...ofCamera]);
  set.lights.forEach((light, at) => {
    if (state.on[at] && state.thirds[at] === 0) return;
    const head = light.room
      ? ["[ambient]"]
      : [light.window ? "[[window]]" : "[[head]]", `name = ${quoted(light.rawName)}`];
    blocks.push([...head, state.on[at] ? lineOf(light, state.thirds[at] / 3) : "# off: leave this table out"]);
  });
  return blocks.map((block) => block.join("\n")).join("\n\n");
}

function lineOf({ key, base, unit }, more) {
  if (key === "stops") return `stops = "${signed(base + more, 2).replace(MINUS, "-")} stop"`;
  return `${key} = "${Number((base * 2 ** more).toPrecision(4))} ${unit}"`;
}
