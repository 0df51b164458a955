"""Bench spellings of numbers and units. Conversions: NIST SP 811 (2008), Appendix B."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import QuantityError
from labkit.quantities import UNITS, decimal, kinds, parse


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("18.2 Pa*s", "18.2", "Pa*s"),
        ("18900 cps", "18900", "mPa*s"),
        ("18900cP", "18900", "mPa*s"),
        ("20k cP", "20000", "mPa*s"),
        ("20 k cps", "20000", "mPa*s"),
        ("4,5 Pa.s", "4.5", "Pa*s"),
        ("18 900 mPas", "18900", "mPa*s"),
        ("1.2e4 mPa·s", "12000", "mPa*s"),
        ("25 °C", "25", "°C"),
        ("25C", "25", "°C"),
        ("-5 ºC", "-5", "°C"),
        ("77 F", "77", "°F"),
        ("1.2 kg", "1.2", "kg"),
        ("90 sec", "90", "s"),
        ("45 micron", "45", "µm"),
        ("4.60 pH", "4.60", "pH"),
    ],
)
def test_bench_spellings_are_read_with_their_digits(text: str, value: str, unit: str) -> None:
    read = parse(text)
    assert (str(read.value), read.unit) == (value, unit)


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("1 Pa*s", "cP", 1000.0),  # SP 811 B.8: centipoise = 1 mPa s
        ("1 poise", "Pa*s", 0.1),  # SP 811 B.8: poise = 0.1 Pa s
        ("77 F", "°C", 25.0),  # SP 811 B.8: (F - 32)/1.8
        ("298.15 K", "°C", 25.0),
        ("1 lb", "g", 453.59237),  # SP 811 B.8: pound (avoirdupois)
        ("1 oz", "g", 28.349523125),
        ("2 h", "min", 120.0),
        ("997 kg/m3", "g/mL", 0.997),
        ("10000 ppm", "%", 1.0),
    ],
)
def test_conversions_follow_the_standard_factors(text: str, unit: str, expected: float) -> None:
    assert parse(text).to(unit) == pytest.approx(expected, rel=1e-12)


def test_a_unit_outside_the_table_goes_through_the_unit_library() -> None:
    assert parse("0.5 kilopascal").to("Pa") == pytest.approx(500)
    assert parse("0.2 m", kind="length").to("mm") == pytest.approx(200)


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("12000", "viscosity", "has no unit.*Write '12000 mPa\\*s' or '12 Pa\\*s'"),
        ("5", None, "has no unit"),
        ("18,900 cps", "viscosity", "can be read as 18900 or as 18.900"),
        ("1.234.567 cP", "viscosity", "can be read as 1234567"),
        ("3 drops", "mass", "counted, not weighed.*Drops and spoons"),
        ("1 tsp", "mass", "counted, not weighed"),
        ("25 c", None, "does not say which degrees"),
        ("25", "temperature", "has no unit"),
        ("12 g", "viscosity", "is a mass, not a viscosity"),
        ("12 wubble", None, "the unit 'wubble'.*is not known"),
        ("1E9999999 cP", "viscosity", "is not one number with one unit"),
        ("twelve", None, "is not one number with one unit"),
        ("1_000 g", "mass", "is not one number with one unit"),
        ("", "mass", "is not one number with one unit"),
        ("5 g\u202e", "mass", "is not one number with one unit"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(text: str, kind: str | None, words: str) -> None:
    with pytest.raises(QuantityError, match=words):
        parse(text, kind)


@pytest.mark.parametrize(
    "text", ["NaN", "Infinity", "1e400", "1_000", "٣", "0x10", "1,2,3", "5 %%", ""]
)
def test_what_is_not_a_plain_number_is_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="Line 3: .* is not a percentage"):
        decimal(text, where="Line 3", what="a percentage")


@pytest.mark.parametrize("text", ["-0", "-0.0", "-3"])
def test_a_negative_share_is_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="is below 0"):
        decimal(text, lowest=0)


def test_two_kinds_are_never_converted_into_each_other() -> None:
    with pytest.raises(QuantityError, match="is a mass, not a viscosity"):
        parse("3 g").to("mPa*s")


@given(st.decimals(min_value=0, max_value=10**9, places=4), st.sampled_from(sorted(UNITS)))
def test_every_spelling_reads_back_the_digits_it_was_written_with(
    value: Decimal, word: str
) -> None:
    if UNITS[word].kind == "temperature" and word in {"C", "F", "K"}:
        return
    read = parse(f"{value} {word}")
    assert read.value == value
    assert read.unit == UNITS[word].name


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    try:
        outcome = str(parse(text))
    except QuantityError as refusal:
        outcome = refusal.found and refusal.do
    assert outcome


def test_every_kind_has_a_unit_of_its_own() -> None:
    assert {unit.kind for unit in UNITS.values()} == set(kinds())
