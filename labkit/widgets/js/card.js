// A trial's card: what it was, what changed, what was read, what was noted.

function drawCard(card, act) {
  const list = (title, items) => (items.length
    ? [h("b", { text: title }), h("ul", {}, ...items.map((text) => h("li", { text })))] : []);
  const head = h("div", { class: "lk-card-head" }, h("b", { class: "lk-title", text: card.label }),
    h("span", { class: "lk-from", text: `${card.name} · ${card.created}` }),
    h("button", { class: "lk-record", text: "Tune from here", on: { click: () => act({ do: "tune", trial: card.id }) } }),
    h("button", { class: "lk-close", "aria-label": "Close the card", on: { click: () => act({ do: "close" }) } }, icon("cross")));
  const words = h("div", { class: "lk-card-words" },
    card.note ? h("p", { class: "lk-card-note", text: card.note }) : null,
    ...card.differences.flatMap((d) => list(`From ${d.parent}`, d.changes.length ? d.changes : ["same recipe"])),
    ...list("Read", card.readings), ...list("Noted", card.notes), photoPart(card.photo));
  return h("section", { class: "lk-card", "aria-label": `Trial ${card.label}` }, head,
    h("div", { class: "lk-card-body" }, formulaTable(card.lines), words));
}

function formulaTable(lines) {
  const row = (x) => h("tr", {}, h("td", { text: x.phase }), h("th", { scope: "row", text: x.material }), h("td", { class: "lk-num", text: x.percent }));
  const head = h("tr", {}, ...["", "Material", "% w/w"].map((t) => h("th", { scope: "col", text: t })));
  return h("table", { class: "lk-table" }, h("thead", {}, head), h("tbody", {}, ...lines.map(row)));
}

function photoPart(photo) {
  if (!photo) return null;
  const picture = photo.src ? h("img", { src: photo.src, alt: photo.caption || "photo of the trial" }) : null;
  return h("figure", {}, picture, h("figcaption", { text: photo.caption }));
}
