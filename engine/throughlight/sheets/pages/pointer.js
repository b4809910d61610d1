// Pointing at a picture, by mouse, by touch, or by the arrow keys once it has the focus: `to` is given a place as shares
// of width and height, `by` a step right and down in pixels; `again` shows the place where it is.
function pointed(canvas, square, { to, by, again }) {
  const follow = (event) => {
    const box = canvas.getBoundingClientRect();
    to((event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height);
  };
  canvas.addEventListener("pointermove", follow);
  canvas.addEventListener("pointerdown", follow);
  canvas.addEventListener("focus", () => {
    if (canvas.matches(":focus-visible")) again();
  });
  canvas.addEventListener("keydown", (event) => {
    const step = (event.shiftKey ? 10 : 1) * square;
    const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    if (!(event.key in ways)) return;
    event.preventDefault();
    const [right, down] = ways[event.key];
    by(right * step, down * step);
  });
}
