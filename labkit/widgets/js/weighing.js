// The weighing board: what the balance says, line by line, a log by one key, a hold timer.

function drawWeighing(board) {
  const s = board.state;
  board.typed ||= { grams: {}, words: "", warm: "", gross: "", vessel: "", hold: "20" };
  if (board.sending && !s.refusal) forget(board, board.sending);
  const next = board.sending && board.sending.do === "weigh" && !s.refusal ? s.next : null;
  board.sending = null;
  listenForKeys(board);
  const refusal = s.refusal ? h("div", { class: "lk-refusal", role: "alert" }, icon("stop"),
    h("span", {}, h("b", { text: "Not written down. " }), refusalWords(s.refusal))) : null;
  board.body.replaceChildren(...[weighingHead(s), refusal, overPart(board), linesTable(board),
    endPart(board), logPart(board)].filter(Boolean));
  showHold(board);
  if (next !== null) board.body.querySelector(`[data-line="${next}"]`)?.focus();
}

function forget(board, sent) {
  if (sent.do === "weigh") delete board.typed.grams[sent.line];
  if (sent.do === "log") Object.assign(board.typed, { words: "", warm: "" });
  if (sent.do === "finish") board.typed.gross = "";
}

function weighingHead(s) {
  return h("div", { class: "lk-head-line" }, h("b", { class: "lk-title", text: s.title }),
    h("span", { class: "lk-from", text: s.words }),
    h("span", { class: "lk-sum", role: "status", text: `${s.weighed} of ${s.planned} g in` }));
}

function tell(board, edit) {
  board.sending = edit;
  board.drawn = "";
  board.edit(edit);
}

function overPart(board) {
  const { over } = board.state;
  if (!over) return null;
  return h("div", { class: "lk-over", role: "alert" }, icon("check"), h("span", { text: over.words }),
    h("button", { class: "lk-press", text: "Bring the rest up", on: { click: () => tell(board, { do: "raise" }) } }),
    h("button", { class: "lk-press", text: "Take it as it is", on: { click: () => tell(board, { do: "accept" }) } }));
}

function linesTable(board) {
  const rows = board.state.lines.flatMap((line, i, all) => [
    ...(i === 0 || all[i - 1].phase !== line.phase
      ? [h("tr", { class: "lk-weigh-phase" }, h("th", { colspan: 6, scope: "colgroup", text: line.heading }))] : []),
    lineRow(board, line)]);
  const head = ["Material", "Target, g", "Balance says, g", "In, g", "Off", "% made"];
  return h("table", { class: "lk-weigh" },
    h("thead", {}, h("tr", {}, ...head.map((text) => h("th", { scope: "col", text })))), h("tbody", {}, ...rows));
}

function lineRow(board, line) {
  const box = h("input", { type: "text", inputmode: "decimal", autocomplete: "off", "data-line": line.i,
    "aria-label": `${line.material}, grams on the balance`,
    on: { input: () => { board.typed.grams[line.i] = box.value; },
      keydown: (event) => {
        if (event.key === "Enter" && box.value.trim()) tell(board, { do: "weigh", line: line.i, grams: box.value });
      } } });
  box.value = board.typed.grams[line.i] || "";
  const name = h("th", { scope: "row" }, line.material, line.lot ? h("small", { text: ` lot ${line.lot}` }) : "");
  return h("tr", { "data-state": line.state }, name, h("td", { class: "lk-num", text: line.target }), h("td", {}, box),
    h("td", { class: "lk-num", text: line.weighed }), h("td", { class: "lk-num", text: line.off }),
    h("td", { class: "lk-num", text: line.made }));
}

function entry(board, name, label, hint, sendIt) {
  const box = h("input", { type: "text", "aria-label": label, placeholder: hint, autocomplete: "off",
    on: { input: () => { board.typed[name] = box.value; }, keydown: (event) => { if (event.key === "Enter") sendIt(); } } });
  box.value = board.typed[name];
  return h("label", { class: "lk-field" }, h("span", { text: label }), box);
}

function endPart(board) {
  const send = () => tell(board, { do: "finish", gross: board.typed.gross, vessel: board.typed.vessel });
  const steam = () => tell(board, { do: "steam", gross: board.typed.gross, vessel: board.typed.vessel });
  return h("div", { class: "lk-head-line" }, entry(board, "gross", "vessel and batch, g", "452.40", steam),
    board.state.vessel ? h("span", { class: "lk-from", text: `vessel ${board.state.vessel} g` })
      : entry(board, "vessel", "empty vessel, g", "212.40", steam),
    h("button", { class: "lk-press", text: "Water to add?", on: { click: steam } }),
    h("button", { class: "lk-press", text: "Finished", on: { click: send } }),
    h("b", { class: "lk-steam", role: "status", text: board.state.steam }));
}

function logPart(board) {
  const s = board.state;
  const log = (words) => tell(board, { do: "log", words, warm: board.typed.warm });
  const keys = s.phases.map((key) => h("button", { class: "lk-press", title: `key ${key}`, text: `${key} in`, on: { click: () => log(`${key} in`) } }));
  const write = () => { if (board.typed.words.trim()) log(board.typed.words); };
  const hold = entry(board, "hold", "hold, min", "20", () => startHold(board));
  board.clock = h("b", { class: "lk-clock", role: "timer" });
  const lines = h("ol", { class: "lk-log", "aria-label": "Log", "aria-live": "polite" }, ...s.log.map((text) => h("li", { text })));
  return h("div", {}, h("div", { class: "lk-head-line" }, ...keys, entry(board, "warm", "°C", "72", write),
    entry(board, "words", "log", "what was done", write), h("button", { class: "lk-press", text: "Write", on: { click: write } }),
    h("button", { class: "lk-press", text: "Take back the last", disabled: !s.can_undo, on: { click: () => tell(board, { do: "undo" }) } })),
  h("div", { class: "lk-head-line" }, hold, h("button", { class: "lk-press", text: "Start", on: { click: () => startHold(board) } }), board.clock), lines);
}

// One key writes a line: the letter of a phase, while no box is being typed in.
function listenForKeys(board) {
  if (board.listening) return;
  board.listening = true;
  board.root.tabIndex = 0;
  board.root.setAttribute("data-lm-suppress-shortcuts", "true");
  board.root.addEventListener("keydown", (event) => {
    if (event.target.tagName === "INPUT" || event.ctrlKey || event.metaKey || event.altKey) return;
    const key = board.state.phases.find((name) => name.toLowerCase() === event.key.toLowerCase());
    if (!key) return;
    event.preventDefault();
    tell(board, { do: "log", words: `${key} in`, warm: board.typed.warm });
  });
}

function startHold(board) {
  const minutes = Number(board.typed.hold.replace(",", "."));
  if (!(minutes > 0 && minutes <= 600)) return;
  clearInterval(board.ticking);
  board.until = Date.now() + minutes * 60000;
  board.minutes = minutes;
  board.ticking = setInterval(() => tick(board), 500);
  tell(board, { do: "log", words: `hold ${minutes} min begun`, warm: board.typed.warm });
}

function tick(board) {
  if (Date.now() >= board.until) {
    clearInterval(board.ticking);
    board.until = null;
    tell(board, { do: "log", words: `hold ${board.minutes} min over`, warm: "" });
  }
  showHold(board);
}

function showHold(board) {
  const left = board.until ? Math.max(0, Math.ceil((board.until - Date.now()) / 1000)) : null;
  const text = left === null ? (board.minutes ? "over" : "") : `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`;
  setText(board.clock, text);
}

function render(context) {
  const board = createBoard(context, "Weigh a batch", drawWeighing);
  return () => { clearInterval(board.ticking); board.close(); };
}

export default { render };
