// The mixing sheet: put together, opened, and cleared away again.

function buildView(view, el) {
  view.root = h("div", { class: "lk-sheet", role: "group", "aria-label": `Mixing sheet ${view.state.name}`, "data-sheet": view.state.sheet });
  view.header = buildHeader(view);
  view.lines = h("div", { class: "lk-lines" });
  view.total = h("span", { class: "lk-total" });
  view.totalGrams = h("span", { class: "lk-total-grams" });
  const columns = h("div", { class: "lk-columns", "aria-hidden": "true" },
    ...[["", "lk-c1"], ["", "lk-c2"], ["", "lk-c3"], ["% w/w", "lk-c4"], ["change", "lk-c5"], ["g", "lk-c6"]]
      .map(([text, name]) => h("span", { class: name, text })));
  const foot = h("div", { class: "lk-totals" }, h("span", { class: "lk-total-word", text: "total" }), view.total, view.totalGrams);
  const footer = buildFooter(view);
  view.bench = h("div", { class: "lk-bench" });
  buildLens(view);
  view.bench.append(columns, view.lines, foot, buildAdding(view), view.lens, view.plumb);
  view.live = h("div", { class: "lk-voice", "aria-live": "polite", role: "status" });
  view.root.append(view.header, view.draft, h("div", { class: "lk-body" }, view.bench, buildReadouts(view)), footer, view.live);
  view.speak = debounce((words) => setText(view.live, words), 600);
  view.root.addEventListener("keydown", (event) => sheetKey(view, event));
  view.root.addEventListener("pointermove", () => view.root.classList.remove("lk-keys"), { passive: true });
  el.append(view.root);
  hideAside(view.state.sheet);
  view.resized = new ResizeObserver(() => { openAround(view.root); fitNames(view); hangPlumb(view); paintLens(view); });
  view.resized.observe(view.root);
}

// Undo and redo from the keyboard, except inside a text that is being edited.
function sheetKey(view, event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const key = event.key.toLowerCase();
  const editing = event.target.matches("textarea, input[type=text]") && event.target.value !== event.target.defaultValue
    && !event.target.classList.contains("lk-box");
  if (editing || (key !== "z" && key !== "y")) return;
  event.preventDefault();
  event.stopPropagation();
  view.edit({ do: key === "y" || event.shiftKey ? "redo" : "undo" });
}

function render({ model, el }) {
  const view = createView(model, el);
  return () => {
    closeMenu(view);
    clearTimeout(view.keyTimer);
    view.lookAhead.cancel();
    view.resized.disconnect();
    view.link.close();
  };
}

export default { render };
