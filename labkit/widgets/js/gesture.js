// One gesture of the hand: every position is computed from where it began.

// The unlocked lines that give way when line i moves; empty with the reason why.
function giversOf(state, i) {
  const lines = state.lines;
  if (lines[i].locked) return { givers: [], why: "locked" };
  let chosen;
  if (state.give === "qs") {
    if (lines[i].id === state.qs) return { givers: [], why: "takes the rest" };
    chosen = lines.flatMap((x, k) => (x.id === state.qs ? [k] : []));
  } else if (state.give === "phase") {
    chosen = lines.flatMap((x, k) => (x.phase === lines[i].phase ? [k] : []));
  } else if (state.give === "all") {
    chosen = lines.map((_, k) => k);
  } else {
    chosen = lines.flatMap((x, k) => (state.chosen.includes(x.id) ? [k] : []));
  }
  const givers = chosen.filter((k) => k !== i && !lines[k].locked);
  return { givers, why: givers.length ? "" : "no line is left that can give way" };
}

// What line i can reach now: [low, high] in grid units, and why if nothing.
function rangeOf(state, units, i) {
  const { givers, why } = giversOf(state, i);
  if (!givers.length) return { low: units[i], high: units[i], givers, why };
  const low = state.lines.map((x) => x.low);
  const high = state.lines.map((x) => x.high);
  const [lowest, highest] = reachOf(units, low, high, i, givers);
  return { low: lowest, high: highest, givers, why: "" };
}

function beginGesture(view, id) {
  const i = view.indexOf(id);
  const range = rangeOf(view.state, view.units, i);
  view.gestures += 1;
  view.gesture = {
    key: `${view.link.client}-${view.gestures}`,
    id, i, range,
    origin: view.units.slice(),
    any: false,
  };
  return view.gesture;
}

// Take the gesture's line to `wanted` and show it.
function moveTo(view, wanted) {
  if (aimAt(view, wanted)) view.paintUnits();
}

// Compute and send, without painting; stops at the reachable ends. False if nothing moved.
function aimAt(view, wanted) {
  const { i, origin, range } = view.gesture;
  const lines = view.state.lines;
  const held = Math.max(range.low, Math.min(range.high, wanted));
  view.gesture.stopped = held !== wanted ? held : null;
  if (!range.givers.length || held === view.units[i]) return false;
  const low = lines.map((x) => x.low);
  const high = lines.map((x) => x.high);
  view.units = rebalance(origin, low, high, i, range.givers, held, view.state.rank);
  sendGesture(view, false);
  return true;
}

function sendGesture(view, final) {
  const { id, i, key } = view.gesture;
  view.gesture.any = true;
  view.confirmed = false;
  pushEdit(view.link, {
    do: "move", id, gesture: key, final,
    move: { kind: "set", percent: (view.units[i] / 10000).toFixed(4) },
  });
}

// The hand lets go: the last position is always sent.
function endGesture(view) {
  if (!view.gesture) return;
  if (view.gesture.any) sendGesture(view, true);
  view.gesture = null;
  paintMark(view);
  view.afterGesture();
}

function cancelGesture(view) {
  if (!view.gesture) return;
  view.units = view.gesture.origin;
  if (view.gesture.any) pushEdit(view.link, { do: "cancel", gesture: view.gesture.key });
  view.gesture = null;
  view.paintUnits();
  view.afterGesture();
}
