// The range lens: what the read-outs do along the whole reach of one slider, drawn
// under the rules on the same scale, with a plumb line from the slider's index.

const STRIP_HEIGHT = 22;

function buildLens(view) {
  view.lens = h("div", { class: "lk-lens", role: "group", "aria-label": "Along the range of one line" });
  idleLens(view);
  view.plumb = h("i", { class: "lk-plumb", "aria-hidden": "true" });
  view.plumb.hidden = true;
  return view.lens;
}

// Before a line is taken up the lens says what it is for; its height never changes.
function idleLens(view) {
  view.strips = [];
  view.lens.replaceChildren(h("p", { class: "lk-lens-idle" },
    "Take up a slider: here its whole range shows what pH, preservative, thickness and cost do, and where a finding begins."),
    h("p", { class: "lk-lens-idle" }, keys("← →", "step"), keys("Shift", "× 10"), keys("Alt", "÷ 10"), keys("Ctrl ↑ ↓", "move the line"), keys("Ctrl Z", "undo")));
}

function keys(key, word) {
  return h("span", { class: "lk-key" }, h("kbd", { text: key }), ` ${word}`);
}

function askRange(view, id) {
  if (view.link.state === "lost") return;
  const row = view.rows.get(id);
  view.rangeAsked = id;
  ask(view.link, { do: "range", id, window: [0, row.scale], stamp: view.stamp });
}

function takeRange(view, range) {
  if (range.id !== view.activeId && range.id !== view.rangeAsked) return;
  if (!view.rows.has(range.id)) return;
  view.range = range;
  drawBands(view, range);
  if (range.id === view.activeId) drawLens(view);
  view.paintReadouts();
}

// Value of a curve at `units`, straight between the sent positions.
function interpolate(positions, values, units) {
  if (!values) return null;
  let right = positions.findIndex((x) => x >= units);
  if (right < 0) right = positions.length - 1;
  const left = Math.max(0, right - (positions[right] === units ? 0 : 1));
  const a = values[left];
  const b = values[right];
  if (a === null || b === null || positions[left] === positions[right]) return b ?? a;
  return a + (b - a) * (units - positions[left]) / (positions[right] - positions[left]);
}

function rangeInHand(view) {
  return view.range && view.gesture && view.gesture.id === view.range.id ? view.range : null;
}

// How many findings hold where the hand is.
function countedAt(view) {
  const range = rangeInHand(view);
  if (!range) return null;
  const at = view.units[view.gesture.i];
  return range.counts.findLast((c) => c.from <= at) || null;
}

function rangeValue(view, id) {
  const range = rangeInHand(view);
  if (!range) return null;
  const curve = range.curves.find((c) => c.id === id);
  if (!curve) return null;
  const at = view.units[view.gesture.i];
  return {
    value: interpolate(range.positions, curve.values, at),
    low: interpolate(range.positions, curve.low, at),
    high: interpolate(range.positions, curve.high, at),
  };
}

// Where a finding begins and ends is marked on the slider's own rule.
function drawBands(view, range) {
  for (const row of view.rows.values()) row.bands = null;
  const row = view.rows.get(range.id);
  row.bands = range.findings.slice().reverse().map((f) => {
    const left = Math.min(1, f.from / row.scale);
    const right = Math.min(1, f.to / row.scale);
    return h("i", {
      class: `lk-band lk-${f.severity}`, title: f.what,
      style: `left:${100 * left}%;width:${Math.max(0.4, 100 * (right - left))}%`,
    });
  });
  for (const other of view.rows.values()) placeMarks(view, other, view.lineOf(other.id));
  view.paintUnits();
}

function drawLens(view) {
  const range = view.range;
  const row = view.rows.get(range.id);
  const name = view.lineOf(range.id).material;
  const head = h("div", { class: "lk-strip lk-strip-head" }, h("span", { class: "lk-strip-name", text: "along" }),
    h("span", { class: "lk-strip-title", text: name }), h("span", { class: "lk-strip-unit", text: reachWords(range) }));
  view.strips = range.curves.map((curve) => buildStrip(range, row.scale, curve));
  const inside = range.findings.filter((f) => f.from <= row.scale).slice(0, 2);
  const told = inside.map((f) => h("div", { class: `lk-strip-finding lk-${f.severity}`, title: f.what },
    icon(f.severity), h("span", { text: findingWords(range, f) })));
  view.lens.replaceChildren(head, ...view.strips.map((s) => s.element), ...told);
  hangPlumb(view);
  paintLens(view);
}

function reachWords(range) {
  return range.low === range.high ? "cannot move" : `reaches ${percentText(range.low)} – ${percentText(range.high)} %`;
}

function findingWords(range, f) {
  const word = { stop: "stop", check: "check", fyi: "good to know" }[f.severity];
  const where = f.from > range.low ? `from ${percentText(f.from)} %` : `up to ${percentText(f.to)} %`;
  return `${word} ${where}: ${f.what}`;
}

function buildStrip(range, scale, curve) {
  const inside = range.positions.map((x, k) => k).filter((k) => range.positions[k] <= scale);
  const all = inside.flatMap((k) => [curve.values[k], curve.low && curve.low[k], curve.high && curve.high[k]])
    .filter((y) => y !== null && y !== undefined);
  const least = Math.min(...all);
  const most = Math.max(...all);
  const y = (value) => STRIP_HEIGHT - 4 - (most > least ? (value - least) / (most - least) : 0.5) * (STRIP_HEIGHT - 8);
  const x = (k) => 1000 * range.positions[k] / scale;
  const picture = svg("svg", { viewBox: `0 0 1000 ${STRIP_HEIGHT}`, preserveAspectRatio: "none", class: "lk-curve" });
  if (all.length) drawCurve(picture, inside, curve, x, y);
  const dot = h("i", { class: "lk-dot" });
  const plot = h("span", { class: "lk-plot" }, picture, dot);
  const value = h("span", { class: "lk-strip-value" });
  const ends = [least, most].map((v) => valueText(v, curve.digits));
  const span = !all.length ? "unknown" : ends[0] === ends[1] ? "" : ends.join(" – ");
  const element = h("div", { class: "lk-strip" }, h("span", { class: "lk-strip-name", text: curve.label }),
    h("span", { class: "lk-strip-plot", role: "img", "aria-label": `${curve.label} along the range: ${span} ${curve.unit}` },
      plot),
    value, h("span", { class: "lk-strip-unit", text: [curve.unit, span].filter(Boolean).join("  ·  ") }));
  return { element, curve, plot, dot, value, y };
}

function drawCurve(picture, inside, curve, x, y) {
  const known = inside.filter((k) => curve.values[k] !== null);
  if (curve.low && curve.high) {
    const up = known.map((k) => `${x(k)},${y(curve.high[k])}`);
    const down = known.map((k) => `${x(k)},${y(curve.low[k])}`).reverse();
    picture.append(svg("polygon", { points: [...up, ...down].join(" "), class: "lk-curve-band" }));
  }
  picture.append(svg("polyline", {
    points: known.map((k) => `${x(k)},${y(curve.values[k])}`).join(" "),
    class: "lk-curve-line", "vector-effect": "non-scaling-stroke",
  }));
}

// The plumb line and the dots follow the hand.
function paintLens(view) {
  const range = view.range;
  const row = range && view.rows.get(range.id);
  const on = row && range.id === view.activeId && view.strips.length > 0;
  view.plumb.hidden = !on;
  if (!on) return;
  const units = view.units[view.indexOf(range.id)];
  const fraction = Math.min(1, units / row.scale);
  view.plumb.style.transform = `translateX(${view.plumbAt.left + fraction * view.plumbAt.width}px)`;
  for (const strip of view.strips) {
    const value = interpolate(range.positions, strip.curve.values, units);
    setText(strip.value, valueText(value, strip.curve.digits));
    strip.dot.hidden = value === null;
    if (value === null) continue;
    strip.dot.style.transform = `translate(${fraction * view.plumbAt.plot}px, ${strip.y(value)}px)`;
  }
}

// The line ends on the last curve; below it stand words.
function lowestStrip(view) {
  const last = view.strips.length ? view.strips[view.strips.length - 1].plot : view.lens;
  return last.getBoundingClientRect().bottom;
}

// Where the plumb line hangs; measured when a line is taken up, not while it moves.
function hangPlumb(view) {
  const row = view.rows.get(view.activeId);
  if (!row) return;
  const frame = view.bench.getBoundingClientRect();
  const rule = row.track.querySelector(".lk-rule").getBoundingClientRect();
  const plot = view.strips.length ? view.strips[0].plot.getBoundingClientRect().width : 0;
  view.plumbAt = { left: rule.left - frame.left, width: rule.width, plot };
  view.plumb.style.top = `${rule.bottom - frame.top - 4}px`;
  view.plumb.style.height = `${Math.max(0, lowestStrip(view) - rule.bottom + 2)}px`;
}
