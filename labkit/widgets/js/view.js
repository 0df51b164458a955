// One view of a sheet: what it shows, and how it takes up what Python answers.

// A hand that rests this long sees Python's own figures in place of the foreseen ones.
const HELD_STILL_MS = 120;

function createView(model, el) {
  const view = {
    model, state: model.get("_state"), rows: new Map(), units: [], gesture: null, gestures: 0,
    confirmed: true, activeId: null, range: null, strips: [], menu: null, stamp: 0, plumbAt: { left: 0, width: 0, plot: 0 },
  };
  view.link = createLink(model, {
    reply: (message, mine, latest) => reply(view, message, mine, latest),
    sent: (seq) => { view.root.dataset.sent = seq; },
    heard: (seq) => { view.root.dataset.heard = seq; },
    status: () => { if (view.root) dressStatus(view); },
  });
  addLookups(view);
  addEdits(view);
  addPainting(view);
  buildView(view, el);
  adopt(view, view.state);
  pushEdit(view.link, { do: "hello" });
  return view;
}

function addLookups(view) {
  view.indexOf = (id) => view.state.lines.findIndex((x) => x.id === id);
  view.lineOf = (id) => view.state.lines[view.indexOf(id)];
}

function addEdits(view) {
  view.edit = (edit) => {
    if (edit.do !== "note") settleKeys(view);
    view.confirmed = false;
    paintMark(view);
    pushEdit(view.link, edit);
  };
  view.typed = (id, text) => {
    const units = readUnits(text);
    const i = view.indexOf(id);
    const range = rangeOf(view.state, view.units, i);
    if (units !== null && units >= range.low && units <= range.high && range.givers.length) {
      if (units > view.rows.get(id).scale) view.setScale(view.rows.get(id), units);
      beginGesture(view, id);
      moveTo(view, units);
      endGesture(view);
    } else {
      view.edit({ do: "typed", id, text });
    }
  };
  view.togglePick = (id) => {
    const chosen = view.state.chosen.includes(id) ? view.state.chosen.filter((x) => x !== id) : [...view.state.chosen, id];
    view.edit({ do: "give", mode: "chosen", chosen });
  };
  view.dismissRefusal = () => { if (view.state.refusal) view.edit({ do: "dismiss" }); };
}

function addPainting(view) {
  view.paintUnits = () => {
    view.painting = true;
    view.state.lines.forEach((x, i) => paintRow(view, view.rows.get(x.id), view.units[i]));
    view.painting = false;
    if (view.gesture) markGivers(view);
    paintTotal(view);
    paintReadouts(view);
    paintLens(view);
  };
  view.paintSoon = oncePerFrame(() => view.paintUnits());
  view.paintReadouts = () => paintReadouts(view);
  view.paintAll = () => {
    for (const row of view.rows.values()) {
      dressRow(view, row);
      paintReach(view, row);
    }
    view.paintUnits();
  };
  view.setScale = (row, units) => {
    const scale = scaleHolding(row.scale, units);
    if (scale === row.scale && row.slider.max) return;
    row.scale = scale;
    row.slider.max = scale / 10000;
    placeMarks(view, row, view.lineOf(row.id));
  };
  view.activate = (id) => activate(view, id);
  view.lookAhead = debounce((id) => { if (!view.gesture && view.rangeAsked !== id) askRange(view, id); }, 60);
  view.confirmHeld = debounce(() => {
    if (!view.gesture || !isIdle(view.link)) return;
    view.confirmed = true;
    paintReadouts(view);
  }, HELD_STILL_MS);
  view.beginHold = (row) => {
    view.root.classList.add("lk-held");
    activate(view, row.id);
    row.element.classList.add("lk-active");
  };
  view.afterGesture = () => {
    view.root.classList.remove("lk-held");
    hangPlumb(view);
    for (const row of view.rows.values()) row.element.classList.remove("lk-gives-up", "lk-gives-down");
    view.state.lines.forEach((x) => paintReach(view, view.rows.get(x.id)));
    if (isIdle(view.link)) { view.confirmed = true; paintReadouts(view); }
  };
}

function activate(view, id) {
  if (view.activeId !== id) {
    for (const row of view.rows.values()) row.element.classList.toggle("lk-active", row.id === id);
    view.activeId = id;
  }
  if (!view.range || view.range.id !== id || view.range.stamp !== view.stamp) askRange(view, id);
  else drawLens(view);
  hangPlumb(view);
  paintLens(view);
}

function markGivers(view) {
  view.state.lines.forEach((x, i) => {
    const row = view.rows.get(x.id);
    const change = i === view.gesture.i ? 0 : view.units[i] - view.gesture.origin[i];
    row.element.classList.toggle("lk-gives-up", change > 0);
    row.element.classList.toggle("lk-gives-down", change < 0);
  });
}

function paintTotal(view) {
  setShare(view.total, percentText(sumUnits(view.units)));
  setText(view.totalGrams, gramsText(sumUnits(view.units), view.state.batch_g, view.state.balance_g));
  for (const [key, cell] of view.phaseSums) {
    const sum = view.state.lines.reduce((t, x, i) => (x.phase === key ? t + view.units[i] : t), 0);
    setShare(cell, percentText(sum));
  }
}

// What Python answers: adopted whole when nothing newer is under way here.
function reply(view, message, mine, latest) {
  if (message.kind === "range") {
    if (message.client === view.link.client) takeRange(view, message);
  } else if (message.kind === "found") {
    if (mine && view.searching && message.token === view.searching.token) showFound(view, view.searching, message.results);
  } else if (message.kind === "state") {
    if (latest && !(view.gesture && !mine)) adopt(view, message.state, view.gesture);
    else if (mine && (!view.range || !view.gesture || view.range.id !== view.gesture.id)) {
      view.state.readouts = message.state.readouts;
      paintReadouts(view);
    }
  }
}

// While a gesture runs Python tells only what it can change; the lines are the same ones.
function adopt(view, told, gesture = null) {
  if (!told.lines && told.units.length !== view.state.lines.length) return;
  const lines = told.lines || view.state.lines.map((x, i) => ({ ...x, units: told.units[i] }));
  const state = { ...view.state, ...told, lines };
  const before = view.dressed;
  view.dressed = JSON.stringify([{ ...state, lines: 0, units: 0, readouts: 0, differences: 0 }, state.lines.map((x) => ({ ...x, units: 0 }))]);
  view.state = state;
  view.gesture = view.gesture && view.rows.has(view.gesture.id) && view.indexOf(view.gesture.id) >= 0 ? gesture : null;
  view.units = told.units;
  view.stamp = state.stamp;
  if (before !== view.dressed || !gesture) dress(view);
  else if (view.differs.open) dressDifferences(view, state);
  view.confirmed = !gesture;
  if (gesture) view.confirmHeld();
  dressReadouts(view);
  view.paintUnits();
  if (!gesture) afterSettled(view);
}

function dress(view) {
  dressLines(view);
  dressHeader(view);
  dressFooter(view);
  dressRefusal(view);
  for (const row of view.rows.values()) {
    dressRow(view, row);
    paintReach(view, row);
  }
  fitNames(view);
  dressStatus(view);
}

function afterSettled(view) {
  const findings = (view.state.readouts.find((r) => r.id === "findings") || {}).findings || [];
  const step = view.state.undo ? `${view.state.undo}. ` : "";
  const count = `${findings.length} finding${findings.length === 1 ? "" : "s"}`;
  view.speak(`${step}Total ${percentText(sumUnits(view.units))} percent, ${count}`);
  const active = view.rows.has(view.activeId) ? view.activeId : null;
  if (active !== null && view.range && view.range.stamp !== view.stamp) askRange(view, active);
  if (active === null && view.strips.length) { idleLens(view); view.plumb.hidden = true; }
}

// Rows and phase headings in the order of the formula; kept rows are moved, not rebuilt.
function dressLines(view) {
  const ids = new Set(view.state.lines.map((x) => x.id));
  for (const [id, row] of view.rows) {
    if (!ids.has(id)) {
      if (view.menu && view.menu.row === row) closeMenu(view);
      row.element.remove();
      view.rows.delete(id);
    }
  }
  const order = view.state.lines.map((x) => `${x.id}:${x.phase}`).join() + JSON.stringify(view.state.phases);
  if (order === view.order) return;
  view.order = order;
  const focus = document.activeElement;
  view.phaseSums = [];
  const parts = [];
  let last = null;
  for (const line of view.state.lines) {
    if (line.phase !== last) parts.push(phaseHead(view, line.phase));
    last = line.phase;
    if (!view.rows.has(line.id)) view.rows.set(line.id, buildRow(view, line));
    parts.push(view.rows.get(line.id).element);
  }
  view.lines.replaceChildren(...parts);
  if (focus && view.root.contains(focus)) focus.focus({ preventScroll: true });
}

function phaseHead(view, key) {
  const phase = view.state.phases.find((p) => p.key === key) || { title: "" };
  const sum = h("span", { class: "lk-phase-sum" });
  view.phaseSums.push([key, sum]);
  return h("div", { class: "lk-phase", role: "heading", "aria-level": "4" },
    h("span", { class: "lk-phase-key", text: key }), h("span", { class: "lk-phase-title", text: phase.title }), sum);
}
