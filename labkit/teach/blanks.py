"""A master formula with blanks: what learners may decide, and what stays as it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from labkit.errors import FormulaError
from labkit.formula import Formula, Line
from labkit.formula.grid import read_percent, show

__all__ = ["blanks_of", "changed_locks", "fill", "master"]


def master(formula: Formula, blanks: Mapping[str, tuple[Any, Any]]) -> Formula:
    """A formula in which learners may move a few lines, inside bounds, and no others.

    Parameters
    ----------
    formula : Formula
        With a q.s. line; its shares are the defaults.
    blanks : mapping of str to (low, high)
        Material to the lowest and highest share a learner may choose [% w/w].

    Returns
    -------
    Formula
        The blanks are bounded lines, the q.s. line takes the rest, all others are locked.

    Raises
    ------
    FormulaError
        No q.s. line, no blank, the q.s. line as a blank, or blanks that ask for more than
        the q.s. line can give.
    MoveError
        A material that is not in the formula.

    Examples
    --------
    >>> gel = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Glycerin,4
    ... B,Xanthan Gum,0.5''')
    >>> made = master(gel, {"xanthan gum": ("0.2 %", "1 %")})
    >>> [x.material for x in made.lines if x.locked], list(blanks_of(made))
    (['Glycerin'], ['Xanthan Gum'])
    """
    if formula.qs is None or not blanks:
        raise FormulaError(
            where=formula.name,
            found="no q.s. line" if blanks else "no blank",
            allowed="One q.s. line, and at least one line that learners decide",
            cause="The formula was written without a line that takes the rest"
            if blanks
            else "Nothing was left open",
            do="Name the q.s. line with formula.rest('Aqua')"
            if blanks
            else "Name a material with its lowest and highest share",
        )
    open_lines = {formula.find(name): pair for name, pair in blanks.items()}
    if formula.qs in open_lines:
        raise FormulaError(
            where=formula.name,
            found=f"{formula.lines[formula.qs].material} as a blank",
            allowed="Any line but the q.s. line",
            cause="The q.s. line follows the others and has no amount of its own",
            do="Leave it out of the blanks",
        )
    lines = tuple(
        _bounded(line, open_lines[i])
        if i in open_lines
        else replace(line, locked=i != formula.qs, low=None, high=None)
        for i, line in enumerate(formula.lines)
    )
    _check_room(formula, lines)
    return Formula(formula.name, lines, formula.phases, formula.qs)


def _bounded(line: Line, pair: tuple[Any, Any]) -> Line:
    low, high = (read_percent(end, where=line.where) for end in pair)
    return replace(line, locked=False, low=low, high=high)


def _check_room(formula: Formula, lines: tuple[Line, ...]) -> None:
    assert formula.qs is not None
    asked = sum((x.high - x.percent for x in lines if x.high is not None), Decimal(0))
    rest = lines[formula.qs]
    if asked > rest.percent:
        raise FormulaError(
            where=formula.name,
            found=f"blanks that can ask for {show(asked)} % more than their defaults",
            allowed=f"At most {show(rest.percent)} %, what {rest.material} has to give",
            cause="The upper bounds are too high together",
            do="Lower an upper bound",
        )


def blanks_of(formula: Formula) -> dict[str, tuple[Decimal, Decimal, Decimal]]:
    """The lines that learners decide: material to lowest share, default, highest share [%]."""
    return {
        line.material: (line.low, line.percent, line.high)
        for line in formula.lines
        if line.low is not None and line.high is not None and not line.locked
    }


def fill(formula: Formula, choices: Mapping[str, Any]) -> Formula:
    """A master with the blanks filled in; those not named keep their default.

    Raises
    ------
    MoveError
        A locked line, or a share outside the bounds of a blank; the range is named.
    """
    for material, share in choices.items():
        formula = formula.move(material, share)
    return formula


def changed_locks(given: Formula, made: Formula) -> tuple[str, ...]:
    """Lines of a learner's formula that differ where the master was locked, in words."""
    shares = {(x.phase, x.identity): x.percent for x in made.lines}
    known = {(x.phase, x.identity) for x in given.lines}
    told = []
    for line in given.lines:
        now = shares.get((line.phase, line.identity), Decimal(0))
        if line.locked and now != line.percent:
            told.append(f"{line.material} {show(line.percent)} → {show(now)} %")
        low, high = line.bounds
        if not line.locked and not low <= now <= high:
            told.append(f"{line.material} {show(now)} %, outside {show(low)} to {show(high)} %")
    told += [f"{x.material} added" for x in made.lines if (x.phase, x.identity) not in known]
    return tuple(told)
