"""Cards and lists show values with units and the kind of source, and nothing executes."""

from __future__ import annotations

from labkit.materials import Material, Materials

MATS = Materials.starter()


def test_a_card_shows_values_units_and_kind_of_source() -> None:
    html = MATS["glycerol"]._repr_html_()
    for words in ("1.261 g/mL", "2 to 10 %", "100 °C", "3.2 EUR/kg", "common practice", "memory"):
        assert words in html
    assert "invented" in html


def test_a_card_says_what_is_not_known() -> None:
    assert "not known" in Material(key="x", name="X", inci="X")._repr_html_()
    assert "share not known" in MATS["olive-emulsifier"]._repr_html_()
    assert "27 to 29 %" in MATS["sles-28"]._repr_html_()


def test_one_sided_and_single_figures_are_told() -> None:
    html = Material(key="x", name="X", inci="X", use_high=3.0, ph_low=4.0)._repr_html_()
    assert "up to 3 %" in html
    assert "from 4" in html


def test_names_cannot_bring_markup() -> None:
    nasty = Material(key="x", name="<script>x</script>", inci="<b>X</b>", note="a & b")
    for html in (nasty._repr_html_(), Materials([nasty])._repr_html_()):
        assert "<script" not in html
        assert "<b>" not in html


def test_a_long_list_says_how_many_more() -> None:
    assert "and 468 more" in MATS._repr_html_()
    assert repr(MATS) == "<Materials: 528 materials>"
