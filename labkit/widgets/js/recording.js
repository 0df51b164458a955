// The recording slip: which trial, what was measured, the value with its unit, how.

function drawSlip(board) {
  const s = board.state;
  const kept = board.kept || { trial: s.trial, quantity: "pH", value: "", note: "", conditions: {} };
  board.kept = { ...kept, trial: s.trials.some((t) => t.id === kept.trial) ? kept.trial : s.trial };
  if (board.sending && !s.refusal) Object.assign(board.kept, { value: "", note: "" });
  board.sending = false;
  const bar = h("div", { class: "lk-head-line" },
    choice("trial", s.trials.map((t) => [t.id, t.label]), board.kept.trial, (trial) => { board.kept.trial = trial; }),
    choice("quantity", s.quantities.map((q) => [q.name, q.name]), board.kept.quantity, (quantity) => { board.kept.quantity = quantity; drawSlip(board); }),
    slipBox(board, "value", quantityOf(board).hint, board.kept.value, (text) => { board.kept.value = text; }));
  const how = h("div", { class: "lk-head-line" }, ...quantityOf(board).conditions.map((name) =>
    slipBox(board, name, s.hints[name], board.kept.conditions[name] || "", (text) => { board.kept.conditions[name] = text; })),
    slipBox(board, "note", "what else was seen", board.kept.note, (text) => { board.kept.note = text; }));
  const save = h("button", { class: "lk-record", text: "Record", on: { click: () => sendSlip(board) } });
  const refusal = s.refusal ? h("div", { class: "lk-refusal", role: "alert" }, icon("stop"),
    h("span", {}, h("b", { text: "Not recorded. " }), refusalWords(s.refusal))) : null;
  const saved = s.saved.length ? h("ul", { class: "lk-saved", "aria-label": "Recorded", "aria-live": "polite" }, ...s.saved.map((text) => h("li", { text }))) : null;
  board.body.replaceChildren(...[bar, how, h("div", { class: "lk-head-line lk-send" }, save), refusal, saved].filter(Boolean));
}

function quantityOf(board) {
  return board.state.quantities.find((q) => q.name === board.kept.quantity);
}

function slipBox(board, name, hint, value, put) {
  const box = h("input", { type: "text", "aria-label": name, placeholder: hint, title: hint, autocomplete: "off",
    on: { input: () => put(box.value), keydown: (event) => { if (event.key === "Enter") sendSlip(board); } } });
  box.value = value;
  return h("label", { class: "lk-field" }, h("span", { text: name }), box);
}

function sendSlip(board) {
  board.sending = true;
  board.drawn = "";
  const { conditions, ...rest } = board.kept;
  const usual = quantityOf(board).conditions;
  const given = Object.fromEntries(Object.entries(conditions).filter(([name]) => usual.includes(name)));
  board.edit({ do: "save", ...rest, conditions: given });
}

function render(context) {
  const board = createBoard(context, "Record a measurement", drawSlip);
  return () => board.close();
}

export default { render };
