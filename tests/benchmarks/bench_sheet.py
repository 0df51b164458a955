"""How fast the mixing sheet follows the hand, beside its floor and its peer.

    python -m tests.benchmarks.bench_sheet [--runs 3] [--stock]

In one JupyterLab and one Chromium: the sheet with everything on, a page of pure
JavaScript sliders and one that asks Python nothing but an echo (the floors: nothing can
be faster), and the same rows built from plain ipywidgets (the peer). A real mouse drags
one slider; times run from the input event to the frame in which the answer is painted.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.browser.lab import (
    CHROMIUM_ARGS,
    NO_DELAY,
    Lab,
    chromium,
    open_notebook,
    run_code,
    write_notebook,
)

STEPS = 60
INTERVAL = 0.016
SHEET = '''
import labkit as lk
mats = lk.Materials.starter()
brief = lk.Brief(product="hand cream", ph=(4.8, 5.6), batch="250 g", fill="50 g")
cream = lk.Formula.parse("""phase,material,percent
A,Aqua,q.s.
A,Glycerin,4
A,Betaine,1.5
A,Xanthan Gum,0.3
A,Disodium EDTA,0.1
B,Shea Butter,5
B,Cetearyl Alcohol,3
B,Caprylic/Capric Triglyceride,6
B,Squalane,2
B,Glyceryl Stearate,2.5
B,PEG-100 Stearate,1.5
B,Tocopherol,0.2
C,Sodium Benzoate,0.45
C,Potassium Sorbate,0.3
C,Citric Acid,0.25
C,Panthenol,1
C,Lactic Acid,0.2
C,Sodium Lactate,1.2
C,Allantoin,0.2
C,Parfum,0.3""", name="Hand cream")
bench = lk.Bench.open("bench.db")
first = bench.record(cream, mats=mats)
'''
SIXTY = """
import labkit as lk
row = "{},Extract {},{:.2f}\\n"
rows = "".join(row.format("ABCD"[i // 15], i + 1, 0.1 + 0.05 * (i % 9)) for i in range(59))
sixty = lk.Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\n" + rows, name="Sixty")
sixty = sixty.move("Extract 1", "4 %")
sheet = lk.tune(sixty)
sheet
"""
FLOOR = '''
from IPython.display import HTML
HTML("""<div id="floor"></div><script>
const box = document.getElementById("floor"), rows = [];
for (let i = 0; i < 20; i++) {
  const row = document.createElement("div"), text = document.createElement("span");
  const slider = Object.assign(document.createElement("input"),
    {type: "range", min: 0, max: 10, step: 0.01, value: 4, className: "f" + i});
  slider.style.width = "300px";
  row.append(slider, text); box.append(row); rows.push({slider, text});
  slider.addEventListener("input", () => {
    const rest = 100 - rows.slice(1).reduce((s, r) => s + Number(r.slider.value), 0);
    rows[0].text.textContent = rest.toFixed(2);
    text.textContent = Number(slider.value).toFixed(2);
    total.textContent = "100.00"; echo.textContent = slider.value;
  });
}
const total = document.createElement("b"), echo = document.createElement("i");
total.className = "total"; echo.className = "echo"; box.append(total, echo);
</script>""")
'''
ECHO = '''
import anywidget
class Echo(anywidget.AnyWidget):
    _esm = """
    function render({ model, el }) {
      const slider = Object.assign(document.createElement("input"),
        {type: "range", min: 0, max: 10, step: 0.01, value: 4, className: "e1"});
      const read = document.createElement("b");
      slider.style.width = "300px";
      el.id = "echo"; el.append(slider, read);
      let seq = 0, flight = false, next = false;
      const send = () => { flight = true; next = false; model.send({ seq, value: slider.value }); };
      slider.addEventListener("input", () => {
        el.dataset.sent = seq += 1;
        if (flight) next = true; else send();
      });
      model.on("msg:custom", m => {
        el.dataset.heard = m.seq; read.textContent = m.value; flight = false;
        if (next) send();
      });
    }
    export default { render };
    """
echo = Echo()
echo.on_msg(lambda widget, content, buffers: widget.send(content))
echo
'''
PEER = """
import ipywidgets as W
sliders = [W.FloatSlider(value=4.0 if i else 24.0, min=0, max=10 if i else 100, step=0.01,
                         layout=W.Layout(width="400px")) for i in range(20)]
for i, s in enumerate(sliders): s.add_class(f"p{i}")
texts = [W.FloatText(value=s.value, layout=W.Layout(width="90px")) for s in sliders]
total, echo = W.Label("100.00").add_class("total"), W.Label("").add_class("echo")
busy = False
def moved(change, i):
    global busy
    if busy: return
    busy = True
    sliders[0].value = round(100 - sum(s.value for s in sliders[1:]), 2)
    for s, t in zip(sliders, texts): t.value = s.value
    total.value = f"{sum(s.value for s in sliders):.2f}"
    echo.value = f"{sliders[i].value:.2f}"
    busy = False
for i, s in enumerate(sliders[1:], 1): s.observe(lambda c, i=i: moved(c, i), "value")
W.VBox([*(W.HBox([s, t]) for s, t in zip(sliders, texts)), total, echo])
"""
SLOW = """
import time
real = sheet._forecaster
class Slow:
    mats, brief, along = real.mats, real.brief, staticmethod(real.along)
    evaluator = staticmethod(real.evaluator)
    def __call__(self, formula):
        time.sleep(0.3)
        return real(formula)
sheet._forecaster = Slow()
"""
MEASURE = """cfg => {
  const q = css => document.querySelector(css);
  const number = e => e ? parseFloat(
    e.value !== undefined && e.tagName === 'INPUT' ? e.value
    : e.getAttribute('aria-valuenow') ?? e.textContent) : null;
  const look = () => ({ echo: number(q(cfg.echo)), read: q(cfg.read)?.textContent ?? '',
    heard: Number(q(cfg.root)?.dataset.heard ?? 0) });
  const m = window.__m = { steps: [], paints: [], on: true };
  let last = number(q(cfg.value)), pending = false;
  const step = t => { const v = number(q(cfg.value));
    if (v === last) return;
    last = v;
    m.steps.push({ t, v, needs: Number(q(cfg.root)?.dataset.sent) }); };
  window.addEventListener('pointermove', e => {
    if (m.on) { const t = e.timeStamp; setTimeout(() => step(t), 0); } }, true);
  window.addEventListener('keydown', e => { if (m.on) step(e.timeStamp); });
  const painted = act => requestAnimationFrame(() => {
    const c = new MessageChannel();
    c.port1.onmessage = () => act(performance.now()); c.port2.postMessage(0); });
  new MutationObserver(() => { if (!m.on || pending) return; pending = true;
    painted(t => { pending = false; m.paints.push({ t, ...look() }); }); })
    .observe(q(cfg.root),
      { subtree: true, childList: true, characterData: true, attributes: true });
}"""

Times = dict[str, Any]


def drag(page: Any, css: str, act: Callable[[int, float, float], None] | None = None) -> Times:
    """Sixty steps of two pixels under the real mouse; steps and paints as the page saw them."""
    place = page.locator(css).first
    place.scroll_into_view_if_needed()
    x, y = place.evaluate(
        """e => { const b = e.getBoundingClientRect();
          if (!e.matches('input')) return [b.x + b.width / 2, b.y + b.height / 2];
          const th = 12, f = (e.value - e.min) / (e.max - e.min);
          return [b.x + th / 2 + f * (b.width - th), b.y + b.height / 2]; }"""
    )
    page.mouse.move(x, y)
    page.mouse.down()
    page.wait_for_timeout(400)
    begin = time.perf_counter()
    for n in range(1, STEPS + 1):
        page.mouse.move(x + 2 * n, y)
        left = begin + n * INTERVAL - time.perf_counter()
        if left > 0:
            time.sleep(left)
    page.mouse.up()
    return collect(page)


def keys(page: Any, css: str) -> Times:
    """Sixty presses of an arrow key."""
    page.locator(css).first.focus()
    for _ in range(STEPS):
        page.keyboard.press("ArrowRight")
        time.sleep(2 * INTERVAL)
    return collect(page)


def collect(page: Any) -> Times:
    """Wait until nothing is painted for half a second."""
    count, quiet = -1, time.monotonic()
    end = time.monotonic() + 60
    while time.monotonic() < end and time.monotonic() - quiet < 0.5:
        now = page.evaluate("() => __m.paints.length")
        if now != count:
            count, quiet = now, time.monotonic()
        page.wait_for_timeout(40)
    found: Times = page.evaluate("() => { __m.on = false; return __m; }")
    return found


def shown(times: Times, tolerance: float = 0.0051) -> tuple[list[float], int]:
    """From each step to the paint that shows its value, or a later one where it was skipped.

    The second figure counts the values that were never shown.
    """
    delays, lost = [], 0
    for n, step in enumerate(times["steps"]):
        after = [p for p in times["paints"] if p["t"] >= step["t"] and p["echo"] is not None]
        wanted = [later["v"] for later in times["steps"][n:]]
        lost += not any(abs(p["echo"] - step["v"]) <= tolerance for p in after)
        answers = [
            p["t"] - step["t"]
            for p in after
            if any(abs(p["echo"] - v) <= tolerance for v in wanted)
        ]
        delays.extend(answers[:1])
    return delays, lost


def changed(times: Times, name: str) -> list[float]:
    """From each step to the next paint in which something had changed."""
    delays, paints = [], times["paints"]
    for step in times["steps"]:
        before = [p for p in paints if p["t"] < step["t"]]
        old = before[-1][name] if before else None
        later = [p["t"] - step["t"] for p in paints if p["t"] >= step["t"] and p[name] != old]
        delays.extend(later[:1])
    return delays


def confirmed(times: Times) -> list[float]:
    """From each step to the paint after Python's answer to it or to a newer one."""
    return [
        next(p["t"] - step["t"] for p in times["paints"] if p["heard"] >= step["needs"])
        for step in times["steps"]
    ]


def spread(delays: list[float]) -> tuple[float, float]:
    """Median and 95th percentile, in ms."""
    ordered = sorted(delays) or [float("nan")]
    return statistics.median(ordered), ordered[min(len(ordered) - 1, int(0.95 * len(ordered)))]


def told(name: str, runs: list[list[float]], extra: str = "") -> None:
    """One line: the median of the runs' p50 and p95."""
    pairs = [spread(run) for run in runs]
    p50, p95 = (statistics.median(pair[k] for pair in pairs) for k in (0, 1))
    print(f"{name:44s} p50 {p50:6.0f} ms   p95 {p95:6.0f} ms   {extra}")


def measured(page: Any, lab: Lab, name: str, config: dict[str, str], runs: int) -> list[Times]:
    """The same drag several times, each on a notebook opened anew."""
    found = []
    for _ in range(runs):
        open_notebook(page, lab, name)
        page.wait_for_selector(config["root"])
        page.wait_for_timeout(500)
        page.evaluate(MEASURE, config)
        found.append(drag(page, config["slider"]))
    return found


def sheet_config(n: int) -> dict[str, str]:
    """Where the n-th line of a sheet shows what it does."""
    row = f'.lk-row[data-line="{n}"]'
    return {
        "root": ".lk-sheet",
        "slider": f"{row} .lk-slider",
        "value": f"{row} .lk-slider",
        "echo": f"{row} .lk-box",
        "read": '[data-read="water"] .lk-read-value',
    }


def report_sheet(name: str, found: list[Times]) -> None:
    """Rows, read-outs that follow, read-outs that are confirmed."""
    rows = [shown(t) for t in found]
    steps = ", ".join(f"{lost}/{len(t['steps'])}" for (_, lost), t in zip(rows, found, strict=True))
    told(f"{name}: rows and total", [r[0] for r in rows], f"lost {steps}")
    told(f"{name}: read-outs that follow", [changed(t, "read") for t in found])
    told(f"{name}: read-outs confirmed", [confirmed(t) for t in found])


def machine() -> float:
    """What a fixed loop takes now [ms], so that figures of two runs can be compared."""
    begin = time.perf_counter()
    sum(i * i for i in range(1_000_000))
    return (time.perf_counter() - begin) * 1000


def many(page: Any, lab: Lab, sheets: int = 30) -> None:
    """Thirty sheets on one page: how long it opens, how one of them drags."""
    show = "from IPython.display import display\nfor _ in range(10): display(lk.tune(cream, mats))"
    write_notebook(lab.root / "many.ipynb", [SHEET, *[show] * (sheets // 10)])
    begin = time.perf_counter()
    open_notebook(page, lab, "many.ipynb")
    page.wait_for_function(f"() => document.querySelectorAll('.lk-sheet').length === {sheets}")
    print(f"{f'{sheets} sheets on one page: open':44s} {time.perf_counter() - begin:.1f} s")
    page.evaluate(MEASURE, sheet_config(1))
    report_sheet(f"{sheets} sheets", [drag(page, sheet_config(1)["slider"])])


def run(page: Any, lab: Lab, runs: int, *, stock: bool) -> None:
    """All measurements on one server; the floors come first and warm the page up."""
    books = {"sheet": [SHEET, "sheet = lk.tune(first, mats, bench=bench, brief=brief)\nsheet"],
             "sixty": [SIXTY], "floor": [FLOOR], "echo": [ECHO], "peer": [PEER]}  # fmt: skip
    for name, cells in books.items():
        write_notebook(lab.root / f"{name}.ipynb", cells)
    row = {"root": "#floor", "slider": ".f3", "value": ".f3", "echo": "#floor .echo",
           "read": "#floor .total"}  # fmt: skip
    floor = [shown(t) for t in measured(page, lab, "floor.ipynb", row, runs)]
    told("floor: pure JavaScript", [d for d, _ in floor], f"lost {[n for _, n in floor]}")
    empty = {"root": "#echo", "slider": ".e1", "value": ".e1", "echo": ".e1", "read": "#echo b"}
    there_and_back = measured(page, lab, "echo.ipynb", empty, runs)
    told("floor: an empty question to Python", [confirmed(t) for t in there_and_back])
    report_sheet("sheet, 20 lines", measured(page, lab, "sheet.ipynb", sheet_config(1), runs))
    if stock:
        return
    handle = ".p3 .noUi-handle"
    peer_page = {"root": ".jp-OutputArea-output .widget-vbox", "slider": handle, "value": handle,
                 "echo": ".echo", "read": ".total"}  # fmt: skip
    peer = [shown(t) for t in measured(page, lab, "peer.ipynb", peer_page, runs)]
    told("peer: plain ipywidgets rows", [d for d, _ in peer], f"lost {[n for _, n in peer]}")
    report_sheet("sheet, 60 lines", measured(page, lab, "sixty.ipynb", sheet_config(1), runs))
    open_notebook(page, lab, "sheet.ipynb", run=True)
    page.wait_for_selector(".lk-sheet")
    page.evaluate(MEASURE, sheet_config(1))
    pressed = keys(page, sheet_config(1)["slider"])
    delays, lost = shown(pressed)
    told(
        "arrow keys",
        [delays],
        f"{len(pressed['steps'])} of {STEPS} counted, {len(pressed['steps']) - lost} painted",
    )
    run_code(page, SLOW)
    page.evaluate(MEASURE, sheet_config(2))
    report_sheet("sheet, kernel slowed by 300 ms", [drag(page, sheet_config(2)["slider"])])
    many(page, lab)


def main() -> None:
    """Print every figure with its peer."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--runs", type=int, default=3)
    options.add_argument("--stock", action="store_true", help="a server as it ships")
    chosen = options.parse_args()
    from playwright.sync_api import sync_playwright

    extra = () if chosen.stock else (NO_DELAY,)
    with tempfile.TemporaryDirectory() as folder, Lab(Path(folder), *extra) as lab:
        print("server as it ships" if chosen.stock else "server with the no-delay websocket")
        print(f"a fixed loop takes {machine():.0f} ms before the first drag")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium(), args=CHROMIUM_ARGS)
            page = browser.new_page(viewport={"width": 1500, "height": 1000})
            run(page, lab, chosen.runs, stock=chosen.stock)
            browser.close()
        print(f"a fixed loop takes {machine():.0f} ms after the last one")


if __name__ == "__main__":
    main()
