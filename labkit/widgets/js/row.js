// One line of the formula: name, rule with slider, share, change, grams, lock.

function buildRow(view, line) {
  const row = { id: line.id, scale: scaleFor(line), held: null, shown: {} };
  const say = () => view.lineOf(row.id).material;
  row.grip = h("span", { class: "lk-grip", "aria-hidden": "true", title: "Drag to reorder" });
  row.pick = h("input", { type: "checkbox", class: "lk-pick", on: { change: () => view.togglePick(row.id) } });
  row.name = h("span", { class: "lk-name" });
  row.tag = h("span", { class: "lk-tag" });
  buildRule(row);
  row.box = h("input", { class: "lk-box", type: "text", inputmode: "decimal", autocomplete: "off", spellcheck: "false" });
  row.delta = h("span", { class: "lk-delta" });
  row.grams = h("span", { class: "lk-grams" });
  row.lock = h("button", { class: "lk-lock", on: { click: () => toggleLock(view, row) } });
  row.more = h("button", { class: "lk-more", "aria-haspopup": "dialog", "aria-expanded": "false",
    on: { click: () => toggleMenu(view, row, say()) } });
  row.what = h("span", { class: "lk-what" }, row.name, row.tag);
  row.element = h("div", { class: "lk-row", role: "group", "data-line": line.id },
    h("span", { class: "lk-lead" }, row.grip, row.pick), row.what,
    row.track, row.box, row.delta, row.grams, row.lock, row.more);
  attachSlider(view, row);
  attachBox(view, row);
  attachGrip(view, row);
  return row;
}

function buildRule(row) {
  row.slider = h("input", { type: "range", class: "lk-slider", min: "0", step: "any" });
  row.fill = h("i", { class: "lk-fill" });
  row.ghost = h("i", { class: "lk-was" });
  row.tried = h("i", { class: "lk-tried" });
  row.deadLow = h("i", { class: "lk-dead lk-dead-low" });
  row.deadHigh = h("i", { class: "lk-dead lk-dead-high" });
  row.marks = h("span", { class: "lk-marks" });
  row.end = h("span", { class: "lk-end" });
  row.track = h("span", { class: "lk-track" },
    h("span", { class: "lk-rule", "aria-hidden": "true" },
      row.tried, row.deadLow, row.deadHigh, row.marks, row.fill, row.ghost),
    row.slider, row.end);
}

// Only a name that is too long is cut short: each place that clips costs every frame.
function fitNames(view) {
  const rows = [...view.rows.values()];
  for (const row of rows) row.element.classList.remove("lk-long");
  const long = rows.filter((row) => row.what.scrollWidth > row.what.clientWidth);
  for (const row of long) row.element.classList.add("lk-long");
}

// What changes only with the state: names, locks, marks, bounds.
function dressRow(view, row) {
  const line = view.lineOf(row.id);
  const rest = line.id === view.state.qs;
  const give = view.state.give;
  setText(row.name, line.material);
  setAttr(row.name, "title", line.note ? `${line.material}: ${line.note}` : line.material);
  setText(row.tag, rest ? "q.s." : line.note ? "note" : "");
  setAttr(row.element, "aria-label", `${line.material}, phase ${line.phase}`);
  setAttr(row.slider, "aria-label", `${line.material}, percent of batch`);
  setAttr(row.box, "aria-label", `${line.material}, percent`);
  setAttr(row.pick, "aria-label", `${line.material} gives way`);
  setAttr(row.lock, "aria-pressed", String(line.locked));
  setAttr(row.lock, "aria-label", `Lock ${line.material}`);
  setAttr(row.lock, "title", line.locked ? "Locked: no other move changes this line" : "Lock this line");
  setAttr(row.more, "aria-label", `${line.material}: bounds, phase, replace, remove`);
  row.element.classList.toggle("lk-locked", line.locked);
  row.element.classList.toggle("lk-rest", rest);
  row.element.classList.toggle("lk-still", giversOf(view.state, view.indexOf(row.id)).why !== "");
  row.pick.hidden = give !== "chosen";
  row.grip.hidden = give === "chosen";
  row.pick.checked = view.state.chosen.includes(line.id);
  row.box.readOnly = line.locked;
  row.end.classList.toggle("lk-bounded", line.bounded[1]);
  if (!row.held) view.setScale(row, Math.max(line.units, line.was || 0));
  placeMarks(view, row, line);
}

function placeMarks(view, row, line) {
  const at = (units) => `${Math.min(100, 100 * units / row.scale)}%`;
  row.ghost.hidden = line.was === null || line.was > row.scale;
  if (line.was !== null) row.ghost.style.left = at(line.was);
  setAttr(row.ghost, "title", line.was === null ? null : `${view.state.marks}: ${percentText(line.was)} %`);
  placeTried(row, line, at);
  setText(row.end, plainNumber(row.scale / 10000));
  const limits = [];
  if (line.bounded[0]) limits.push(h("i", { class: "lk-limit lk-limit-low", style: `left:${at(line.low)}` }));
  if (line.bounded[1]) limits.push(h("i", { class: "lk-limit lk-limit-high", style: `left:${at(line.high)}` }));
  row.marks.replaceChildren(...limits, ...(row.bands || []));
  row.shown = {};
}

// What the trials have tried, as a light span under the rule.
function placeTried(row, line, at) {
  const tried = line.tried || null;
  row.tried.hidden = !tried || tried[0] >= row.scale;
  if (row.tried.hidden) return;
  row.tried.style.left = at(tried[0]);
  row.tried.style.right = `calc(100% - ${at(tried[1])})`;
}

function triedWords(line, units) {
  if (!line.tried || (units >= line.tried[0] && units <= line.tried[1])) return "";
  return `outside what you have tried, ${percentText(line.tried[0])} to ${percentText(line.tried[1])} %`;
}

// What moves with the hand. Writes only what has changed.
function paintRow(view, row, units) {
  const shown = row.shown;
  if (shown.units === units && shown.batch === view.state.batch_g) return;
  const line = view.lineOf(row.id);
  const text = percentText(units);
  const fraction = Math.min(1, units / row.scale);
  row.fill.style.backgroundSize = `${100 * fraction}% 100%`;
  row.slider.value = units / 10000;
  const state = line.locked ? ", locked" : line.id === view.state.qs ? ", takes the rest" : "";
  const beyond = triedWords(line, units);
  row.slider.setAttribute("aria-valuetext", [`${text} percent${state}`, beyond].filter(Boolean).join(", "));
  row.element.classList.toggle("lk-beyond", beyond !== "");
  setAttr(row.box, "title", beyond || null);
  if (!row.typing) {
    row.box.value = text;
    row.box.dataset.places = places(text);
  }
  setText(row.delta, line.was === null ? "new" : signedText(units - line.was));
  const grams = units * view.state.batch_g / TOTAL;
  const small = grams > 0 && grams < 100 * view.state.balance_g;
  setText(row.grams, gramsText(units, view.state.batch_g, view.state.balance_g));
  row.grams.classList.toggle("lk-small", small);
  row.grams.classList.toggle("lk-tiny", grams > 0 && grams < 20 * view.state.balance_g);
  setAttr(row.grams, "title", small ? `One step of the balance (${view.state.balance_g} g) is more than 1 % of this weighing` : null);
  shown.units = units;
  shown.batch = view.state.batch_g;
}

// The unreachable ends, seen before they are hit.
function paintReach(view, row) {
  const range = rangeOf(view.state, view.units, view.indexOf(row.id));
  const fixed = !range.givers.length;
  const low = fixed ? 0 : Math.min(1, range.low / row.scale);
  const high = fixed ? 1 : Math.min(1, range.high / row.scale);
  row.deadLow.style.width = `${100 * low}%`;
  row.deadHigh.style.width = `${100 * (1 - high)}%`;
  setAttr(row.slider, "aria-valuemax", (Math.min(row.scale, range.high) / 10000).toString());
  const why = fixed ? `${view.lineOf(row.id).material} ${range.why}` : "";
  setAttr(row.track, "title", why || null);
}

function attachBox(view, row) {
  const box = row.box;
  const put = () => {
    row.typing = false;
    if (box.value.trim() !== row.before) view.typed(row.id, box.value);
    box.dataset.places = places(box.value);
  };
  box.addEventListener("focus", () => { row.typing = true; row.before = box.value.trim(); box.select(); });
  box.addEventListener("blur", () => { if (row.typing) put(); });
  box.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      put();
      row.typing = true;
      row.before = box.value.trim();
      box.select();
    } else if (event.key === "Escape") {
      box.value = row.before;
      row.typing = false;
      view.dismissRefusal();
      box.blur();
    } else if (event.key === "ArrowUp" || event.key === "ArrowDown") {
      event.preventDefault();
      row.typing = false;
      const here = view.units[view.indexOf(row.id)];
      const sign = event.key === "ArrowUp" ? 1 : -1;
      stepTo(view, row, Math.max(0, Math.min(TOTAL, here + sign * keyStep(row.scale, event))));
    }
  });
  box.addEventListener("input", () => { row.typing = true; });
}

function toggleLock(view, row) {
  const locked = !view.lineOf(row.id).locked;
  view.edit({ do: "move", id: row.id, move: { kind: "lock", locked } });
}
