"""The mixing sheet in real JupyterLab, under a real mouse and keyboard."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.lab import ALL_RUN, ERRORS, Lab, open_notebook, run_code, write_notebook
from tests.browser.sheet_page import SheetPage

pytestmark = pytest.mark.browser

VECTORS = Path(__file__).parents[1] / "formula" / "rebalance_vectors.json"
REBALANCE = Path(__file__).parents[2] / "labkit" / "widgets" / "js" / "rebalance.js"
SETUP = '''
import labkit as lk
from labkit.formula.grid import show
mats = lk.Materials.starter()
brief = lk.Brief(product="hand cream", ph=(4.8, 5.6), batch="250 g")
cream = lk.Formula.parse("""phase,material,percent,note
A,Aqua,q.s.,
A,Glycerin,4,
A,Xanthan Gum,0.3,pre-wet in glycerin
B,Shea Butter,5,
B,Cetearyl Alcohol,3,
B,Glyceryl Stearate,2.5,
C,Sodium Benzoate,0.45,
C,Lactic Acid,0.3,
""", name="Hand cream")
bench = lk.Bench.open("bench.db")
first = bench.record(cream, label="HC-01", mats=mats)
softer = bench.record(cream.move("Shea Butter", "7 %"), parent=first, label="HC-02", mats=mats)
reading = bench.measure(first, "pH", 4.71, temperature="25 °C", dilution="neat")
'''
FRESH = """id => {
  const sheet = document.querySelector('.lk-sheet');
  return sheet && sheet.dataset.sheet !== id; }"""
NAMELESS = """all => all.filter(e => e.dataset.lmSuppressShortcuts !== 'true' || !(
    e.getAttribute('aria-label') || e.textContent.trim() || e.closest('label')?.textContent.trim()
  )).map(e => e.outerHTML.slice(0, 120))"""
OPEN = "sheet = lk.tune(first, mats, bench=bench, brief=brief)\nsheet"


@pytest.fixture(scope="module")
def page(browser: Any, lab: Lab) -> Iterator[Any]:
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    opened.set_default_timeout(12_000)
    opened.problems = []
    opened.on("pageerror", lambda error: opened.problems.append(str(error)))
    write_notebook(lab.root / "sheet.ipynb", [SETUP, OPEN])
    open_notebook(opened, lab, "sheet.ipynb")
    yield opened
    opened.close()


@pytest.fixture
def sheet(page: Any) -> Iterator[SheetPage]:
    """A fresh sheet: its cell is run again."""
    before = page.locator(".lk-sheet").first.get_attribute("data-sheet", timeout=20_000)
    page.evaluate(
        """async () => {
          const panel = jupyterapp.shell.currentWidget;
          panel.content.activeCellIndex = 1;
          await jupyterapp.commands.execute('notebook:run-cell'); }"""
    )
    page.wait_for_function(ALL_RUN)
    page.wait_for_function(FRESH, arg=before)
    opened = SheetPage(page)
    opened.settle()
    yield opened
    page.mouse.up()
    assert page.problems == []
    assert page.evaluate(ERRORS) == []


def test_a_fresh_sheet_shows_the_trial_and_totals_100(sheet: SheetPage) -> None:
    assert sheet.total() == "100.00"
    assert sheet.shown("Glycerin") == "4.00"
    assert sheet.names()[0] == "Aqua"
    assert "from HC-01" in sheet.root.inner_text()
    assert "measured 4.71 on HC-01" in sheet.read("ph")
    order = sheet.root.locator(".lk-read").evaluate_all("e => e.map(x => x.dataset.read)")
    assert order[:3] == ["total", "differs", "findings"]


def test_a_dragged_slider_moves_another_line_and_the_total_stays_100(sheet: SheetPage) -> None:
    x, y = sheet.hold("Glycerin")
    totals, aqua = set(), set()
    for step in range(1, 25):
        sheet.page.mouse.move(x + 4 * step, y)
        totals.add(sheet.total())
        aqua.add(sheet.shown("Aqua"))
    sheet.page.mouse.up()
    sheet.settle()
    assert totals == {"100.00"}
    assert len(aqua) > 12
    shares = sheet.shares()
    assert f"{float(shares['Glycerin']):.2f}" == sheet.shown("Glycerin")
    assert float(shares["Glycerin"]) > 6
    assert sheet.python("sheet.state.undo_words").startswith("Glycerin to ")
    sheet.root.locator(".lk-voice", has_text="Total 100.00 percent").wait_for(state="attached")


@pytest.mark.parametrize("give", ["qs", "all"])
def test_out_and_back_gives_the_same_formula(sheet: SheetPage, give: str) -> None:
    before = sheet.shares()
    sheet.root.locator(f".lk-give input[value={give}]").check()
    sheet.settle()
    x, y = sheet.hold("Cetearyl Alcohol")
    for step in [*range(0, 90, 9), *range(90, -60, -10), *range(-60, 1, 6)]:
        sheet.page.mouse.move(x + step, y)
    sheet.page.mouse.move(x, y)
    sheet.page.mouse.up()
    sheet.settle()
    assert sheet.shares() == before
    assert sheet.python("sheet.state.undo_words") == ""


def test_escape_takes_a_drag_back(sheet: SheetPage) -> None:
    x, y = sheet.hold("Glycerin")
    sheet.page.mouse.move(x + 60, y)
    sheet.page.keyboard.press("Escape")
    sheet.settle()
    assert sheet.shown("Glycerin") == "4.00"
    assert sheet.shares()["Glycerin"] == "4.0000"


def test_a_box_takes_a_decimal_comma(sheet: SheetPage) -> None:
    sheet.type("Glycerin", "6,25")
    assert sheet.shown("Glycerin") == "6.25"
    assert sheet.shares()["Aqua"] == "82.2000"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("99", "It can reach 0.00 to 88.45 %"),
        ("abc", "Not changed"),
        ("120 g", "Not changed"),
        ("1.23456", "steps of 0.0001 %"),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_changes_nothing(
    sheet: SheetPage, text: str, words: str
) -> None:
    before = sheet.shares()
    sheet.type("Glycerin", text)
    refusal = sheet.row("Glycerin").locator(".lk-refusal")
    refusal.wait_for()
    assert words in refusal.inner_text()
    assert sheet.shares() == before
    sheet.page.keyboard.press("Escape")
    sheet.settle()
    assert sheet.shown("Glycerin") == "4.00"
    refusal.wait_for(state="hidden")


def test_a_locked_line_stays_where_it_is(sheet: SheetPage) -> None:
    lock = sheet.row("Shea Butter").locator(".lk-lock")
    lock.click()
    sheet.settle()
    assert lock.get_attribute("aria-pressed") == "true"
    sheet.drag("Shea Butter", 60)
    sheet.root.locator(".lk-give input[value=all]").check()
    sheet.settle()
    sheet.drag("Glycerin", 80)
    shares = sheet.shares()
    assert shares["Shea Butter"] == "5.0000"
    assert float(shares["Cetearyl Alcohol"]) < 3


def test_bounds_hold_a_slider_and_show_where_it_ends(sheet: SheetPage) -> None:
    menu = sheet.menu("Glycerin")
    menu.get_by_label("lowest bound, percent").fill("3")
    menu.get_by_label("highest bound, percent").fill("5,5")
    menu.get_by_label("highest bound, percent").press("Enter")
    sheet.settle()
    sheet.page.keyboard.press("Escape")
    assert sheet.row("Glycerin").locator(".lk-limit").count() == 2
    sheet.drag("Glycerin", 200)
    assert sheet.shown("Glycerin") == "5.50"
    assert sheet.shares()["Glycerin"] == "5.5000"


def test_chosen_lines_give_way(sheet: SheetPage) -> None:
    sheet.root.locator(".lk-give input[value=chosen]").check()
    sheet.settle()
    sheet.row("Shea Butter").locator(".lk-pick").check()
    sheet.settle()
    sheet.type("Glycerin", "5")
    shares = sheet.shares()
    assert (shares["Shea Butter"], shares["Aqua"]) == ("4.0000", "84.4500")


def test_every_arrow_key_counts_and_keys_return_to_the_same_share(sheet: SheetPage) -> None:
    slider = sheet.slider("Glycerin")
    slider.focus()
    seen = set()
    for _ in range(30):
        sheet.page.keyboard.press("ArrowRight")
        seen.add(sheet.shown("Glycerin"))
    assert len(seen) == 30
    for _ in range(30):
        sheet.page.keyboard.press("ArrowLeft")
    for key, text in [("Shift+ArrowRight", "5.00"), ("Alt+ArrowLeft", "4.99"), ("Home", "0.00")]:
        sheet.page.keyboard.press(key)
        assert sheet.shown("Glycerin") == text
    sheet.settle()
    assert sheet.shares()["Glycerin"] == "0.0000"
    assert slider.get_attribute("aria-valuetext") == "0.00 percent"


def test_give_modes_answer_to_arrow_keys(sheet: SheetPage) -> None:
    sheet.root.locator(".lk-give input[value=qs]").focus()
    sheet.page.keyboard.press("ArrowRight")
    sheet.settle()
    assert sheet.python("sheet.state.give") == "phase"


def test_undo_and_redo_by_button_key_and_list(sheet: SheetPage) -> None:
    sheet.type("Glycerin", "6")
    sheet.type("Shea Butter", "8")
    undo, redo = sheet.root.locator(".lk-undo"), sheet.root.locator(".lk-redo")
    assert undo.get_attribute("aria-label") == "Undo: Shea Butter to 8.00 %"
    undo.click()
    sheet.settle()
    assert redo.get_attribute("aria-label") == "Redo: Shea Butter to 8.00 %"
    sheet.slider("Glycerin").focus()
    sheet.page.keyboard.press("Control+z")
    sheet.settle()
    assert sheet.shown("Glycerin") == "4.00"
    sheet.page.keyboard.press("Control+Shift+z")
    sheet.settle()
    assert (sheet.shown("Glycerin"), sheet.shown("Shea Butter")) == ("6.00", "5.00")
    sheet.root.locator(".lk-drawer summary", has_text="Steps").click()
    sheet.root.get_by_role("button", name="as HC-01").click()
    sheet.settle()
    assert sheet.shown("Glycerin") == "4.00"


def test_a_material_is_searched_added_replaced_and_removed(sheet: SheetPage) -> None:
    search = sheet.root.get_by_label("Add a material")
    search.fill("squalan")
    sheet.root.locator(".lk-option").first.wait_for()
    sheet.root.get_by_label("Phase of the new line").select_option("B")
    search.press("Enter")
    sheet.settle()
    added = sheet.names()[6]
    assert "qualan" in added
    sheet.type(added, "2")
    assert sheet.shares()[added] == "2.0000"
    menu = sheet.menu(added)
    menu.get_by_label("Replace by another material").fill("jojoba")
    menu.locator(".lk-option").first.click()
    sheet.settle()
    replaced = sheet.names()[6]
    assert "ojoba" in replaced
    assert sheet.shares()[replaced] == "2.0000"
    sheet.menu(replaced).get_by_role("button", name="Remove line").click()
    sheet.settle()
    assert sheet.shares()["Aqua"] == "84.4500"
    assert replaced not in sheet.names()


def test_lines_are_reordered_and_moved_between_phases(sheet: SheetPage) -> None:
    sheet.slider("Glycerin").focus()
    sheet.page.keyboard.press("Control+ArrowDown")
    sheet.settle()
    assert sheet.names()[:3] == ["Aqua", "Xanthan Gum", "Glycerin"]
    assert sheet.page.evaluate("document.activeElement.getAttribute('aria-label')").startswith(
        "Glycerin"
    )
    sheet.menu("Glycerin").get_by_label("Phase", exact=True).select_option("C")
    sheet.settle()
    assert sheet.names()[-1] == "Glycerin"
    grip, target = sheet.row("Glycerin").locator(".lk-grip"), sheet.row("Shea Butter")
    grip.scroll_into_view_if_needed()
    start, end = grip.bounding_box(), target.bounding_box()
    sheet.page.mouse.move(start["x"] + 6, start["y"] + 6)
    sheet.page.mouse.down()
    sheet.page.mouse.move(start["x"] + 6, end["y"] + 12, steps=6)
    sheet.page.mouse.move(start["x"] + 6, end["y"] + 3)
    sheet.page.mouse.up()
    sheet.settle()
    assert sheet.python("[x.phase for x in sheet.formula.lines if x.material=='Glycerin']") == ["B"]
    assert sheet.names().index("Glycerin") == sheet.names().index("Shea Butter") - 1
    assert sheet.total() == "100.00"


def test_the_rest_can_be_taken_by_another_line(sheet: SheetPage) -> None:
    sheet.menu("Shea Butter").get_by_role("button", name="Take the rest (q.s.)").click()
    sheet.settle()
    sheet.type("Glycerin", "3")
    assert sheet.shares()["Shea Butter"] == "6.0000"


def test_batch_and_balance_set_the_grams(sheet: SheetPage) -> None:
    batch = sheet.root.get_by_label("Batch, grams")
    batch.fill("1.2 kg")
    batch.press("Enter")
    sheet.settle()
    assert sheet.row("Glycerin").locator(".lk-grams").text_content() == "48.00"
    batch.fill("two spoons")
    batch.press("Enter")
    sheet.settle()
    assert "Not changed" in sheet.root.locator(".lk-refusal").inner_text()
    assert sheet.python("float(sheet.state.batch_g)") == 1200.0


def test_a_recorded_trial_is_in_the_file_and_undo_reaches_across_it(sheet: SheetPage) -> None:
    sheet.type("Glycerin", "6")
    label = f"HC-{sheet.python('len(bench.trials())') + 1:02d}"
    sheet.root.get_by_label("Note for the trial").fill("less sticky?")
    sheet.root.get_by_label("Label of the trial").fill(label)
    sheet.root.get_by_role("button", name="Record as trial").click()
    sheet.root.get_by_text(f"recorded as {label}").wait_for()
    sheet.settle()
    told = sheet.python(
        f"(lambda t: [t.note, str(t.formula.lines[1].percent), t.parents == (first.id,)])"
        f"(lk.Bench.open('bench.db').trial('{label}'))"
    )
    assert told == ["less sticky?", "6.0000", True]
    assert sheet.read("differs").startswith(f"differs from {label} 0")
    sheet.root.locator(".lk-undo").click()
    sheet.settle()
    assert sheet.shown("Glycerin") == "4.00"
    assert sheet.read("differs").startswith(f"differs from {label} 2")


def test_a_label_that_is_taken_is_refused_and_nothing_is_lost(sheet: SheetPage) -> None:
    sheet.type("Glycerin", "6")
    sheet.root.get_by_label("Note for the trial").fill("keep me")
    sheet.root.get_by_label("Label of the trial").fill("HC-01")
    sheet.root.get_by_role("button", name="Record as trial").click()
    sheet.root.locator(".lk-refusal", has_text="called that already").wait_for()
    assert sheet.root.get_by_label("Note for the trial").input_value() == "keep me"
    assert sheet.shown("Glycerin") == "6.00"


def test_another_trial_can_be_marked_and_compared(sheet: SheetPage) -> None:
    sheet.root.get_by_label("Trial whose values are marked").select_option(label="HC-02")
    sheet.settle()
    assert sheet.row("Shea Butter").locator(".lk-delta").text_content() == "−2.00"
    drawer = sheet.root.locator(".lk-differs")
    drawer.locator("summary").click()
    assert "Shea Butter" in drawer.inner_text()
    assert "Glycerin" not in drawer.inner_text()


def test_the_range_of_a_held_slider_is_shown_and_followed(sheet: SheetPage) -> None:
    x, y = sheet.hold("Sodium Benzoate")
    lens = sheet.root.locator(".lk-lens")
    lens.locator(".lk-curve-line").first.wait_for(state="attached")
    assert "Sodium Benzoate" in lens.inner_text()
    assert "reaches 0.00" in lens.inner_text()
    assert sheet.row("Sodium Benzoate").locator(".lk-band.lk-stop").count() >= 1
    ph = set()
    for step in range(1, 20):
        sheet.page.mouse.move(x + 5 * step, y)
        ph.add(lens.locator(".lk-strip-value").first.text_content())
    sheet.page.mouse.up()
    sheet.settle()
    assert len(ph) > 2
    findings = sheet.root.locator('[data-read="findings"]')
    assert "lk-stop" in str(findings.get_attribute("class"))
    findings.locator(".lk-read-head").click()
    findings.get_by_role("button", name="Do it:").first.click()
    sheet.settle()
    assert float(sheet.shares()["Sodium Benzoate"]) < 0.6


def test_a_read_out_opens_to_its_basis_and_source(sheet: SheetPage) -> None:
    ph = sheet.root.locator('[data-read="ph"]')
    ph.locator(".lk-read-head").click()
    assert ph.locator(".lk-read-head").get_attribute("aria-expanded") == "true"
    assert "Basis" in ph.inner_text()
    assert "Source" in ph.inner_text()


def test_two_views_of_one_sheet_agree(sheet: SheetPage) -> None:
    page = sheet.page
    page.evaluate("() => jupyterapp.commands.execute('notebook:insert-cell-below')")
    page.evaluate(
        """async () => {
          const panel = jupyterapp.shell.currentWidget;
          panel.content.activeCell.model.sharedModel.setSource('sheet');
          await jupyterapp.commands.execute('notebook:run-cell'); }"""
    )
    second = SheetPage(page, 1)
    second.root.wait_for()
    second.settle()
    second.type("Glycerin", "7")
    sheet.settle()
    page.wait_for_function("() => document.querySelectorAll('.lk-box')[1].value === '7.00'")
    sheet.type("Shea Butter", "6")
    second.settle()
    assert second.shown("Shea Butter") == "6.00"
    assert second.shares()["Aqua"] == sheet.shares()["Aqua"]
    page.evaluate("() => { jupyterapp.shell.currentWidget.content.activeCellIndex = 2; }")
    page.evaluate("() => jupyterapp.commands.execute('notebook:delete-cell')")
    page.wait_for_function("() => document.querySelectorAll('.lk-sheet').length === 1")


def test_python_moves_are_seen_on_the_page(sheet: SheetPage) -> None:
    run_code(
        sheet.page,
        "from labkit import Move\nfrom decimal import Decimal as D\n"
        "m = sheet.apply(Move(kind='set', line=1, percent=D(9)))",
    )
    sheet.page.wait_for_function("() => document.querySelectorAll('.lk-box')[1].value === '9.00'")
    assert sheet.total() == "100.00"


def test_a_slow_notebook_leaves_the_rows_fast_and_the_mark_late(sheet: SheetPage) -> None:
    run_code(
        sheet.page,
        "import time\nfast = sheet._forecaster\n"
        "class Slow:\n"
        "    mats, brief = fast.mats, fast.brief\n"
        "    along, evaluator = staticmethod(fast.along), staticmethod(fast.evaluator)\n"
        "    def __call__(self, f): time.sleep(0.3); return fast(f)\n"
        "sheet._forecaster = Slow()",
    )
    x, y = sheet.hold("Glycerin")
    shown = []
    for step in range(1, 11):
        sheet.page.mouse.move(x + 6 * step, y)
        shown.append(sheet.shown("Glycerin"))
    assert len(set(shown)) == 10
    assert sheet.root.locator(".lk-mark").get_attribute("data-state") == "following"
    sheet.page.mouse.up()
    sheet.settle()
    assert f"{float(sheet.shares()['Glycerin']):.2f}" == sheet.shown("Glycerin") == shown[-1]


def test_findings_follow_the_hand_before_python_has_answered(sheet: SheetPage) -> None:
    slow = (
        "import time\nfast = sheet._forecaster\n"
        "class Slow:\n"
        "    mats, brief = fast.mats, fast.brief\n"
        "    along, evaluator = staticmethod(fast.along), staticmethod(fast.evaluator)\n"
        "    def __call__(self, f): time.sleep(0.5); return fast(f)\n"
    )
    run_code(sheet.page, slow)
    x, y = sheet.hold("Sodium Benzoate")
    sheet.root.locator(".lk-lens .lk-curve-line").first.wait_for(state="attached")
    before = sheet.read("findings")
    run_code(sheet.page, "sheet._forecaster = Slow()")
    sheet.page.mouse.move(x + 40, y)
    sheet.page.mouse.move(x + 90, y)
    sheet.page.evaluate("() => new Promise(done => requestAnimationFrame(() => done()))")
    during = sheet.read("findings")
    assert sheet.root.locator(".lk-mark").get_attribute("data-state") == "following"
    assert "stop" in during
    assert "stop" not in before
    sheet.page.mouse.up()
    sheet.settle()
    assert sheet.read("findings") == during


def test_a_hand_that_rests_sees_the_confirmed_figures(sheet: SheetPage) -> None:
    x, y = sheet.hold("Lactic Acid")
    sheet.page.mouse.move(x + 10, y)
    sheet.page.mouse.move(x + 25, y)
    sheet.settle()
    held = sheet.read("ph")
    assert "lk-held" in str(sheet.root.get_attribute("class"))
    assert sheet.python("sheet.state.gesture is not None")
    assert held.split()[1] == f"{sheet.python('float(sheet.forecast.ph.value)'):.1f}"
    sheet.page.mouse.up()
    sheet.settle()
    assert sheet.read("ph") == held


def test_an_answer_that_is_late_is_waited_for_in_words(sheet: SheetPage) -> None:
    run_code(
        sheet.page,
        "import time\nfast = sheet._forecaster\n"
        "class Late:\n"
        "    mats, brief = fast.mats, fast.brief\n"
        "    along, evaluator = staticmethod(fast.along), staticmethod(fast.evaluator)\n"
        "    def __call__(self, f): time.sleep(1.5); return fast(f)\n"
        "sheet._forecaster = Late()",
    )
    sheet.box("Glycerin").fill("6")
    sheet.box("Glycerin").press("Enter")
    assert (sheet.shown("Glycerin"), sheet.shown("Aqua")) == ("6.00", "82.45")
    sheet.root.get_by_text("waiting for the notebook").wait_for()
    sheet.settle()
    assert sheet.root.locator(".lk-status").text_content() == ""
    assert sheet.shares()["Glycerin"] == "6.0000"


def test_a_long_cell_does_not_freeze_the_sheet(sheet: SheetPage) -> None:
    sheet.page.evaluate(
        """() => { jupyterapp.shell.currentWidget.sessionContext.session.kernel.requestExecute(
          { code: 'import time; time.sleep(2)', store_history: false }); }"""
    )
    sheet.type("Glycerin", "6")
    assert sheet.root.locator(".lk-status").text_content() == ""
    assert sheet.shares()["Glycerin"] == "6.0000"


def test_an_unrecorded_draft_is_offered_to_the_next_sheet(sheet: SheetPage) -> None:
    sheet.type("Glycerin", "6.66")
    page = sheet.page
    before = sheet.root.get_attribute("data-sheet")
    page.evaluate(
        """async () => { jupyterapp.shell.currentWidget.content.activeCellIndex = 1;
          await jupyterapp.commands.execute('notebook:run-cell'); }"""
    )
    page.wait_for_function(FRESH, arg=before)
    sheet.settle()
    sheet.root.locator(".lk-draft").get_by_role("button", name="Take it up").click()
    sheet.settle()
    assert sheet.shown("Glycerin") == "6.66"
    sheet.root.locator(".lk-undo").click()
    sheet.settle()
    assert sheet.shown("Glycerin") == "4.00"


def test_the_page_gives_every_row_of_the_shared_vectors(sheet: SheetPage) -> None:
    cases = json.loads(VECTORS.read_text())
    bad = sheet.page.evaluate(
        """([source, cases]) => {
          const room = new Function(source + '; return { reachOf, rebalance };')();
          const same = (a, b) => String(a) === String(b);
          return cases.flatMap((c, n) => {
            const rows = room.rebalance(
              c.units, c.low, c.high, c.line, c.givers, c.wanted, c.rank);
            const reach = room.reachOf(c.units, c.low, c.high, c.line, c.givers);
            return same(rows, c.expected) && same(reach, c.reach) ? [] : [n];
          }); }""",
        [REBALANCE.read_text(), cases],
    )
    assert bad == []


@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
def test_nothing_serious_for_a_screen_reader_or_a_weak_eye(sheet: SheetPage, theme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = sheet.page
    page.evaluate("t => jupyterapp.commands.execute('apputils:change-theme', { theme: t })", theme)
    light = str(theme.endswith("Light")).lower()
    page.wait_for_function(f"() => document.body.dataset.jpThemeLight === '{light}'")
    sheet.slider("Sodium Benzoate").focus()
    sheet.root.locator(".lk-curve-line").first.wait_for(state="attached")
    sheet.row("Glycerin").locator(".lk-more").click()
    sheet.root.locator('[data-read="findings"] .lk-read-head').click()
    told = Axe().run(page, context=".lk-sheet").response["violations"]
    serious = [
        (v["id"], [n["html"][:120] for n in v["nodes"][:3]])
        for v in told
        if v["impact"] in {"serious", "critical"}
    ]
    page.evaluate(
        "t => jupyterapp.commands.execute('apputils:change-theme', { theme: t })",
        "JupyterLab Light",
    )
    page.wait_for_function("() => document.body.dataset.jpThemeLight === 'true'")
    assert serious == []


def spoken(page: Any) -> list[tuple[str, str, str]]:
    """Role, name and value of what the browser hands to a screen reader."""
    session = page.context.new_cdp_session(page)
    nodes = session.send("Accessibility.getFullAXTree")["nodes"]
    session.detach()

    def text(node: dict[str, Any], part: str) -> str:
        return str(node.get(part, {}).get("value", ""))

    return [(text(n, "role"), text(n, "name"), text(n, "value")) for n in nodes if not n["ignored"]]


def test_a_screen_reader_hears_names_values_and_units(sheet: SheetPage) -> None:
    told = spoken(sheet.page)
    sliders = {name: float(value) for role, name, value in told if role == "slider"}
    assert sliders["Glycerin, percent of batch"] == 4
    assert sliders["Aqua, percent of batch"] == pytest.approx(84.45, abs=1e-4)
    valued = [sheet.slider(name).get_attribute("aria-valuetext") for name in ("Glycerin", "Aqua")]
    assert valued == ["4.00 percent", "84.45 percent, takes the rest"]
    assert ("textbox", "Glycerin, percent", "4.00") in told
    roles = {(role, name) for role, name, _ in told}
    assert ("button", "Lock Glycerin") in roles
    assert ("group", "Mixing sheet Hand cream") in roles
    assert ("group", "Glycerin, phase A") in roles
    assert any(role == "button" and name.startswith("pH 4.0 3.6 – 4.4") for role, name in roles)


def test_what_was_done_is_said_once_it_has_settled(sheet: SheetPage) -> None:
    sheet.slider("Glycerin").focus()
    sheet.page.keyboard.press("ArrowRight")
    voice = sheet.root.locator(".lk-voice")
    voice.get_by_text("Glycerin to 4.10 %. Total 100.00 percent, ").wait_for(state="attached")
    assert sheet.slider("Glycerin").get_attribute("aria-valuetext") == "4.10 percent"
    sheet.type("Glycerin", "130")
    assert "alert" in {role for role, _, _ in spoken(sheet.page)}
    assert "Not changed" in sheet.root.locator("[role=alert]:visible").inner_text()


def test_every_control_keeps_its_keys_and_says_its_name(sheet: SheetPage) -> None:
    nameless = sheet.root.locator("input, button, select, textarea").evaluate_all(NAMELESS)
    assert nameless == []
    sheet.slider("Glycerin").focus()
    order = []
    for _ in range(4):
        order.append(sheet.page.evaluate("document.activeElement.className"))
        sheet.page.keyboard.press("Tab")
    assert order == ["lk-slider", "lk-box", "lk-lock", "lk-more"]


@pytest.mark.parametrize("width", [640, 900, 1600])
def test_no_width_needs_sideways_scrolling(sheet: SheetPage, width: int) -> None:
    page = sheet.page
    page.set_viewport_size({"width": width, "height": 800})
    page.wait_for_function(f"() => window.innerWidth === {width}")
    over = sheet.root.evaluate("e => e.scrollWidth - e.clientWidth")
    cut = sheet.root.locator(".lk-box").evaluate_all(
        "all => all.filter(e => e.scrollWidth > e.clientWidth + 1).length"
    )
    page.set_viewport_size({"width": 1280, "height": 900})
    assert (over, cut) == (0, 0)


def test_a_restarted_notebook_is_said_in_words_and_the_picture_stays(
    browser: Any, lab: Lab
) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    write_notebook(
        lab.root / "lost.ipynb",
        ["import labkit as lk\nf = lk.Formula.parse('phase,material,percent\\nA,Aqua,q.s.\\n"
         "A,Glycerin,4', name='Lost gel')\nsheet = lk.tune(f)\nsheet"],
    )  # fmt: skip
    open_notebook(page, lab, "lost.ipynb")
    sheet = SheetPage(page)
    sheet.settle()
    assert page.locator(".lk-aside").is_hidden()
    sheet.type("Glycerin", "5.5")
    page.wait_for_function(
        "() => document.querySelector('.lk-aside')?.textContent.includes('5.50')"
    )
    page.evaluate("() => jupyterapp.commands.execute('docmanager:save')")
    page.wait_for_function("() => !jupyterapp.shell.currentWidget.context.model.dirty")
    page.evaluate("() => jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart()")
    sheet.root.get_by_text("not connected: run the cell again").wait_for()
    assert sheet.slider("Glycerin").is_disabled()
    assert sheet.total() == "100.00"
    page.evaluate("() => jupyterapp.shell.currentWidget.sessionContext.shutdown()")
    page.close()

    again = browser.new_page()
    open_notebook(again, lab, "lost.ipynb", run=False)
    still = again.locator(".lk-aside")
    still.wait_for()
    assert "5.50" in still.inner_text()
    assert "Lost gel" in still.inner_text()
    again.close()
