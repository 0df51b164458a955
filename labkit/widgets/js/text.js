// Numbers as they are written and read on the sheet.

// Grid units as percent text: two decimals, more only where they say something.
function percentText(units) {
  const text = (units / 10000).toFixed(4);
  return text.endsWith("00") ? text.slice(0, -2) : text.replace(/0$/, "");
}

// How many places stand after the decimal sign; the column is aligned by it.
function places(text) {
  const at = text.indexOf(".");
  return at < 0 ? 0 : text.length - at - 1;
}

// A typed share in grid units, or null where only Python can say what is wrong.
function readUnits(text) {
  const match = /^\s*(\d{1,3})?(?:[.,](\d{1,4}))?\s*%?\s*$/.exec(text);
  if (!match || (match[1] === undefined && match[2] === undefined)) return null;
  const whole = Number(match[1] || 0) * 10000;
  const units = whole + Number((match[2] || "").padEnd(4, "0"));
  return units <= TOTAL ? units : null;
}

const TOTAL = 1000000;

function signedText(units) {
  if (units === 0) return "";
  return (units > 0 ? "+" : "−") + percentText(Math.abs(units));
}

// Grams for the batch, with as many decimals as the balance shows.
function gramsText(units, batchG, balanceG) {
  const decimals = Math.max(0, Math.min(4, Math.ceil(-Math.log10(balanceG) - 1e-9)));
  return (units * batchG / TOTAL).toFixed(decimals);
}

function plainNumber(value) {
  return String(Number(value.toPrecision(6)));
}

// A read-out's value with its digits; thin groups in long numbers.
function valueText(value, digits) {
  if (value === null || value === undefined || Number.isNaN(value)) return "–";
  const text = value.toFixed(digits);
  const [whole, part] = text.split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+(?!\d))/g, "\u2009");
  return part === undefined ? grouped : `${grouped}.${part}`;
}

function refusalWords(refusal) {
  const parts = [refusal.found, refusal.allowed, refusal.cause, refusal.do].filter(Boolean);
  return parts.map((p) => (/[.?!]$/.test(p.trim()) ? p.trim() : `${p.trim()}.`)).join(" ");
}
