// What the boards share: a link to Python, one state, drawn anew when it changes.

function createBoard({ model, el }, label, draw) {
  const board = { model, state: model.get("_state") };
  board.root = h("div", { class: "lk-sheet lk-board", role: "group", "aria-label": label });
  board.status = h("div", { class: "lk-status", role: "status" });
  board.body = h("div");
  board.root.append(board.status, board.body);
  const redraw = () => draw(board);
  board.link = createLink(model, {
    reply: (message, mine, latest) => {
      if (message.kind !== "state" || (mine && !latest)) return;
      if (message.state) board.take(message.state);
    },
    sent: () => {}, heard: () => {},
    status: (state) => {
      setText(board.status, { live: "", waiting: "waiting for the notebook", lost: "not connected: run the cell again" }[state]);
      board.status.dataset.state = state;
    },
  });
  board.take = (state) => {
    const fresh = JSON.stringify(state);
    if (fresh === board.drawn) return;
    board.drawn = fresh;
    board.state = state;
    redraw();
  };
  board.edit = (edit) => pushEdit(board.link, edit);
  const onState = () => board.take(model.get("_state"));
  model.on("change:_state", onState);
  board.close = () => {
    model.off("change:_state", onState);
    board.link.close();
  };
  el.append(board.root);
  hideAside(board.state.sheet);
  board.take(board.state);
  board.edit({ do: "hello" });
  return board;
}

function choice(label, options, value, put) {
  const select = h("select", { "aria-label": label, on: { change: () => put(select.value) } },
    ...options.map(([v, text]) => h("option", { value: v, text })));
  select.value = value;
  return h("label", { class: "lk-field" }, h("span", { text: label }), select);
}
