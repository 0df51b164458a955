// One pair of axes drawn by hand: points that can be pressed, links, bands, words.

const CHART = { height: 260, left: 62, right: 14, top: 14, bottom: 40 };
const TICK_WIDTH = 54;
const SHAPES = {
  circle: "M-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0",
  square: "M-4.5 -4.5h9v9h-9z",
  diamond: "M0 -6L6 0L0 6L-6 0z",
  "triangle-up": "M0 -6L5.5 4.5H-5.5z",
  cross: "M-2 -6h4v4h4v4h-4v4h-4v-4h-4v-4h4z",
  x: "M-6 -4L-4 -6L0 -2L4 -6L6 -4L2 0L6 4L4 6L0 2L-4 6L-6 4L-2 0z",
  star: "M0 -7L1.8 -2.2L7 -2.2L2.8 1L4.4 6L0 3L-4.4 6L-2.8 1L-7 -2.2L-1.8 -2.2z",
};

function chartScales(panel, width) {
  const { height, left, right, top, bottom } = CHART;
  const xs = panel.x_ticks.map(([x]) => x);
  const least = Math.min(...xs, 0) - 0.5;
  const most = Math.max(...xs, 1) + 0.5;
  const bend = panel.log ? Math.log10 : (y) => y;
  const [low, high] = panel.span.map(bend);
  return {
    width,
    x: (x) => left + (x - least) / (most - least) * (width - left - right),
    y: (y) => height - bottom - (bend(y) - low) / (high - low || 1) * (height - top - bottom),
  };
}

// Drawn as wide as it is shown, so that its words keep their size.
function drawChart(panel, width, chosen, press) {
  const { height } = CHART;
  const at = chartScales(panel, width);
  const picture = svg("svg", { viewBox: `0 0 ${width} ${height}`, class: "lk-chart", role: "group", "aria-label": panel.caption });
  drawAxes(picture, panel, at);
  for (const band of panel.bands) drawBand(picture, band, panel, at);
  for (const link of panel.links) {
    picture.append(svg("line", { x1: at.x(link.x[0]), y1: at.y(link.y[0]), x2: at.x(link.x[1]), y2: at.y(link.y[1]),
      stroke: inkOf(panel, link.series), class: "lk-chart-link" }));
  }
  for (const point of panel.points) picture.append(drawPoint(panel, point, at, chosen, press));
  return picture;
}

function inkOf(panel, index) {
  return panel.series.find((s) => s.index === index).ink;
}

function drawAxes(picture, panel, at) {
  const { height, left, right, bottom } = CHART;
  const { width } = at;
  for (const [y, text] of panel.y_ticks) {
    picture.append(svg("line", { x1: left, x2: width - right, y1: at.y(y), y2: at.y(y), class: "lk-chart-grid" }));
    picture.append(chartText(left - 6, at.y(y) + 4, text, "end"));
  }
  const room = Math.max(1, Math.floor((width - left - right) / TICK_WIDTH));
  const every = Math.ceil(panel.x_ticks.length / room);
  panel.x_ticks.forEach(([x, label], k) => {
    if (k % every === 0) picture.append(chartText(at.x(x), height - bottom + 18, label, "middle"));
  });
}

function chartText(x, y, text, anchor) {
  const words = svg("text", { x, y, "text-anchor": anchor, class: "lk-chart-text" });
  words.textContent = text;
  return words;
}

function drawBand(picture, band, panel, at) {
  const { left, right } = CHART;
  const { width } = at;
  const top = at.y(band.high ?? panel.span[1]);
  const foot = at.y(band.low ?? panel.span[0]);
  picture.append(svg("rect", { x: left, width: width - left - right, y: top, height: Math.max(0, foot - top), class: "lk-chart-band" }));
  picture.append(chartText(left + 4, top + 14, band.words, "start"));
}

function drawPoint(panel, point, at, chosen, press) {
  const series = panel.series.find((s) => s.index === point.series);
  const label = point.hover.join("; ");
  const mark = svg("g", {
    class: `lk-chart-point${chosen === point.trial ? " lk-chosen" : ""}`, tabindex: "0", role: "button",
    "aria-label": label, "data-trial": point.trial, "data-lm-suppress-shortcuts": "true", color: series.ink,
  });
  if (point.low !== null && point.high !== null) {
    mark.append(svg("line", { x1: at.x(point.x), x2: at.x(point.x), y1: at.y(point.low), y2: at.y(point.high), stroke: "currentColor" }));
  }
  mark.append(svg("path", { d: SHAPES[series.symbol] || SHAPES.circle, transform: `translate(${at.x(point.x)} ${at.y(point.y)})`, fill: "currentColor" }));
  const title = svg("title");
  title.textContent = point.hover.join("\n");
  mark.append(title);
  mark.addEventListener("click", () => press(point.trial));
  mark.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    press(point.trial);
  });
  return mark;
}
