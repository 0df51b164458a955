// The engraved rule of a row: where it ends, how fine it steps.

const ENDS = [1, 2, 5];

// The smallest 1-2-5 number that is at least `units`.
function niceAbove(units) {
  let power = 1;
  while (power * 10 < units) power *= 10;
  for (const end of ENDS) if (end * power >= units) return end * power;
  return power * 10;
}

function niceBelow(units) {
  if (units <= 1) return 1;
  const above = niceAbove(units);
  if (above === units) return above;
  const lead = String(above)[0];
  return lead === "5" ? above * 2 / 5 : above / 2;
}

// End of a new row's rule: room for twice the share, the marked value and the bounds.
function scaleFor(line) {
  const bound = line.bounded[1] ? line.high : 0;
  const wanted = Math.max(line.units * 1.6, (line.was || 0) * 1.25, bound, 5000);
  return Math.min(TOTAL, niceAbove(wanted));
}

function scaleHolding(scale, units) {
  return units <= scale ? scale : Math.min(TOTAL, niceAbove(units * 1.25));
}

// One arrow key; Shift makes it ten times larger, Alt ten times smaller.
function keyStep(scale, event) {
  const step = Math.max(1, Math.round(scale / 100));
  if (event.shiftKey) return step * 10;
  return event.altKey ? Math.max(1, Math.round(step / 10)) : step;
}

// The step of a dragged slider: no coarser than what one pixel can show.
function dragStep(scale, pixels) {
  return niceBelow(Math.max(1, scale / Math.max(60, pixels)));
}
