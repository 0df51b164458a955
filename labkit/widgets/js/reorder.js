// Reordering: drag the grip, Ctrl with an arrow key on the slider, or the line's menu.

// Move a line by one place; past the end of its phase it joins the next phase.
function placeLine(view, id, by) {
  const lines = view.state.lines;
  const i = view.indexOf(id);
  const to = i + by;
  if (to < 0 || to >= lines.length) return;
  const crossing = lines[to].phase !== lines[i].phase;
  const move = { kind: "place", phase: lines[to].phase, position: crossing ? i : to };
  view.edit({ do: "move", id, move });
}

function attachGrip(view, row) {
  let over = null;
  const mark = (target, after) => {
    if (over) over.row.element.classList.remove("lk-drop-before", "lk-drop-after");
    over = target ? { row: target, after } : null;
    if (target) target.element.classList.add(after ? "lk-drop-after" : "lk-drop-before");
  };
  row.grip.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || view.link.state === "lost") return;
    event.preventDefault();
    row.grip.setPointerCapture(event.pointerId);
    row.element.classList.add("lk-carried");
    row.carried = true;
  });
  row.grip.addEventListener("pointermove", (event) => {
    if (!row.carried) return;
    const found = rowAt(view, event.clientY);
    mark(found && found.row !== row ? found.row : null, found && found.after);
  });
  const drop = (event) => {
    if (!row.carried) return;
    row.carried = false;
    row.element.classList.remove("lk-carried");
    const target = over;
    mark(null);
    if (target && event.type === "pointerup") dropLine(view, row.id, target);
  };
  row.grip.addEventListener("pointerup", drop);
  row.grip.addEventListener("pointercancel", drop);
}

function rowAt(view, y) {
  for (const row of view.rows.values()) {
    const box = row.element.getBoundingClientRect();
    if (y >= box.top && y <= box.bottom) return { row, after: y > (box.top + box.bottom) / 2 };
  }
  return null;
}

function dropLine(view, id, target) {
  const from = view.indexOf(id);
  let to = view.indexOf(target.row.id) + (target.after ? 1 : 0);
  if (to > from) to -= 1;
  const phase = view.lineOf(target.row.id).phase;
  if (to === from && phase === view.lineOf(id).phase) return;
  view.edit({ do: "move", id, move: { kind: "place", phase, position: to } });
}
