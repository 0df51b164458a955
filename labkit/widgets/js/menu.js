// What else can be done to a line: bounds, phase, order, replace, remove, q.s., note.

function toggleMenu(view, row, name) {
  const open = view.menu && view.menu.row === row;
  closeMenu(view);
  if (open) return;
  const sheet = h("div", { class: "lk-menu", role: "dialog", "aria-label": `${name}: this line` });
  sheet.append(boundsPart(view, row), placePart(view, row), replacePart(view, row), notePart(view, row), endPart(view, row));
  sheet.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    event.stopPropagation();
    closeMenu(view);
    row.more.focus();
  });
  row.element.append(sheet);
  row.more.setAttribute("aria-expanded", "true");
  view.menu = { row, sheet };
  view.outside = (event) => { if (!sheet.contains(event.target) && !row.more.contains(event.target)) closeMenu(view); };
  document.addEventListener("pointerdown", view.outside, true);
  sheet.querySelector("input, button, select").focus();
}

function closeMenu(view) {
  if (!view.menu) return;
  view.menu.sheet.remove();
  view.menu.row.more.setAttribute("aria-expanded", "false");
  document.removeEventListener("pointerdown", view.outside, true);
  view.menu = null;
}

function field(label, control) {
  return h("label", { class: "lk-field" }, h("span", { text: label }), control);
}

function boundsPart(view, row) {
  const line = view.lineOf(row.id);
  const box = (side) => h("input", {
    class: "lk-bound", type: "text", inputmode: "decimal", "aria-label": `${side} bound, percent`,
    value: line.bounded[side === "lowest" ? 0 : 1] ? percentText(line[side === "lowest" ? "low" : "high"]) : "",
    placeholder: side === "lowest" ? "0" : "100",
  });
  const low = box("lowest");
  const high = box("highest");
  const put = () => view.edit({ do: "bound", id: row.id, low: low.value, high: high.value });
  for (const control of [low, high]) {
    control.addEventListener("change", put);
    control.addEventListener("keydown", (event) => { if (event.key === "Enter") control.blur(); });
  }
  return h("div", { class: "lk-part" }, h("b", { text: "Keep between" }), low, h("span", { text: "and" }), high, h("span", { text: "%" }));
}

function placePart(view, row) {
  const line = view.lineOf(row.id);
  const select = h("select", { "aria-label": "Phase" },
    ...view.state.phases.map((p) => h("option", { value: p.key, text: p.title ? `${p.key} · ${p.title}` : p.key })),
    h("option", { value: "", text: "new phase …" }));
  select.value = line.phase;
  const fresh = h("input", { type: "text", class: "lk-fresh", "aria-label": "Name of the new phase", placeholder: "name", hidden: true });
  const put = (key) => { if (key.trim()) { closeMenu(view); view.edit({ do: "move", id: row.id, move: { kind: "place", phase: key.trim() } }); } };
  select.addEventListener("change", () => {
    if (select.value) put(select.value);
    else { fresh.hidden = false; fresh.focus(); }
  });
  fresh.addEventListener("keydown", (event) => { if (event.key === "Enter") put(fresh.value); });
  const button = (label, name, by) => h("button", { "aria-label": label, title: label, on: { click: () => placeLine(view, row.id, by) } }, icon(name));
  return h("div", { class: "lk-part" }, h("b", { text: "Phase" }), select, fresh,
    button("One line up", "up", -1), button("One line down", "down", 1));
}

function replacePart(view, row) {
  return h("div", { class: "lk-part" }, h("b", { text: "Replace by" }), searchBox(view, {
    label: "Replace by another material",
    pick: (found) => {
      closeMenu(view);
      view.edit({ do: "move", id: row.id, move: { kind: "swap", to: found.name, key: found.key || null } });
    },
  }));
}

function notePart(view, row) {
  const note = h("input", { type: "text", class: "lk-linenote", "aria-label": "Note on this line", maxlength: "300" });
  note.value = view.lineOf(row.id).note;
  const put = () => {
    if (note.value !== view.lineOf(row.id).note) view.edit({ do: "move", id: row.id, move: { kind: "note", to: note.value } });
  };
  note.addEventListener("change", put);
  return h("div", { class: "lk-part" }, h("b", { text: "Note" }), note);
}

function endPart(view, row) {
  const act = (text, move, off) => h("button", {
    class: "lk-word", disabled: off, text,
    on: { click: () => { closeMenu(view); view.edit({ do: "move", id: row.id, move }); } },
  });
  const rest = row.id === view.state.qs;
  const wider = h("button", { class: "lk-word", text: "Longer rule", on: { click: () => { view.setScale(row, row.scale + 1); view.paintAll(); } } });
  const offered = (view.state.neutralise || []).includes(row.id);
  const neutral = h("button", {
    class: "lk-word", text: "Neutralise", hidden: !offered,
    title: "Adds the base or acid it wants, as one step; check by titration",
    on: { click: () => { closeMenu(view); view.edit({ do: "neutralise", id: row.id }); } },
  });
  return h("div", { class: "lk-part lk-acts" }, neutral, act("Take the rest (q.s.)", { kind: "qs" }, rest), wider,
    act("Remove line", { kind: "remove" }, rest));
}
