"""Papers in a real browser: nothing runs, nothing is cut off, every line is printed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest

from labkit.bench import Bench, Trial
from labkit.materials import Materials
from labkit.paperwork import Document, recipe_card
from tests.paperwork.conftest import DAY, LINES

pytestmark = pytest.mark.browser

NAMES = ("list", "costing", "card", "safety", "specification", "batch")
A4, LETTER = (595, 842), (612, 792)


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    made = context.new_page()
    yield made
    context.close()


def printed(page: Any, paper: Document, folder: Path) -> pypdf.PdfReader:
    page.goto(paper.save(folder / "paper.html").as_uri())
    target = folder / "paper.pdf"
    page.pdf(path=str(target), prefer_css_page_size=True, print_background=False)
    return pypdf.PdfReader(target)


def words(text: str) -> str:
    """Letters and digits only: a printed line may break anywhere."""
    return re.sub(r"[\W_]+", "", text)


@pytest.mark.parametrize("name", NAMES)
def test_a_telephone_shows_all_of_it_without_scrolling_sideways(
    papers: dict[str, Document], name: str, page: Any, tmp_path: Path
) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(papers[name].save(tmp_path / "paper.html").as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    cut = page.evaluate(
        "() => [...document.querySelectorAll('td, dd, li, p, h1')]"
        ".filter(e => e.getBoundingClientRect().right > 391).map(e => e.textContent)"
    )
    assert cut == []
    assert all(url.startswith("file:") for url in asked)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", NAMES)
def test_every_cell_is_in_the_print(
    papers: dict[str, Document], name: str, paper: str, page: Any, tmp_path: Path
) -> None:
    document = papers[name].on(paper)
    pdf = printed(page, document, tmp_path)
    box = pdf.pages[0].mediabox
    wanted = A4 if paper == "A4" else LETTER
    assert (float(box.width), float(box.height)) == pytest.approx(wanted, abs=1.5)
    text = words("".join(sheet.extract_text() for sheet in pdf.pages))
    page.emulate_media(media="print")
    cells = page.evaluate(
        "() => [...document.querySelectorAll('td, th, dd, dt, li, p, h1, h2, h3, .lk-copy')]"
        ".map(e => e.innerText)"
    )
    assert len(cells) > 20
    missing = [cell for cell in cells if not all(words(x) in text for x in cell.split())]
    assert missing == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_card_of_a_usual_recipe_is_one_page(
    bench: Bench, trial: Trial, mats: Materials, paper: str, page: Any, tmp_path: Path
) -> None:
    card = recipe_card(
        trial, mats, batch="500 g", bench=bench, day=DAY, paper=paper,
        purpose="A light cream for hands that are washed often.", notes=["Stir slowly."],
        replace={"Shea butter": "Mango butter"},
    )  # fmt: skip
    pdf = printed(page, card, tmp_path)
    assert len(pdf.pages) == 1
    text = words(pdf.pages[0].extract_text())
    assert all(words(material) in text for _, material, _ in LINES)


def test_the_dark_page_is_dark_and_the_print_of_it_is_not(
    papers: dict[str, Document], page: Any, tmp_path: Path
) -> None:
    page.emulate_media(color_scheme="dark")
    page.goto(papers["card"].save(tmp_path / "paper.html").as_uri())
    look = "() => { const s = getComputedStyle(document.querySelector('main'));"
    look += " return [s.backgroundColor, s.color]; }"
    assert page.evaluate(look) == ["rgb(27, 33, 30)", "rgb(230, 236, 232)"]
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate(look) == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]


def test_no_script_runs_even_if_one_got_in(page: Any, tmp_path: Path) -> None:
    """The policy would stop what the escaping did not."""
    html = Document(kind="Note", title="x", blocks=()).html
    harm = "<script>document.title='owned'</script><img src=x onerror=\"document.title='owned'\">"
    file = tmp_path / "harm.html"
    file.write_text(html.replace("</main>", f"{harm}</main>"), encoding="utf-8")
    page.goto(file.as_uri())
    assert page.title() == "Note: x"
