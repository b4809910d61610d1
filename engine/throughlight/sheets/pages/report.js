// The page of one set: controls, picture, pointer, readings.

const set = sets[0];
let state = asSet(set);
const place = { column: Math.floor(set.width / 2), row: Math.floor(set.height / 2), shown: false };
const chosen = (name) => document.querySelector(`input[name="${name}"]:checked`).value;
const canvas = byId("picture-0"),
  view = viewOf(set, canvas);
let original = null,
  now = null;

// Controls to state.

set.lights.forEach((_, at) => {
  const slider = byId(`power-${at}`),
    box = byId(`on-${at}`);
  if (slider === null) return;
  slider.addEventListener("input", () => {
    state.thirds[at] = Number(slider.value);
    changed();
  });
  box.addEventListener("change", () => {
    state.on[at] = box.checked;
    changed();
  });
});
Object.entries(CAMERA_KEYS).forEach(([key, [list]]) => {
  const slider = byId(key);
  slider.max = String(set.camera[list].length - 1);
  slider.style.setProperty("--own", String(set.camera[CAMERA_KEYS[key][1]] / Math.max(1, set.camera[list].length - 1)));
  slider.addEventListener("input", () => {
    state[key] = Number(slider.value);
    changed();
  });
});
document.querySelectorAll('input[type="radio"]').forEach((radio) => radio.addEventListener("change", () => redraw()));

function standControls() {
  set.lights.forEach((light, at) => {
    const slider = byId(`power-${at}`),
      row = byId(`turn-${at}`);
    if (slider === null) return;
    slider.value = String(state.thirds[at]);
    byId(`on-${at}`).checked = state.on[at];
    row.classList.toggle("off", !state.on[at]);
    say(row, powerWords(light, state.thirds[at], state.on[at]), !state.on[at] || state.thirds[at] !== 0, slider);
  });
  Object.entries(CAMERA_KEYS).forEach(([key, [, own]]) => {
    byId(key).value = String(state[key]);
    say(byId(`turn-${key}`), cameraWords(set.camera, key, state[key]), state[key] !== set.camera[own], byId(key));
  });
  const lines = setupLines(set, state),
    none = lines === "";
  byId("lines").value = none ? "nothing is changed" : lines;
  byId("copy").disabled = none;
  byId("reset").disabled = isAsSet(set, state);
  byId("copied").textContent = "";
}

// State to picture and readings.

const redraw = onceAFrame(() => draw(state, chosen("shown"), chosen("only")));

function draw(at, shownAs, only) {
  if (set.light === undefined) return;
  view.draw(at, shownAs, only);
  byId("key-stops").hidden = shownAs !== "stops";
  byId("key-ends").hidden = shownAs !== "ends";
  byId("key-picture").hidden = shownAs !== "picture";
  readPlace();
}

const reread = onceAFrame(() => {
  if (original === null) return;
  now = isAsSet(set, state) ? original : readingsOf(set, state);
  tell(now);
  readPlace();
});

function changed() {
  standControls();
  redraw();
  reread();
}

// The table of readings; beside what has changed stands how it was in the set.
function tell(told) {
  const before = new Map();
  const nameOf = ([label, , remark], seen) => {
    const name = /lit by$|^ {2}by$/.test(label) ? `${label}|${remark}` : label;
    seen.set(name, (seen.get(name) ?? 0) + 1);
    return `${name}|${seen.get(name)}`;
  };
  const first = new Map(),
    second = new Map();
  readingLines(original).forEach((line) => before.set(nameOf(line, first), line[1]));
  byId("lines-of-readings").replaceChildren(
    ...readingLines(told).map((line) => {
      const was = before.get(nameOf(line, second)) ?? "–";
      return rowOf(line, was === line[1] ? "" : was);
    }),
  );
  byId("lines-of-readings").parentElement.classList.toggle("altered", told !== original);
  show(byId("verdicts"), told.verdicts);
}

function rowOf([label, figure, remark], was) {
  const row = document.createElement("tr");
  if (label.startsWith(" ")) row.className = "part";
  const cell = (tag, kind, words) => {
    const made = document.createElement(tag),
      text = document.createElement("bdi");
    made.className = kind;
    text.textContent = words;
    if (words !== "") made.append(text);
    row.append(made);
    return made;
  };
  cell("th", "", label.trim()).scope = "row";
  cell("td", was === "" ? "figure" : "figure new", figure);
  cell("td", "figure was", was);
  cell("td", "remark", remark);
  return row;
}

// The pointer: mouse, touch and arrow keys read a place.

function readPlace() {
  if (!place.shown || view.light === null) return;
  const told = pointReading(set, view.state, view.light, now === null ? null : now.subject, place.column, place.row);
  const across = Math.round((100 * (place.column + 0.5)) / set.width),
    down = Math.round((100 * (place.row + 0.5)) / set.height);
  byId("read-place").textContent = `${told.place} (${across} %, ${down} %)`;
  byId("read-stops").textContent = told.stops === -Infinity ? "no light" : `${signed(told.stops, 2)} stops`;
  byId("read-under").textContent =
    told.under === null || told.stops === -Infinity ? "–" : `${unsigned(told.under, 2)} stops`;
  byId("read-codes").textContent = told.codes.join("  ");
  const mark = byId("mark-0");
  mark.hidden = false;
  mark.style.left = `${(100 * (place.column + 0.5)) / set.width}%`;
  mark.style.top = `${(100 * (place.row + 0.5)) / set.height}%`;
}

function moveTo(column, row) {
  place.column = Math.min(Math.max(column, 0), set.width - 1);
  place.row = Math.min(Math.max(row, 0), set.height - 1);
  place.shown = true;
  readPlace();
}

pointed(canvas, set.square, {
  to: (across, down) => moveTo(Math.floor(across * set.width), Math.floor(down * set.height)),
  by: (right, down) => moveTo(place.column + right, place.row + down),
  again: () => moveTo(place.column, place.row),
});

// Copying, and back to the set.

byId("copy").addEventListener("click", async () => {
  const box = byId("lines");
  try {
    await navigator.clipboard.writeText(box.value);
    byId("copied").textContent = "copied";
  } catch {
    box.focus();
    box.select();
    byId("copied").textContent = "The browser doesn’t let this page copy: the lines are marked, copy them by hand.";
  }
});
byId("reset").addEventListener("click", () => {
  state = asSet(set);
  changed();
});

// Paper shows the set as it is, whatever the controls say.

const asPicture = () => {
  draw(asSet(set), "picture", "all");
  if (original !== null) tell(original);
};
const asControlled = () => {
  draw(state, chosen("shown"), chosen("only"));
  if (now !== null) tell(now);
};
onPaper(asPicture, asControlled);

byId("swatch-clipped").style.background = `rgb(${[...CLIPPED].join(" ")})`;
byId("swatch-crushed").style.background = `rgb(${CRUSHED.join(" ")})`;
standControls();
unpack(set, 0).then(
  () => {
    original = now = readingsOf(set, asSet(set));
    document.documentElement.classList.add("live");
    changed();
  },
  () => {
    byId("copied").textContent = "This browser can’t unpack the layers: the page shows the set as it was traced.";
  },
);
