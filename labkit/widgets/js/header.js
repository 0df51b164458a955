// The head of the sheet: name, which lines give way, batch, steps back and forth.

const GIVE = [["qs", "q.s. line", "The q.s. line takes the rest"],
  ["phase", "phase", "The other lines of the same phase, in proportion"],
  ["all", "all", "All other unlocked lines, in proportion"],
  ["chosen", "chosen", "The lines that are ticked, in proportion"]];

function buildHeader(view) {
  view.title = h("span", { class: "lk-title" });
  view.from = h("span", { class: "lk-from" });
  view.undo = stepButton(view, "undo", "back");
  view.redo = stepButton(view, "redo", "forth");
  view.batch = massBox(view, "Batch", "batch");
  view.balance = massBox(view, "Balance reads", "balance");
  view.status = h("span", { class: "lk-status", role: "status" });
  view.refusal = h("div", { class: "lk-refusal lk-refusal-top", role: "alert" });
  view.refusal.hidden = true;
  return h("header", { class: "lk-head" },
    h("div", { class: "lk-head-line" }, view.title, view.from, view.status,
      h("span", { class: "lk-steps" }, view.undo, view.redo)),
    h("div", { class: "lk-head-line lk-setup" }, givePart(view),
      field("batch", view.batch), field("balance", view.balance)),
    view.refusal);
}

function stepButton(view, word, picture) {
  return h("button", { class: `lk-step lk-${word}`, on: { click: () => view.edit({ do: word }) } }, icon(picture));
}

function givePart(view) {
  const name = `lk-give-${view.link.client}`;
  view.gives = new Map();
  const choices = GIVE.map(([mode, label, hint]) => {
    const radio = h("input", { type: "radio", name, value: mode, on: { change: () => view.edit({ do: "give", mode }) } });
    view.gives.set(mode, radio);
    return h("label", { title: hint }, radio, h("span", { text: label }));
  });
  return h("fieldset", { class: "lk-give" }, h("legend", { text: "gives way" }), ...choices);
}

function massBox(view, label, kind) {
  const box = h("input", { type: "text", class: "lk-mass", "aria-label": `${label}, grams`, autocomplete: "off" });
  const put = () => { if (box.value !== box.dataset.shown) view.edit({ do: "weigh", [kind]: box.value }); };
  box.addEventListener("change", put);
  box.addEventListener("keydown", (event) => { if (event.key === "Enter") { put(); box.select(); } });
  return box;
}

function dressHeader(view) {
  const s = view.state;
  setText(view.title, s.name);
  setText(view.from, s.parent ? `from ${s.parent}` : "");
  for (const [mode, radio] of view.gives) {
    radio.checked = mode === s.give;
    radio.disabled = mode === "qs" && s.qs === null;
  }
  dressMass(view.batch, `${plainNumber(s.batch_g)} g`);
  dressMass(view.balance, `${plainNumber(s.balance_g)} g`);
  for (const [button, word, name] of [[view.undo, "Undo", s.undo], [view.redo, "Redo", s.redo]]) {
    button.disabled = !name;
    setAttr(button, "aria-label", name ? `${word}: ${name}` : `${word}: nothing`);
    setAttr(button, "title", name ? `${word}: ${name}` : null);
  }
}

function dressMass(box, text) {
  if (document.activeElement === box && box.value !== box.dataset.shown) return;
  box.value = text;
  box.dataset.shown = text;
}

function dressRefusal(view) {
  const refusal = view.state.refusal;
  for (const row of view.rows.values()) row.element.classList.remove("lk-refused");
  const row = refusal && refusal.line !== null ? view.rows.get(refusal.line) : null;
  view.refusal.hidden = !refusal;
  if (!refusal) return;
  const close = h("button", { class: "lk-close", "aria-label": "Dismiss", on: { click: () => view.dismissRefusal() } }, icon("cross"));
  const head = refusal.where ? `Not changed. ${refusal.where}: ` : "Not changed. ";
  view.refusal.replaceChildren(icon("stop"), h("span", {}, h("b", { text: head }), refusalWords(refusal)), close);
  if (row) {
    row.element.classList.add("lk-refused");
    row.element.append(view.refusal);
  } else {
    view.header.append(view.refusal);
  }
}

const STATUS_WORDS = {
  live: "", waiting: "waiting for the notebook", lost: "not connected: run the cell again",
};

function dressStatus(view) {
  const state = view.link.state;
  setText(view.status, STATUS_WORDS[state]);
  view.status.dataset.state = state;
  view.root.classList.toggle("lk-lost", state === "lost");
  for (const control of view.root.querySelectorAll("input, button:not(.lk-read-head), select, textarea")) {
    if (state === "lost") {
      if (!control.disabled) { control.disabled = true; control.dataset.off = "1"; }
    } else if (control.dataset.off) {
      control.disabled = false;
      delete control.dataset.off;
    }
  }
  paintMark(view);
}
