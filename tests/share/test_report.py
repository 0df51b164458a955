"""The report: what it tells, how small it is, and that nothing in it comes alive."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import labkit as lk
from labkit.bench import Bench
from labkit.share.notes import note_html, sanitised
from labkit.share.report import page
from tests.share.altering import entries
from tests.share.conftest import GEL, open_bench, photo

LIST = Path(__file__).parents[1] / "reference" / "hostile_inputs.json"
TEXTS = [
    case["give"]["text"]
    for case in json.loads(LIST.read_text(encoding="utf-8"))["items"]
    if case["id"].startswith("html-") and "text" in case["give"] and "field" in case["give"]
]
SWALLOWING = ("</title>", "<style", "<textarea", "<base", "<meta", "<noscript", "<!--")
"""Tags that swallow the rest of a page when put in as they are."""


class Outline(HTMLParser):
    """Tags that were opened and not closed, and every attribute."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes |= {name for name, _ in attrs}
        if tag not in {"meta", "br", "img", "hr"}:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes |= {name for name, _ in attrs}

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_it_tells_the_story(published: Path) -> None:
    with lk.share.open(published) as history:
        told = history.report
    words = re.sub(r"<[^>]+>", " ", told)
    for said in (
        "Low water gel",
        "Recipe of G-3",
        "from G-1",
        "Glycerin 5.00 → 7.00 %",
        "corrected /replicates/1/value: 4.10 → 4.05 (read again)",
        "does not count: meter not calibrated",
        "after a night",
        "expected",
        "Check number",
        "1 lot number",
        "sha256sum",
    ):
        assert said in words, said
    assert "<em>sticky</em>" in told
    assert "data:image/jpeg;base64," in told


def test_it_is_well_formed_without_scripts_styles_inline_or_addresses(published: Path) -> None:
    told = entries(published)["report.html"].decode()
    outline = Outline()
    outline.feed(told)
    assert outline.open == []
    assert not [a for a in outline.attributes if a.startswith("on") or a in {"src-doc", "srcset"}]
    assert "style" not in outline.attributes
    assert set(re.findall(r'(?:src|href)="([^"#]{1,10})', told)) <= {"data:image"}
    assert "http" not in told.replace('xmlns="http://www.w3.org/2000/svg"', "").replace(
        "http-equiv", ""
    )


def test_the_policy_comes_first_and_allows_one_style_sheet(published: Path) -> None:
    told = entries(published)["report.html"].decode()
    assert told.index('<meta charset="utf-8">') < told.index("Content-Security-Policy") < 200
    policy = re.search(r'Policy" content="([^"]+)"', told)
    assert policy is not None
    assert policy[1].startswith("default-src 'none'; img-src data:; style-src 'sha256-")
    assert policy[1].endswith("base-uri 'none'; form-action 'none'")


def test_fifty_trials_with_photos_stay_below_two_megabytes(tmp_path: Path) -> None:
    gel = lk.Formula.parse(GEL, name="Gel of fifty")
    noisy = bytes(range(256)) * 3
    with open_bench(tmp_path / "b.db") as bench:
        last = None
        for i in range(50):
            last = bench.record(
                gel.move("glycerin", f"{3 + i / 10:.1f} %"), parent=last, note="x" * 300
            )
            bench.measure(last, "pH", f"{4 + i / 100:.2f}", temperature="25 °C", dilution="neat")
            bench.measure(last, "viscosity", [f"{9000 + i} cP"] * 3, speed="20 rpm", spindle="4")
            bench.photo(last, _noise(i, noisy))
        path = lk.share.export(bench, tmp_path / "x.eln")
    told = entries(path)["report.html"]
    assert len(told) <= 2_000_000
    assert told.count(b"<article") == 50


def _noise(seed: int, _: bytes) -> bytes:
    import io
    import random

    from PIL import Image

    out = io.BytesIO()
    pixels = random.Random(seed).randbytes(700 * 500 * 3)
    Image.frombytes("RGB", (700, 500), pixels).save(out, "JPEG", quality=85)
    return out.getvalue()


@pytest.mark.parametrize(
    ("typed", "made"),
    [
        ("soft", "<p>soft</p>"),
        ("a\nb", "<p>a<br>b</p>"),
        ("a\n\nb", "<p>a</p><p>b</p>"),
        ("- a\n- b", "<ul><li>a</li><li>b</li></ul>"),
        ("1. a\n2. b", "<ol><li>a</li><li>b</li></ol>"),
        ("> as told", "<blockquote>as told</blockquote>"),
        ("`pH` **5** *so*", "<p><code>pH</code> <strong>5</strong> <em>so</em></p>"),
        ("2 * 3 * 4", "<p>2 * 3 * 4</p>"),
        ("5 < 6 & 7", "<p>5 &lt; 6 &amp; 7</p>"),
        ("[x](http://a)", "<p>[x](http://a)</p>"),
        ("", ""),
    ],
)
def test_the_small_markdown(typed: str, made: str) -> None:
    assert note_html(typed) == made


def hostile_bench(folder: Path) -> Bench:
    """Every text of the list in every place where a text can stand."""
    bench = open_bench(folder / "hostile.db", person=TEXTS[0])
    gel = lk.Formula.parse(GEL, name="gel")
    for i, text in enumerate(TEXTS):
        line = text.replace("\t", " ")[:150]
        named = gel.renamed(line).swap("glycerin", line)
        trial = bench.record(named, note=text, label=f"H-{i}")
        bench.note(trial, text, tags=[line])
        bench.measure(trial, "appearance", text, note=text)
        reading = bench.measure(trial, "pH", "5.0", temperature="25 °C", method=line)
        bench.amend(reading, "/note", text, reason=line)
        bench.photo(trial, photo(), caption=line)
        bench.decide(trial, "keep", reason=line)
    return bench


def shown(browser: Any, html: str, folder: Path) -> tuple[str, list[str], Any]:
    """Title after a moment, and every request that left the page."""
    file = folder / "page.html"
    file.write_text(html, encoding="utf-8")
    view = browser.new_page(viewport={"width": 390, "height": 844})
    asked: list[str] = []
    view.on("request", lambda request: asked.append(request.url))
    view.goto(file.as_uri())
    view.wait_for_timeout(250)
    left = [url for url in asked if not url.startswith(("file://", "data:"))]
    return view.title(), left, view


@pytest.mark.browser
def test_html_in_every_field_the_report_stays_dead(browser: Any, tmp_path: Path) -> None:
    with hostile_bench(tmp_path) as bench:
        path = lk.share.export(bench, tmp_path / "x.eln", leave_out=(), title=TEXTS[0])
    report = entries(path)["report.html"].decode()
    title, left, view = shown(browser, report, tmp_path)
    assert title == f"Trial history: {' '.join(TEXTS[0].split())[:80]}"
    assert left == []
    assert view.locator("article").count() == len(TEXTS)
    assert view.evaluate("document.querySelectorAll('script,iframe,input,object').length") == 0
    unguarded = re.sub(r"<meta http-equiv[^>]+>", "", report)
    title, left, _ = shown(browser, unguarded, tmp_path)
    assert title.startswith("Trial history: ")
    assert left == []


@pytest.mark.browser
@pytest.mark.parametrize("text", TEXTS)
def test_html_the_sanitiser_alone_holds(browser: Any, tmp_path: Path, text: str) -> None:
    bare = f"<!doctype html><title>own</title><main>{sanitised(text)}</main>"
    title, left, _ = shown(browser, bare, tmp_path)
    assert (title, left) == ("own", [])


@pytest.mark.browser
def test_html_the_policy_alone_holds(browser: Any, tmp_path: Path) -> None:
    raw = [t for t in TEXTS if not any(tag in t.lower() for tag in SWALLOWING)]
    assert len(raw) >= 8
    guarded = page("own", "\n".join(raw))
    title, left, _ = shown(browser, guarded, tmp_path)
    assert (title, left) == ("own", [])
    unguarded = re.sub(r"<meta http-equiv[^>]+>", "", guarded)
    title, left, _ = shown(browser, unguarded, tmp_path)
    assert title == "owned", "without the policy the same page comes alive: the test can fail"
    assert left != []


@pytest.mark.browser
def test_it_fits_a_telephone_and_paper(browser: Any, published: Path, tmp_path: Path) -> None:
    report = entries(published)["report.html"].decode()
    _, _, view = shown(browser, report, tmp_path)
    assert view.evaluate("document.documentElement.scrollWidth") <= 390
    smallest = view.evaluate(
        "Math.min(...[...document.querySelectorAll('.lk-narrow text')].map("
        "t => t.getBoundingClientRect().height))"
    )
    assert smallest >= 9
    view.emulate_media(color_scheme="dark")
    assert view.evaluate("getComputedStyle(document.querySelector('main')).backgroundColor") != (
        "rgb(255, 255, 255)"
    )
    view.emulate_media(media="print", color_scheme="light")
    pdf = view.pdf(format="A4", print_background=True)
    import io

    from pypdf import PdfReader

    pages = PdfReader(io.BytesIO(pdf)).pages
    assert 1 <= len(pages) <= 5
    assert "Check number" in pages[-1].extract_text()
