// A slider under the hand: grabbed without a jump, stepped by keys, never rewritten
// while it is held.

const THUMB = 12;
const KEY_PAUSE_MS = 350;

function attachSlider(view, row) {
  const input = row.slider;
  input.addEventListener("pointerdown", (event) => grab(view, row, event));
  for (const kind of ["pointerrawupdate", "pointermove"]) input.addEventListener(kind, (event) => drag(view, row, event));
  input.addEventListener("pointerup", (event) => letGo(view, row, event));
  input.addEventListener("pointercancel", () => { if (row.held) dropHold(view, row, true); });
  input.addEventListener("keydown", (event) => sliderKey(view, row, event));
  input.addEventListener("input", () => assistiveStep(view, row));
  input.addEventListener("focus", () => view.activate(row.id));
  input.addEventListener("blur", () => {
    view.root.classList.remove("lk-keys");
    if (!row.held) settleKeys(view);
  });
  input.addEventListener("pointerenter", () => { if (!view.gesture) view.lookAhead(row.id); });
}

function grab(view, row, event) {
  if (event.button !== 0 || view.link.state === "lost") return;
  event.preventDefault();
  settleKeys(view);
  view.root.classList.remove("lk-keys");
  row.slider.focus({ preventScroll: true });
  row.slider.setPointerCapture(event.pointerId);
  const box = row.slider.getBoundingClientRect();
  const pixels = box.width - THUMB;
  const here = view.units[view.indexOf(row.id)];
  const thumb = box.left + THUMB / 2 + Math.min(1, here / row.scale) * pixels;
  row.held = { x: event.clientX, from: here, perPixel: row.scale / pixels };
  row.held.step = dragStep(row.scale, pixels);
  beginGesture(view, row.id);
  view.beginHold(row);
  if (Math.abs(event.clientX - thumb) > THUMB) {
    row.held.x = thumb;
    drag(view, row, event);
  }
}

// The raw movement is heard ahead of the frame: Python has it while the page still waits to paint.
function drag(view, row, event) {
  if (!row.held || !view.gesture) return;
  const pixels = event.clientX - row.held.x;
  const raw = row.held.from + pixels * row.held.perPixel;
  const snapped = Math.round(raw / row.held.step) * row.held.step;
  const wanted = Math.abs(pixels) < 0.5 ? row.held.from : Math.min(row.scale, snapped);
  if (aimAt(view, wanted)) view.paintSoon();
}

function letGo(view, row, event) {
  if (!row.held) return;
  drag(view, row, event);
  dropHold(view, row, false);
}

function dropHold(view, row, cancel) {
  row.held = null;
  if (cancel) cancelGesture(view);
  else endGesture(view);
}

const KEY_STEPS = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 };

function sliderKey(view, row, event) {
  if (event.key === "Escape" && view.gesture) {
    event.preventDefault();
    row.held = null;
    clearTimeout(view.keyTimer);
    cancelGesture(view);
    return;
  }
  if (row.held || event.metaKey) return;
  if (event.ctrlKey) {
    if (event.key === "ArrowUp" || event.key === "ArrowDown") nudgeLine(view, row, event);
    return;
  }
  const here = view.units[view.indexOf(row.id)];
  let wanted = null;
  if (event.key in KEY_STEPS) wanted = here + KEY_STEPS[event.key] * keyStep(row.scale, event);
  else if (event.key === "Home") wanted = 0;
  else if (event.key === "End") wanted = row.scale;
  if (wanted === null) return;
  event.preventDefault();
  view.root.classList.add("lk-keys");
  stepTo(view, row, Math.max(0, Math.min(TOTAL, wanted)));
}

// Steps that follow each other are one gesture, ended by a pause.
function stepTo(view, row, wanted) {
  if (view.link.state === "lost") return;
  if (!view.gesture || view.gesture.id !== row.id) {
    settleKeys(view);
    beginGesture(view, row.id);
    view.beginHold(row);
  }
  if (wanted > row.scale) view.setScale(row, wanted);
  moveTo(view, wanted);
  clearTimeout(view.keyTimer);
  view.keyTimer = setTimeout(() => settleKeys(view), KEY_PAUSE_MS);
}

function settleKeys(view) {
  clearTimeout(view.keyTimer);
  if (view.gesture && !view.rows.get(view.gesture.id)?.held) endGesture(view);
}

// A screen reader or a touch aid sets the value itself.
function assistiveStep(view, row) {
  if (row.held || view.painting) return;
  stepTo(view, row, Math.round(Number(row.slider.value) * 10000));
}

function nudgeLine(view, row, event) {
  event.preventDefault();
  placeLine(view, row.id, event.key === "ArrowUp" ? -1 : 1);
}
