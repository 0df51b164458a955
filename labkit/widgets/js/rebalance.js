// How the other lines give way when one line moves: the same whole-number
// arithmetic as labkit/formula/rebalance.py, 1 unit = 0.0001 %, 100 % = 1 000 000.
// Both are held to tests/formula/rebalance_vectors.json.

function sumOf(values) {
  return values.reduce((sum, value) => sum + value, 0);
}

// Lowest and highest amount that `line` can take while `givers` make room.
function reachOf(units, low, high, line, givers) {
  const down = sumOf(givers.map((i) => units[i] - low[i]));
  const up = sumOf(givers.map((i) => high[i] - units[i]));
  return [Math.max(low[line], units[line] - up), Math.min(high[line], units[line] + down)];
}

// Water-filling: share `total` out in proportion to `weights`, inside bounds.
function shareOut(weights, low, high, total, rank) {
  if (total < sumOf(low) || total > sumOf(high)) {
    throw new RangeError("the total lies outside what the bounds allow");
  }
  const result = weights.map(() => 0);
  let free = weights.map((_, i) => i);
  let left = total;
  while (free.length) {
    const { share, whole } = sharesOf(weights, free);
    const over = free.filter((i) => share[i] * left > high[i] * whole);
    const under = free.filter((i) => share[i] * left < low[i] * whole);
    if (!over.length && !under.length) {
      roundOut(result, free, share, left, whole, rank);
      return result;
    }
    const excess = sumOf(over.map((i) => share[i] * left - high[i] * whole));
    const lack = sumOf(under.map((i) => low[i] * whole - share[i] * left));
    const pinned = lack === excess ? over.concat(under) : lack > excess ? under : over;
    for (const i of pinned) {
      result[i] = under.includes(i) ? low[i] : high[i];
      left -= result[i];
    }
    free = free.filter((i) => !pinned.includes(i));
  }
  return result;
}

function sharesOf(weights, free) {
  const share = weights.slice();
  let whole = sumOf(free.map((i) => share[i]));
  if (whole === 0) {
    for (const i of free) share[i] = 1;
    whole = free.length;
  }
  return { share, whole };
}

// Units left by rounding go to the largest remainders, ties by rank.
function roundOut(result, free, share, left, whole, rank) {
  const remainder = {};
  for (const i of free) {
    const exact = share[i] * left;
    remainder[i] = exact % whole;
    result[i] = (exact - remainder[i]) / whole;
  }
  const missing = left - sumOf(free.map((i) => result[i]));
  const order = free.slice().sort((a, b) => remainder[b] - remainder[a] || rank[a] - rank[b]);
  for (const i of order.slice(0, missing)) result[i] += 1;
}

// All lines after `line` has been taken to `wanted` units.
function rebalance(units, low, high, line, givers, wanted, rank) {
  const rest = sumOf(givers.map((i) => units[i])) + units[line] - wanted;
  const pick = (values) => givers.map((i) => values[i]);
  const shared = shareOut(pick(units), pick(low), pick(high), rest, pick(rank));
  const next = units.slice();
  next[line] = wanted;
  givers.forEach((i, k) => { next[i] = shared[k]; });
  return next;
}
