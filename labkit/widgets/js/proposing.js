// Proposals side by side: what moves, how likely it lands, why; one press opens one.

function drawProposals(board) {
  const s = board.state;
  const held = document.activeElement;
  const at = held && board.root.contains(held) ? held.dataset.at : null;
  const cards = s.proposals.map((p, i) => proposalCard(board, p, i));
  const again = h("button", { class: "lk-press", text: "Propose again", "data-at": "again",
    title: "With what was recorded since", on: { click: () => board.edit({ do: "again" }) } });
  const trouble = s.trouble ? h("p", { class: "lk-trouble", role: "alert", text: s.trouble }) : null;
  const said = h("p", { class: "lk-said", role: "status",
    text: s.chosen === null ? "" : `Proposal ${s.chosen + 1} is on the mixing sheet below.` });
  board.body.replaceChildren(...[h("div", { class: "lk-title", text: s.title }), h("ol", { class: "lk-proposals" }, ...cards),
    h("div", { class: "lk-head-line" }, again, said), trouble].filter(Boolean));
  if (at) board.root.querySelector(`[data-at="${at}"]`)?.focus();
}

function proposalCard(board, p, i) {
  const open = h("button", { class: "lk-record", text: "Open on the sheet", "data-at": String(i),
    "aria-label": `Open proposal ${i + 1} on the mixing sheet`,
    on: { click: () => board.edit({ do: "choose", i }) } });
  const chances = [...p.chances, { label: "all windows", chance: p.chance }];
  return h("li", { class: board.state.chosen === i ? "lk-proposal lk-chosen" : "lk-proposal", "aria-label": `Proposal ${i + 1}, ${p.kind}` },
    h("div", { class: "lk-proposal-head" }, h("b", { text: `${i + 1}. ${p.kind}` }), h("span", { class: "lk-from", text: `from ${p.from}` })),
    h("p", { class: "lk-proposal-words", text: p.words }),
    h("ul", { class: "lk-moves" }, ...p.moves.map((text) => h("li", { text }))),
    h("div", { class: "lk-chances" }, ...chances.flatMap(chanceRow)),
    p.why.length ? h("p", { class: "lk-proposal-words" }, h("b", { text: "why " }), p.why.join("; ")) : null,
    h("p", { class: "lk-proposal-words", text: [p.cost, p.outside].filter(Boolean).join(" · ") }), open);
}

function chanceRow(c) {
  const percent = `${Math.round(100 * c.chance)} %`;
  return [h("span", { text: c.label }),
    h("span", { class: "lk-chance", "aria-hidden": "true" }, h("i", { style: `width:${100 * c.chance}%` })),
    h("span", { class: "lk-num", text: percent })];
}

function render(context) {
  const board = createBoard(context, "Proposals for the next trial", drawProposals);
  return () => board.close();
}

export default { render };
