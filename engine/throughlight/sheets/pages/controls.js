// Sliders and what they say; a state is what they stand at, for one set.

const THIRDS = ["", "⅓", "⅔"];

// A number of thirds of a stop as one says it: +1⅓.
function thirdsWords(thirds) {
  const size = Math.abs(thirds),
    whole = Math.floor(size / 3);
  const said = (whole > 0 || size === 0 ? String(whole) : "") + THIRDS[size % 3];
  return size === 0 ? said : (thirds < 0 ? MINUS : "+") + said;
}

const stopWord = (thirds) => (Math.abs(thirds) > 3 ? "stops" : "stop");

// What a light's slider says: how far it is turned, and the energy that this asks of its head.
function powerWords(light, thirds, on) {
  const { power } = light,
    asked = power === null || power.full === null ? null : power.full * 2 ** (power.stops + thirds / 3);
  const energy = asked === null ? "" : `${threeDigits(asked)} ${power.unit}`;
  if (!on) return "off";
  if (thirds === 0) return energy === "" ? "as set" : `as set, ${energy}`;
  return `${thirdsWords(thirds)} ${stopWord(thirds)}${energy === "" ? "" : `, ${energy}`}`;
}

const CAMERA_KEYS = { fNumber: ["fNumbers", "fNumberAt"], shutter: ["shutters", "shutterAt"], iso: ["isos", "isoAt"] };

// What a camera slider does to the exposure, stops.
function effectOf(camera, key, at) {
  const [list, own] = CAMERA_KEYS[key],
    ratio = camera[list][at].value / camera[list][camera[own]].value;
  return key === "fNumber" ? -2 * Math.log2(ratio) : Math.log2(ratio);
}

function cameraWords(camera, key, at) {
  const [list, own] = CAMERA_KEYS[key],
    { said } = camera[list][at],
    effect = effectOf(camera, key, at);
  return at === camera[own] ? said : `${said}, ${signed(effect, 1)} ${Math.abs(effect) < 1.05 ? "stop" : "stops"}`;
}

function say(row, words, changed, slider) {
  row.classList.toggle("changed", changed);
  row.querySelector("output").textContent = words;
  slider.setAttribute("aria-valuetext", words);
}

// Runs at the next frame of the screen, however often it is asked for until then.
function onceAFrame(work) {
  let asked = false;
  return () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      work();
    });
  };
}

function show(list, verdicts) {
  if (verdicts.length === 0) return;
  list.replaceChildren(
    ...verdicts.map(([good, words]) => {
      const item = document.createElement("li"),
        text = document.createElement("bdi");
      if (good) item.className = "met";
      text.textContent = words;
      item.append(text);
      return item;
    }),
  );
}

// Paper shows sets as they are; afterwards the page is as the controls have it. Not every browser tells of both ways.
function onPaper(asPicture, asControlled) {
  window.matchMedia("print").addEventListener("change", ({ matches }) => (matches ? asPicture() : asControlled()));
  window.addEventListener("beforeprint", asPicture);
  window.addEventListener("afterprint", asControlled);
}
