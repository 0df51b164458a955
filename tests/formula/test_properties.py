"""What must hold for every formula and every sequence of moves."""

from __future__ import annotations

import contextlib
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import FormulaError, MoveError, QuantityError
from labkit.formula import Formula, Line, Move
from labkit.formula.grid import TOTAL, apportion, percent_of, units_of
from labkit.formula.rebalance import share_out
from tests.formula.strategies import formulas, gives


@given(st.data())
def test_the_total_is_exactly_100_after_any_sequence_of_moves(data: st.DataObject) -> None:
    formula = data.draw(formulas())
    for _ in range(data.draw(st.integers(1, 6))):
        line = data.draw(st.integers(0, len(formula.lines) - 1))
        percent = percent_of(data.draw(st.integers(0, TOTAL)))
        give = data.draw(gives(formula))
        kind = data.draw(st.sampled_from(["set", "set", "remove", "add", "place", "swap"]))
        name = formula.lines[line].material
        move = Move(
            kind=kind,
            line=None if kind == "add" else line,
            material="Urea" if kind == "add" else name,
            phase="B" if kind in {"add", "place"} else None,
            percent=percent if kind in {"set", "add"} else None,
            give=give,
            to="Betaine" if kind == "swap" else "",
        )
        with contextlib.suppress(MoveError):
            formula = formula.apply(move)
        assert sum(x.percent for x in formula.lines) == Decimal(100)


@given(st.data())
def test_locked_lines_and_bounds_are_kept_by_every_move(data: st.DataObject) -> None:
    before = data.draw(formulas())
    line = data.draw(st.integers(0, len(before.lines) - 1))
    percent = percent_of(data.draw(st.integers(0, TOTAL)))
    try:
        after = before.move(line, percent, give=data.draw(gives(before)))
    except MoveError:
        return
    for old, new in zip(before.lines, after.lines, strict=True):
        assert not old.locked or old.percent == new.percent
        assert new.bounds[0] <= new.percent <= new.bounds[1]


@given(st.data())
def test_a_share_is_reached_exactly_when_it_lies_in_the_reachable_range(
    data: st.DataObject,
) -> None:
    formula = data.draw(formulas())
    line = data.draw(st.integers(0, len(formula.lines) - 1))
    give = data.draw(gives(formula))
    wanted = percent_of(data.draw(st.integers(0, TOTAL)))
    try:
        low, high = formula.reachable(line, give)
    except MoveError:
        with pytest.raises(MoveError):
            formula.move(line, wanted, give=give)
        return
    if formula.lines[line].locked:
        with pytest.raises(MoveError, match="is locked"):
            formula.move(line, wanted, give=give)
    elif low <= wanted <= high:
        assert formula.move(line, wanted, give=give).lines[line].percent == wanted
    else:
        with pytest.raises(MoveError, match="It can reach") as refusal:
            formula.move(line, wanted, give=give)
        assert refusal.value.facts["low"] == low
        assert refusal.value.facts["high"] == high


@given(st.data())
def test_out_and_back_from_where_the_drag_began_returns_the_same_formula(
    data: st.DataObject,
) -> None:
    origin = data.draw(formulas(bounded=False))
    line = data.draw(st.integers(0, len(origin.lines) - 1))
    give = data.draw(gives(origin))
    here = origin.lines[line].percent
    for units in data.draw(st.lists(st.integers(0, TOTAL), max_size=8)):
        with contextlib.suppress(MoveError):
            origin.move(line, percent_of(units), give=give)
    try:
        back = origin.move(line, here, give=give)
    except MoveError:
        return
    assert back == origin


@given(formulas())
def test_a_formula_survives_its_plain_values(formula: Formula) -> None:
    again = Formula.from_dict(formula.as_dict())
    assert again == formula
    assert again.fingerprint == formula.fingerprint


@given(formulas(), st.randoms(use_true_random=False))
def test_the_fingerprint_forgets_order_locks_bounds_and_notes(formula: Formula, random) -> None:  # type: ignore[no-untyped-def]
    lines = [
        Line(phase=x.phase, material=x.material, percent=x.percent, note="other")
        for x in formula.lines
    ]
    random.shuffle(lines)
    assert Formula("Other", tuple(lines)).fingerprint == formula.fingerprint


@given(
    st.lists(
        st.tuples(st.integers(0, 1000), st.integers(0, 500), st.integers(0, 500)),
        min_size=1,
        max_size=8,
    ),
    st.data(),
)
def test_sharing_out_agrees_with_water_filling_by_bisection(
    rows: list[tuple[int, int, int]], data: st.DataObject
) -> None:
    weights = [w for w, _, _ in rows]
    low = [a for _, a, _ in rows]
    high = [a + b for _, a, b in rows]
    total = data.draw(st.integers(sum(low), sum(high)))
    shared = share_out(weights, low, high, total, list(range(len(rows))))
    assert sum(shared) == total
    for got, ideal in zip(shared, bisected(weights, low, high, total), strict=True):
        assert abs(got - ideal) < 1 + Fraction(1, 10**6)


def bisected(weights: list[int], low: list[int], high: list[int], total: int) -> list[Fraction]:
    """Independent reference: the level at which clipped proportional shares add up."""

    def filled(level: Fraction, extra: Fraction) -> list[Fraction]:
        return [
            min(max(level * w if w else extra, Fraction(a)), Fraction(b))
            for w, a, b in zip(weights, low, high, strict=True)
        ]

    bottom, top = Fraction(0), Fraction(2000)
    if sum(filled(top, Fraction(0))) < total:
        for _ in range(60):
            middle = (bottom + top) / 2
            bottom, top = (
                (middle, top)
                if sum(filled(Fraction(2000), middle)) < total
                else (
                    bottom,
                    middle,
                )
            )
        return filled(Fraction(2000), top)
    for _ in range(60):
        middle = (bottom + top) / 2
        if sum(filled(middle, Fraction(0))) < total:
            bottom = middle
        else:
            top = middle
    return filled(top, Fraction(0))


@given(st.lists(st.integers(0, 10**6), min_size=1, max_size=30), st.integers(0, 10**6))
def test_apportioned_parts_add_up_and_stay_within_one_unit(shares: list[int], total: int) -> None:
    shares[0] += 1
    parts = apportion([Fraction(s) for s in shares], total)
    assert sum(parts) == total
    for part, share in zip(parts, shares, strict=True):
        assert abs(part - Fraction(share * total, sum(shares))) < 1


@given(formulas(), st.integers(1, 5000), st.sampled_from(["1 g", "0.1 g", "0.01 g", "0.001 g"]))
def test_rounded_grams_add_up_to_the_batch_on_any_balance(
    formula: Formula, batch: int, balance: str
) -> None:
    grams = formula.grams(f"{batch} g", balance)
    step = Decimal(balance.split()[0])
    assert sum(grams) == batch
    for gram, line in zip(grams, formula.lines, strict=True):
        assert gram % step == 0
        assert abs(gram - line.percent * batch / 100) < step


@given(formulas())
def test_exact_grams_are_the_percentages(formula: Formula) -> None:
    for gram, line in zip(formula.grams("250 g"), formula.lines, strict=True):
        assert gram == line.percent * 250 / 100
        assert units_of(gram * 100 / 250) == units_of(line.percent)


@given(st.text(max_size=200))
def test_any_text_parses_or_is_refused_in_words(text: str) -> None:
    try:
        outcome = str(Formula.parse(text))
    except ValueError as refusal:
        outcome = str(refusal)
    assert outcome


@given(st.text(alphabet="phasemtril,;|\t\n0123456789.%-qAB ", max_size=120))
def test_a_heading_and_any_rows_parse_or_are_refused(rows: str) -> None:
    try:
        total = Formula.parse("phase,material,percent\n" + rows).total
    except FormulaError:
        total = Decimal(100)
    except QuantityError as refusal:
        total = Decimal(100) if "percentage" in str(refusal) else Decimal(0)
    assert total == 100
