// The trend board: quantity, branch, conditions; the chart; the card of a trial.

const LOOK_MS = 2500;
const USUAL_WIDTH = 720;

function drawTrend(board) {
  board.width ||= USUAL_WIDTH;
  const s = board.state;
  const show = (part) => board.edit({ do: "show", ...part });
  const quantities = [...new Set([s.quantity, ...s.quantities])].map((q) => [q, q]);
  const series = s.panel ? s.panel.series : [];
  const bar = h("div", { class: "lk-head-line" },
    choice("quantity", quantities, s.quantity, (quantity) => show({ quantity })),
    choice("branch", [["", "all branches"], ...s.branches.map((b) => [b.id, `up to ${b.label}`])], s.branch, (branch) => show({ branch })),
    choice("conditions", [["", "all conditions"], ...series.map((x) => [x.name, x.name])], s.conditions, (conditions) => show({ conditions })));
  const trouble = s.trouble ? h("p", { class: "lk-trouble", role: "alert", text: s.trouble }) : null;
  const chart = s.panel ? drawChart(s.panel, board.width, s.card && s.card.id, (trial) => board.edit({ do: "card", trial })) : null;
  const caption = s.panel ? h("div", { class: "lk-caption" }, h("b", { text: s.panel.caption }), ...legend(s.panel)) : null;
  const card = s.card ? drawCard(s.card, board.edit) : null;
  const held = document.activeElement;
  const trial = held && board.root.contains(held) ? held.dataset.trial : null;
  board.body.replaceChildren(...[bar, caption, chart, trouble, card].filter(Boolean));
  if (trial) board.root.querySelector(`[data-trial="${trial}"]`)?.focus();
}

function legend(panel) {
  return panel.series.map((series) => {
    const mark = svg("svg", { viewBox: "-8 -8 16 16", class: "lk-icon", "aria-hidden": "true" },
      svg("path", { d: SHAPES[series.symbol] || SHAPES.circle, fill: series.ink, stroke: "none" }));
    return h("span", { class: "lk-legend" }, mark, series.name);
  });
}

function render(context) {
  const board = createBoard(context, "Trend", drawTrend);
  const fit = new ResizeObserver(() => {
    const width = Math.round(board.body.clientWidth);
    if (!width || width === board.width) return;
    board.width = width;
    drawTrend(board);
  });
  fit.observe(board.body);
  const look = setInterval(() => {
    if (!document.hidden && board.link.state === "live" && isIdle(board.link)) board.edit({ do: "look" });
  }, LOOK_MS);
  return () => {
    clearInterval(look);
    fit.disconnect();
    board.close();
  };
}

export default { render };
