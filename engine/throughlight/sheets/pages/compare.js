// The page of two sets: one hand on both, pictures side by side or under a wipe, and what differs.

const LETTERS = ["A", "B"];
const hand = { thirds: [], on: [], fNumber: 0, shutter: 0, iso: 0 };
const views = sets.map((set, number) => viewOf(set, byId(`picture-${number}`)));
const place = { across: 0.5, down: 0.5, shown: false };
const chosen = (name) => document.querySelector(`input[name="${name}"]:checked`).value;
const lightNames = [...document.querySelectorAll(".heads .name")].map((label) => label.textContent);
let told = null;

hand.thirds = lightNames.map(() => 0);
hand.on = lightNames.map(() => true);

// A set's state: each light as the hand has lights of its name, each setting so many thirds from the set's own.
function stateOf(set) {
  const state = asSet(set);
  set.lights.forEach((light, at) => {
    const shared = lightNames.indexOf(light.name);
    if (shared < 0) return;
    state.thirds[at] = hand.thirds[shared];
    state.on[at] = hand.on[shared];
  });
  Object.entries(CAMERA_KEYS).forEach(([key, [list]]) => {
    state[key] = Math.min(Math.max(state[key] + hand[key], 0), set.camera[list].length - 1);
  });
  return state;
}

const onlyOf = (set, only) => {
  if (only === "all" || only === "veil") return only;
  return String(set.lights.findIndex((light) => light.name === lightNames[Number(only)]));
};

const untouched = () =>
  hand.thirds.every((third) => third === 0) &&
  hand.on.every(Boolean) &&
  Object.keys(CAMERA_KEYS).every((key) => hand[key] === 0);

function standControls() {
  lightNames.forEach((_, at) => {
    const row = byId(`turn-${at}`),
      thirds = hand.thirds[at],
      on = hand.on[at];
    byId(`power-${at}`).value = String(thirds);
    byId(`on-${at}`).checked = on;
    row.classList.toggle("off", !on);
    say(
      row,
      !on ? "off" : thirds === 0 ? "as set" : `${thirdsWords(thirds)} ${stopWord(thirds)}`,
      !on || thirds !== 0,
      byId(`power-${at}`),
    );
  });
  Object.entries(CAMERA_KEYS).forEach(([key, [list]]) => {
    byId(key).value = String(hand[key]);
    const each = sets.map((set, number) => `${LETTERS[number]} ${set.camera[list][stateOf(set)[key]].said}`);
    say(byId(`turn-${key}`), each.join(", "), hand[key] !== 0, byId(key));
  });
  byId("reset").disabled = untouched();
}

// Pictures.

const redraw = onceAFrame(() => draw(stateOf, chosen("shown"), chosen("only")));

function draw(stateFor, shownAs, only) {
  sets.forEach((set, number) => {
    if (set.light !== undefined) views[number].draw(stateFor(set), shownAs, onlyOf(set, only));
  });
  for (const kind of ["picture", "stops", "ends"]) byId(`key-${kind}`).hidden = shownAs !== kind;
  readPlace();
}

function lay() {
  byId("sides").parentElement.classList.toggle("laid-wipe", chosen("laid") === "wipe");
}

byId("wipe").addEventListener("input", ({ target }) => {
  byId("sides").style.setProperty("--wipe", `${target.value}%`);
  target.setAttribute("aria-valuetext", `${target.value} % from the left`);
});

// Readings, side by side.

function tell(readings) {
  const [a, b] = readings.map(figuresOf),
    apart = differences(...readings, sets[0].sums.t);
  [...byId("lines-of-readings").rows].forEach((row, at) => {
    const words = [a[at], b[at], apart[at] === null ? "can’t be told" : stopsWords(apart[at])];
    words.forEach((each, column) => {
      row.cells[column + 1].textContent = each;
    });
  });
  readings.forEach(({ verdicts }, number) => show(byId(`verdicts-${number}`), verdicts));
}

const reread = onceAFrame(() => {
  if (told === null) return;
  told = sets.map((set) => readingsOf(set, stateOf(set)));
  tell(told);
});

function changed() {
  standControls();
  redraw();
  reread();
}

// Pointing at either picture reads both at the same place.

function readPlace() {
  if (!place.shown || views.some((view) => view.light === null)) return;
  const each = sets.map((set, number) =>
    pointReading(
      set,
      views[number].state,
      views[number].light,
      null,
      Math.min(set.width - 1, Math.floor(place.across * set.width)),
      Math.min(set.height - 1, Math.floor(place.down * set.height)),
    ),
  );
  const words = ({ stops, codes }) => (stops === -Infinity ? "no light" : `${signed(stops, 2)} (${codes.join(" ")})`);
  const apart = each[1].stops - each[0].stops;
  byId("read-place").textContent =
    `${each[0].place} (${Math.round(100 * place.across)} %, ${Math.round(100 * place.down)} %)`;
  byId("read-a").textContent = words(each[0]);
  byId("read-b").textContent = words(each[1]);
  byId("read-apart").textContent = endless(apart) ? "–" : `${signed(apart, 2)} stops`;
  sets.forEach((_, number) => {
    const mark = byId(`mark-${number}`);
    mark.hidden = false;
    mark.style.left = `${100 * place.across}%`;
    mark.style.top = `${100 * place.down}%`;
  });
}

function moveTo(across, down) {
  place.across = Math.min(Math.max(across, 0), 1);
  place.down = Math.min(Math.max(down, 0), 1);
  place.shown = true;
  readPlace();
}

sets.forEach((set, number) =>
  pointed(byId(`picture-${number}`), set.square, {
    to: moveTo,
    by: (right, down) => moveTo(place.across + right / set.width, place.down + down / set.height),
    again: () => moveTo(place.across, place.down),
  }),
);

lightNames.forEach((_, at) => {
  byId(`power-${at}`).addEventListener("input", ({ target }) => {
    hand.thirds[at] = Number(target.value);
    changed();
  });
  byId(`on-${at}`).addEventListener("change", ({ target }) => {
    hand.on[at] = target.checked;
    changed();
  });
});
Object.keys(CAMERA_KEYS).forEach((key) => {
  byId(key).addEventListener("input", ({ target }) => {
    hand[key] = Number(target.value);
    changed();
  });
});
document.querySelectorAll('input[name="laid"]').forEach((radio) => radio.addEventListener("change", lay));
document
  .querySelectorAll('input[name="shown"], input[name="only"]')
  .forEach((radio) => radio.addEventListener("change", () => redraw()));
byId("reset").addEventListener("click", () => {
  hand.thirds.fill(0);
  hand.on.fill(true);
  Object.assign(hand, { fNumber: 0, shutter: 0, iso: 0 });
  changed();
});

const asPicture = () => {
  draw(asSet, "picture", "all");
  if (told !== null) tell(sets.map((set) => readingsOf(set, asSet(set))));
};
const asControlled = () => {
  draw(stateOf, chosen("shown"), chosen("only"));
  if (told !== null) tell(told);
};
onPaper(asPicture, asControlled);

byId("swatch-clipped").style.background = `rgb(${[...CLIPPED].join(" ")})`;
byId("swatch-crushed").style.background = `rgb(${CRUSHED.join(" ")})`;
standControls();
Promise.all(sets.map(unpack)).then(
  () => {
    told = sets.map((set) => readingsOf(set, asSet(set)));
    document.documentElement.classList.add("live");
    changed();
  },
  () => {
    byId("trouble").textContent = "This browser can’t unpack the layers: the page shows the sets as they were traced.";
  },
);
