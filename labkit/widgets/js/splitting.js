// It split, why? Questions on the left, suspects on the right; every answer counts at once.

function drawSplit(board) {
  const s = board.state;
  const held = document.activeElement;
  const at = held && board.root.contains(held) ? held.dataset.at : null;
  const asked = h("div", { class: "lk-asked" }, ...s.questions.map((q) => questionPart(board, q)),
    h("fieldset", {}, h("legend", { text: "Measured (counts before an answer above)" }),
      h("div", { class: "lk-head-line" }, ...s.numbers.map((n) => numberPart(board, n)))), photoControl(board));
  const suspects = h("section", { class: "lk-suspects", "aria-label": "Suspects", "aria-live": "polite" },
    s.suspects.length ? h("ol", {}, ...s.suspects.map(suspectPart)) : h("p", { text: "No suspect yet: answer what you can." }),
    s.paper.length ? h("div", {}, h("b", { text: "On paper" }), h("ul", {}, ...s.paper.map((text) => h("li", { text })))) : null,
    s.can_note ? h("button", { class: "lk-record", text: `Note this on ${s.name}`, "data-at": "note", on: { click: () => board.edit({ do: "note" }) } }) : null,
    h("p", { class: "lk-said", text: s.kept }));
  const trouble = s.trouble ? h("p", { class: "lk-trouble", role: "alert", text: s.trouble }) : null;
  board.body.replaceChildren(...[h("b", { class: "lk-title", text: `It split, why? ${s.name}` }), trouble,
    h("div", { class: "lk-split" }, asked, suspects)].filter(Boolean));
  if (at) board.root.querySelector(`[data-at="${CSS.escape(at)}"]`)?.focus();
}

function questionPart(board, q) {
  const group = `${board.state.sheet}-${q.id.replace(/ /g, "-")}-${board.link.client || ""}`;
  const put = (answer) => board.edit({ do: "answer", question: q.id, answer });
  const radios = q.answers.map((text) => radioPart(group, text, q.answer === text, `${q.id}|${text}`, () => put(text)));
  const open = radioPart(group, "leave open", q.answer === "", `${q.id}|`, () => put(""));
  return h("fieldset", { class: q.id === board.state.next ? "lk-telling" : "", title: q.how }, h("legend", {}, q.asks,
    q.id === board.state.next ? h("small", { text: " tells most now" }) : null), ...radios, open);
}

function radioPart(name, text, checked, at, put) {
  const radio = h("input", { type: "radio", name, "data-at": at, on: { change: put } });
  radio.checked = checked;
  return h("label", {}, radio, text);
}

function numberPart(board, n) {
  // What is being typed outlives a redraw that another answer brings.
  const drafts = board.drafts ||= {};
  const send = () => {
    delete drafts[n.name];
    if (box.value !== n.text) board.edit({ do: "read", name: n.name, text: box.value });
  };
  const box = h("input", { type: "text", inputmode: "decimal", "aria-label": n.label, "data-at": n.name, autocomplete: "off",
    on: { input: () => { drafts[n.name] = box.value; }, blur: () => { if (box.isConnected) send(); }, keydown: (event) => { if (event.key === "Enter") send(); } } });
  box.value = drafts[n.name] ?? n.text;
  return h("label", { class: "lk-field" }, h("span", { text: n.label }), box);
}

function photoControl(board) {
  if (!board.state.can_note) return null;
  const pick = h("input", { type: "file", accept: "image/jpeg,image/png,image/webp", "aria-label": "Photo of the split batch",
    on: { change: () => sendPhoto(board, pick.files[0]) } });
  return h("fieldset", {}, h("legend", { text: "Photo, kept with the trial" }), pick);
}

function sendPhoto(board, file) {
  if (!file) return;
  const reader = new FileReader();
  reader.onload = () => board.edit({ do: "photo", data: String(reader.result).split(",")[1] || "" });
  reader.readAsDataURL(file);
}

function suspectPart(suspect) {
  return h("li", {}, h("b", { text: suspect.name }), ` (${suspect.word})`,
    h("ul", {}, ...suspect.for.map((text) => h("li", { text: `for it: ${text}` })),
      ...suspect.against.map((text) => h("li", { text: `against it: ${text}` }))),
    h("p", { class: "lk-next", text: `Next trial: ${suspect.next}` }));
}

function render(context) {
  const board = createBoard(context, "It split, why?", drawSplit);
  return () => board.close();
}

export default { render };
