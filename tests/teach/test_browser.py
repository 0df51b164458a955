"""What a class looks at, in a real browser: one card on one page, a wall that follows by itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest

import labkit as lk
from labkit.teach.lesson_plans import PLANS
from tests.teach.simulating import desk, open_class, work

pytestmark = pytest.mark.browser


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    context = browser.new_context(viewport={"width": 1600, "height": 900})
    made = context.new_page()
    yield made
    context.close()


def letters(text: str) -> str:
    return re.sub(r"[\W_]+", "", text)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("plan", PLANS, ids=lambda p: str(p.number))
def test_a_station_card_is_one_page_with_every_line(plan, paper, page, tmp_path: Path) -> None:
    card = lk.teach.lesson(plan.number).station_card(paper=paper)
    page.goto(card.save(tmp_path / "card.html").as_uri())
    page.pdf(path=str(tmp_path / "card.pdf"), prefer_css_page_size=True)
    pages = pypdf.PdfReader(tmp_path / "card.pdf").pages
    assert len(pages) == 1
    printed = letters(pages[0].extract_text())
    said = [x.material for x in plan.formula.lines]
    for words in (*said, *plan.station.steps, *plan.station.needs, *plan.station.readings):
        assert letters(words) in printed, words


def test_the_wall_fits_the_wall_and_follows_by_itself(page, tmp_path: Path) -> None:
    wall = tmp_path / "wall.html"
    with open_class(tmp_path / "class") as room:
        handout = room.hand_out(tmp_path / "class.eln")
        (tmp_path / "in").mkdir()
        projector = lk.teach.Projector(room.bench, every="1 s")
        projector.save(wall)
        page.goto(wall.as_uri())
        assert "0 desks have handed in" in page.inner_text("body")
        for number in range(8):
            with desk(tmp_path, number, handout) as one:
                work(one, number, unit="mPa*s" if number == 3 else "Pa*s")
                one.hand_in(tmp_path / "in")
        room.gather(tmp_path / "in")
        projector.save(wall)
        page.wait_for_selector("text=8 desks have handed in", timeout=10_000)
    assert page.locator("td.odd").all_inner_texts() == ["unit"]
    assert page.locator("svg").count() == 2
    size = page.evaluate("[document.documentElement.scrollWidth, document.body.scrollHeight]")
    assert size[0] <= 1600
    assert size[1] <= 900, "it cannot be scrolled from the back row"
    smallest = page.evaluate(
        "Math.min(...[...document.querySelectorAll('td,th,p')]"
        ".map(e => parseFloat(getComputedStyle(e).fontSize)))"
    )
    assert smallest >= 24, "readable from the back row"
