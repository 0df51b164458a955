// The read-outs, in the order that Python gives them; each opens to its explanation.

function buildReadouts(view) {
  view.reads = new Map();
  view.readList = h("div", { class: "lk-read-list" });
  view.readFolded = h("div", { class: "lk-read-list" });
  view.readFold = h("details", { class: "lk-more-reads" }, h("summary", { text: "more" }), view.readFolded);
  view.mark = h("span", { class: "lk-mark" });
  view.readout = h("section", { class: "lk-reads", "aria-label": "Read-outs" },
    h("div", { class: "lk-reads-head" }, h("b", { text: "At a glance" }), view.mark), view.readList, view.readFold);
  return view.readout;
}

function dressReadouts(view) {
  const wanted = view.state.readouts.map((r) => r.id);
  for (const [id, read] of view.reads) {
    if (!wanted.includes(id)) {
      read.element.remove();
      view.reads.delete(id);
    }
  }
  for (const readout of view.state.readouts) {
    if (!view.reads.has(readout.id)) view.reads.set(readout.id, buildRead(view, readout));
    placeRead(view, readout, wanted);
  }
}

// Kept in order, touched only when it stands elsewhere.
function placeRead(view, readout, wanted) {
  const list = readout.fold ? view.readFolded : view.readList;
  const before = wanted.slice(0, wanted.indexOf(readout.id)).reverse()
    .map((id) => view.reads.get(id).element).find((e) => e.parentNode === list) || null;
  const element = view.reads.get(readout.id).element;
  const next = before ? before.nextSibling : list.firstChild;
  if (next !== element) list.insertBefore(element, next);
}

function buildRead(view, readout) {
  const read = { id: readout.id };
  read.sign = h("span", { class: "lk-sign" });
  read.label = h("span", { class: "lk-read-label" });
  read.value = h("span", { class: "lk-read-value" });
  read.unit = h("span", { class: "lk-read-unit" });
  read.words = h("span", { class: "lk-read-words" });
  read.more = h("div", { class: "lk-read-more" });
  read.more.hidden = true;
  read.head = h("button", {
    class: "lk-read-head", "aria-expanded": "false",
    on: { click: () => openRead(view, read) },
  }, h("span", { class: "lk-read-name" }, read.sign, read.label), read.value, read.unit, read.words);
  read.element = h("div", { class: "lk-read", "data-read": readout.id }, read.head, read.more);
  return read;
}

function openRead(view, read) {
  read.more.hidden = !read.more.hidden;
  setAttr(read.head, "aria-expanded", String(!read.more.hidden));
  fillMore(view, read, view.state.readouts.find((r) => r.id === read.id));
}

function fillMore(view, read, readout) {
  if (read.more.hidden || !readout) return;
  const rows = [["", readout.detail], ["Basis", readout.basis], ["Source", readout.source]]
    .filter(([, text]) => text)
    .map(([name, text]) => h("p", {}, name ? h("b", { text: `${name} ` }) : null, text));
  const findings = (readout.findings || []).map((f) => findingItem(view, f));
  read.more.replaceChildren(...findings, ...rows);
}

function findingItem(view, f) {
  const word = { stop: "Stop", check: "Check", fyi: "For your information" }[f.severity];
  const fix = f.move ? h("button", {
    class: "lk-word", text: `Do it: ${f.move_words}`,
    on: { click: () => view.edit({ do: "move", move: f.move }) },
  }) : null;
  return h("div", { class: `lk-finding lk-${f.severity}` }, icon(f.severity),
    h("div", {}, h("b", { text: `${word}: ` }), f.what, ...[f.why, f.do].filter(Boolean).map((text) => h("p", { text })), fix,
      f.source ? h("p", { class: "lk-source", text: f.source }) : null));
}

// Values; while a slider is held they follow the range that Python sent beforehand.
function paintReadouts(view) {
  for (const readout of view.state.readouts) {
    const read = view.reads.get(readout.id);
    if (read) paintRead(view, read, readout, liveRead(view, readout));
  }
  paintMark(view);
}

function paintRead(view, read, readout, live) {
  const now = live || readout;
  setText(read.label, readout.label);
  const number = valueText(now.value, readout.digits || 0);
  const step = now.value === null ? null : (readout.steps || []).find(([level]) => now.value >= level);
  setText(read.value, now.text ?? (step ? step[1] : number));
  setText(read.unit, step || (now.value === null && !now.text) ? "" : readout.unit || "");
  const band = now.low !== null && now.low !== undefined
    ? `${valueText(now.low, readout.digits)} – ${valueText(now.high, readout.digits)}` : "";
  const said = step ? `${number} ${readout.unit}` : "";
  setText(read.words, [said, band, now.words ?? readout.words].filter(Boolean).join(" · "));
  const severity = now.severity ?? readout.severity ?? "";
  if (read.severity !== severity) {
    read.severity = severity;
    read.sign.replaceChildren(...(severity ? [icon(severity)] : []));
    read.element.className = `lk-read${severity ? ` lk-${severity}` : ""}`;
  }
  fillMore(view, read, readout);
}

// What the page itself knows to the last digit, and what it follows in between.
function liveRead(view, readout) {
  if (readout.id === "total") return { text: percentText(sumUnits(view.units)), words: readout.words };
  const moving = view.gesture || !view.confirmed;
  if (readout.id === "differs" && moving) {
    const count = view.state.lines.filter((x, i) => x.was !== view.units[i]).length;
    return { text: String(count), words: readout.words };
  }
  if (!view.gesture || view.confirmed) return null;
  if (readout.id === "findings") return countedAt(view);
  const at = rangeValue(view, readout.id);
  return at === null ? null : { ...at, words: readout.words };
}

function sumUnits(units) {
  return units.reduce((sum, x) => sum + x, 0);
}

function paintMark(view) {
  const state = view.link.state === "lost" ? "not connected" : view.confirmed ? "confirmed" : "following";
  setText(view.mark, state);
  view.mark.dataset.state = state;
}
