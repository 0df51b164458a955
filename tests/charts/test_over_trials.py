"""The charts of a bench: what is joined, what is told, what is left out."""

from __future__ import annotations

import html
import re
import xml.etree.ElementTree as ET

import pytest

from labkit.bench import Bench
from labkit.charts import Chart, composition, family_tree, trend
from labkit.errors import MeasurementError, RecordError
from labkit.formula import Brief, Formula

HOSTILE = '<script>alert("1")</script> & <b>'


def three(bench: Bench, cream: Formula) -> list[str]:
    """A parent, its child, and a second child of the parent; ids in that order."""
    first = bench.record(cream, label="T1", note="base")
    second = bench.record(cream.move("Cetearyl alcohol", "4 %"), parent=first, label="T2")
    third = bench.record(cream.move("Glycerin", "7 %"), parent=first, label="T3")
    return [first.id, second.id, third.id]


def read(bench: Bench, trial: str, value: object, temperature: str = "25 °C") -> object:
    return bench.measure(
        trial, "viscosity", value, temperature=temperature, spindle="4", speed="10 rpm"
    )


def ends(chart: Chart) -> list[tuple[tuple[float, float], int]]:
    return [(link.x, link.series) for link in chart.panels[0].links]


def test_readings_under_different_conditions_are_never_joined(bench: Bench, cream: Formula) -> None:
    """Acceptance question 19: one line never runs through two temperatures or spindles."""
    a, b, c = three(bench, cream)
    read(bench, a, "12 Pa*s")
    read(bench, b, "15 Pa*s", temperature="31 °C")
    read(bench, c, "14 Pa*s")
    bench.measure(c, "viscosity", "20 Pa*s", temperature="25 °C", spindle="6", speed="10 rpm")
    chart = trend(bench)
    panel = chart.panels[0]
    assert len(panel.series) == 3
    assert ends(chart) == [((0.0, 2.0), 0)]
    by_place = {(p.x, p.y): p.series for p in panel.points}
    for link in panel.links:
        for x, y in zip(link.x, link.y, strict=True):
            assert by_place[(x, y)] == link.series
    assert "not joined" in chart.note


def test_a_line_goes_to_the_nearest_ancestor_that_was_read(bench: Bench, cream: Formula) -> None:
    first = bench.record(cream, label="T1")
    middle = bench.record(cream.move("Glycerin", "6 %"), parent=first, label="T2")
    last = bench.record(cream.move("Glycerin", "7 %"), parent=middle, label="T3")
    read(bench, first.id, "12 Pa*s")
    read(bench, last.id, "16 Pa*s")
    assert ends(trend(bench)) == [((0.0, 2.0), 0)]


def test_replicates_are_one_point_with_their_spread(bench: Bench, cream: Formula) -> None:
    """Geometric mean of 10 and 40 is 20, worked by hand."""
    a, *_ = three(bench, cream)
    read(bench, a, ["10 Pa*s", "40 Pa*s"])
    (point,) = trend(bench).panels[0].points
    assert point.y == pytest.approx(20_000)
    assert (point.low, point.high) == (10_000, 40_000)
    assert any("2 readings" in words for words in point.hover)


def test_the_hover_tells_what_changed_and_why(bench: Bench, cream: Formula) -> None:
    _, b, _ = three(bench, cream)
    read(bench, b, "15 Pa*s")
    told = "\n".join(trend(bench).panels[0].points[0].hover)
    assert "from T1:" in told
    assert "Cetearyl alcohol 3.00 → 4.00 %" in told
    assert "25 °C" in told


def test_a_withdrawn_reading_is_left_out(bench: Bench, cream: Formula) -> None:
    a, b, _ = three(bench, cream)
    read(bench, a, "12 Pa*s")
    slip = read(bench, b, "99 Pa*s")
    bench.withdraw(slip, reason="wrong spindle")
    assert [p.y for p in trend(bench).panels[0].points] == [12_000]


def test_a_withdrawn_trial_is_left_out(bench: Bench, cream: Formula) -> None:
    a, b, c = three(bench, cream)
    for trial in (a, b, c):
        read(bench, trial, "12 Pa*s")
    bench.withdraw(b, reason="another batch was in the jar")
    assert len(trend(bench).panels[0].points) == 2
    assert len(family_tree(bench).panels[0].points) == 2


def test_the_window_of_the_brief_is_a_band(bench: Bench, cream: Formula) -> None:
    a, *_ = three(bench, cream)
    read(bench, a, "12 Pa*s")
    brief = Brief(product="hand cream", viscosity=("20 Pa*s", "35 Pa*s"))
    (band,) = trend(bench, brief=brief).panels[0].bands
    assert (band.low, band.high) == (20_000, 35_000)
    assert trend(bench).panels[0].bands == ()


def test_a_quantity_never_measured_names_those_that_were(bench: Bench, cream: Formula) -> None:
    a, *_ = three(bench, cream)
    read(bench, a, "12 Pa*s")
    with pytest.raises(MeasurementError, match="Measured here: viscosity"):
        trend(bench, "spread")


def test_an_empty_bench_says_so(bench: Bench) -> None:
    with pytest.raises(RecordError, match="at least one recorded trial|At least one"):
        family_tree(bench)
    with pytest.raises(RecordError, match="At least one recorded trial"):
        composition(bench)


def test_composition_shows_what_moved_and_zero_where_it_was_left_out(
    bench: Bench, cream: Formula
) -> None:
    three(bench, cream)
    chart = composition(bench)
    assert {p.title for p in chart.panels} == {"Aqua", "Cetearyl alcohol", "Glycerin"}
    later = bench.record(cream.add("Panthenol", "1 %", phase="C"), label="T4")
    panel = composition(bench, materials=["Panthenol"]).panels[0]
    assert [p.y for p in panel.points] == [0, 0, 0, 1.0]
    assert [p.hollow for p in panel.points] == [True, True, True, False]
    assert later.label == "T4"


@pytest.fixture
def hostile(bench: Bench) -> list[Chart]:
    cream = Formula.parse(
        f'phase,material,percent\nA,Aqua,q.s.\nA,"{HOSTILE.replace(chr(34), chr(39))}",3', HOSTILE
    )
    first = bench.record(cream, label="<img onerror=x>", note=HOSTILE)
    child = cream.move(1, "4 %")
    second = bench.record(child, parent=first, label="a&b", note=HOSTILE)
    for trial in (first, second):
        read(bench, trial.id, "12 Pa*s")
    return [trend(bench), composition(bench), family_tree(bench)]


def test_hostile_names_stay_words_in_the_static_picture(hostile: list[Chart]) -> None:
    for chart in hostile:
        markup = chart.html()
        assert "<script" not in markup
        assert not re.search(r"<(img|b)\b", markup)
        ET.fromstring(chart.svg)


def test_hostile_names_stay_words_in_the_live_figure(hostile: list[Chart]) -> None:
    for chart in hostile:
        raw = chart.figure.to_json()
        for text in re.findall(r'"((?:[^"\\]|\\.)*)"', raw):
            plain = text.encode().decode("unicode_escape")
            assert not re.search(r"<(script|img|b)\b(?!r)", plain), plain


def test_a_notebook_gets_a_live_figure_and_a_static_one_without_script(
    bench: Bench, cream: Formula
) -> None:
    a, *_ = three(bench, cream)
    read(bench, a, "12 Pa*s")
    bundle = trend(bench)._repr_mimebundle_()
    assert set(bundle) == {"application/vnd.plotly.v1+json", "text/html", "text/plain"}
    assert "<svg" in bundle["text/html"]
    assert "<script" not in bundle["text/html"]
    assert "http" not in html.unescape(bundle["text/html"]).replace(
        "http://www.w3.org/2000/svg", ""
    )


def test_words_are_read_on_light_and_on_dark_paper(bench: Bench, cream: Formula) -> None:
    """Contrast by WCAG 2.2: 4 to 1 on white and on the dark grey of a notebook for every ink
    of words, 2 to 1 for every mark."""
    a, *_ = three(bench, cream)
    read(bench, a, "12 Pa*s")
    chart = trend(bench)
    assert 'fill="currentColor"' in chart.svg
    assert not re.search(r'<text[^>]*fill="#', chart.svg)
    for paper in ("#ffffff", "#111111"):
        assert contrast(chart.figure.layout.font.color, paper) >= 4.0
        for series in chart.panels[0].series:
            assert contrast(series.ink, paper) >= 2.0


def contrast(ink: str, paper: str) -> float:
    light, dark = sorted((luminance(ink), luminance(paper)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    values = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in values]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_long_legends_wrap_inside_the_picture(bench: Bench, cream: Formula) -> None:
    a, *_ = three(bench, cream)
    for t in range(20, 29):
        read(bench, a, "12 Pa*s", temperature=f"{t} °C")
    root = ET.fromstring(trend(bench).svg)
    width = float(root.attrib["viewBox"].split()[2])
    words = [
        t for t in root.iter("{http://www.w3.org/2000/svg}text") if "spindle" in (t.text or "")
    ]
    assert len(words) == 9
    assert all(float(t.attrib["x"]) + 6.2 * len(t.text or "") <= width for t in words)
    assert len({t.attrib["y"] for t in words}) > 1


def test_save_writes_a_picture_that_parses(bench: Bench, cream: Formula, tmp_path: object) -> None:
    three(bench, cream)
    path = family_tree(bench).save(f"{tmp_path}/tree.svg")
    assert ET.parse(path).getroot().tag.endswith("svg")
