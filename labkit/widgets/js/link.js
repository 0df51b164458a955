// The line to Python: one edit in flight, the newest of a gesture wins, and a lost
// line is said in words.

const SLOW_MS = 700;
const LOST_MS = 5000;
const GONE = new Set(["restarting", "autorestarting", "dead", "terminating"]);

// handlers: reply(message, mine, latest), sent(seq), heard(seq), status(live, waiting or lost).
function createLink(model, handlers) {
  const link = {
    client: Math.random().toString(36).slice(2, 10),
    model, handlers, queue: [], flight: null, seq: 0, state: "waiting", timers: [],
  };
  const onMessage = (message) => received(link, message);
  const onClose = () => setStatus(link, "lost");
  model.on("msg:custom", onMessage);
  model.on("comm:close", onClose);
  const unwatch = watchKernel(link);
  link.close = () => {
    model.off("msg:custom", onMessage);
    model.off("comm:close", onClose);
    unwatch();
    clearTimers(link);
  };
  return link;
}

// Edits of one gesture replace each other; all others keep their turn.
function pushEdit(link, edit) {
  if (link.state === "lost") return;
  const last = link.queue[link.queue.length - 1];
  if (last && edit.gesture && last.gesture === edit.gesture) link.queue.pop();
  link.queue.push(edit);
  flush(link);
  link.handlers.sent(link.seq + link.queue.length);
}

// A question that changes nothing (a search, a range): beside the edits.
function ask(link, question) {
  if (link.state !== "lost") post(link, question);
}

// A kernel that is just going away refuses the message; its status says the rest.
function post(link, message) {
  try {
    link.model.send({ client: link.client, ...message });
  } catch {
    setStatus(link, "lost");
  }
}

function isIdle(link) {
  return !link.flight && !link.queue.length;
}

function flush(link) {
  if (link.flight || !link.queue.length || link.state === "lost") return;
  link.flight = link.queue.shift();
  link.seq += 1;
  startTimers(link);
  post(link, { seq: link.seq, ...link.flight });
}

function received(link, message) {
  const mine = message.client === link.client;
  if (mine && message.seq === link.seq && link.flight) {
    link.flight = null;
    clearTimers(link);
    setStatus(link, "live");
    link.handlers.heard(message.seq);
  }
  link.handlers.reply(message, mine, !link.flight && !link.queue.length);
  flush(link);
}

function startTimers(link) {
  clearTimers(link);
  link.timers = [
    setTimeout(() => setStatus(link, "waiting"), SLOW_MS),
    setTimeout(() => giveUp(link), LOST_MS),
  ];
}

function clearTimers(link) {
  link.timers.forEach(clearTimeout);
  link.timers = [];
}

// No answer: while the notebook works on another cell it is only late.
function giveUp(link) {
  const kernel = kernelOf(link.model);
  const busy = kernel && kernel.status === "busy" && kernel.connectionStatus === "connected";
  if (!busy) return setStatus(link, "lost");
  link.timers = [setTimeout(() => giveUp(link), LOST_MS)];
}

function setStatus(link, state) {
  if (link.state === state) return;
  if (state === "lost") {
    clearTimers(link);
    link.flight = null;
    link.queue = [];
  }
  link.state = state;
  link.handlers.status(state);
}

function kernelOf(model) {
  try {
    return model.widget_manager.kernel || null;
  } catch {
    return null;
  }
}

function watchKernel(link) {
  const kernel = kernelOf(link.model);
  if (!kernel || !kernel.statusChanged) return () => {};
  const onStatus = (_, status) => { if (GONE.has(status)) setStatus(link, "lost"); };
  const onWire = (_, status) => {
    if (status === "disconnected") setStatus(link, "lost");
    else if (status === "connected" && link.state === "lost") greetAgain(link);
  };
  kernel.statusChanged.connect(onStatus);
  kernel.connectionStatusChanged.connect(onWire);
  return () => {
    kernel.statusChanged.disconnect(onStatus);
    kernel.connectionStatusChanged.disconnect(onWire);
  };
}

// After a break in the wire the same Python may answer; a restarted one will not.
function greetAgain(link) {
  link.seq += 1;
  link.flight = { do: "hello" };
  post(link, { seq: link.seq, do: "hello" });
}
