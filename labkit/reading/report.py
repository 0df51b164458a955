"""The report on a recipe that was read: what was taken as what, and what to decide."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from pathlib import PurePath
from typing import Any

from labkit.errors import FormulaError
from labkit.formula import Formula
from labkit.reading.agreement import doubles, tidy_name
from labkit.reading.deciding import Answer, decide
from labkit.reading.model import Finding, Measured, ReadAs, ReadLine, ReadRecipe, RowFate, digits
from labkit.reading.showing import report_html, report_words

__all__ = ["RecipeReport"]


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class RecipeReport:
    """What was read as what, with the questions to answer.

    ``recipes`` are the recipes as they stand in the sheet (several when trials stand
    beside each other), ``findings`` what the reader has to say, ``rows`` the fate of
    every row, ``original`` the bytes of the file, to be stored with the trial.
    """

    name: str
    read_as: ReadAs
    recipes: tuple[ReadRecipe, ...]
    findings: tuple[Finding, ...]
    rows: tuple[RowFate, ...]
    lineage_offer: tuple[tuple[str, str], ...] = ()
    set_aside: tuple[tuple[ReadLine, ...], ...] = ()
    original: bytes = field(default=b"", repr=False)
    sha256: str = ""
    settled: Formula | None = None
    reread: Callable[[str], RecipeReport] | None = field(default=None, repr=False, compare=False)

    @property
    def questions(self) -> tuple[Finding, ...]:
        """What must be answered before there is a formula."""
        return tuple(x for x in self.findings if x.severity == "ask")

    @property
    def measurements(self) -> tuple[tuple[str | None, Measured], ...]:
        """Readings below the recipes, each with the trial it belongs to."""
        return tuple((x.trial, m) for x in self.recipes for m in x.measurements)

    def formula(
        self,
        answers: Mapping[str, Answer] | None = None,
        name: str | None = None,
        which: int | str = 0,
    ) -> Formula:
        """The formula, once every question is answered.

        Parameters
        ----------
        answers : mapping, optional
            Question (as the report shows it, ``"row 15: amount"``) to answer
            (``"0.2 %"``, ``"join"``, ``"scale to 100"``, the name of a sheet …).
        name : str, optional
            What the formula is called; without it the title of the sheet.
        which : int or str
            Among trials side by side: position from 0, or the trial's name.

        Raises
        ------
        FormulaError
            Questions are open, and each is listed; an answer cannot be understood or
            belongs to no question; or the recipe has no lines.

        Notes
        -----
        Grams and parts become percent exactly, then are rounded to 0.0001 % by largest
        remainder so that the total is exactly 100; the report tells where that happens.
        """
        given = {_key(k): v for k, v in (answers or {}).items()}
        wanted = given.pop("sheet", None)
        if wanted is not None and str(wanted) != self.read_as.sheet and self.reread is not None:
            return self.reread(str(wanted)).formula(given, name, which)
        place = self._place(which)
        title = name or self.recipes[place].title or PurePath(self.name).stem or "Recipe"
        if self.settled is not None and not given:
            return self.settled if name is None else replace(self.settled, name=name)
        hidden = self.set_aside[place] if place < len(self.set_aside) else ()
        questions = tuple(x for x in self.questions if self._concerns(x, place))
        if wanted is not None:
            questions = tuple(x for x in questions if x.question != "sheet")
        return decide(self.recipes[place], hidden, questions, given, title, self._all_keys())

    def formulas(self, answers: Mapping[str, Answer] | None = None) -> tuple[Formula, ...]:
        """The formulas of all trials, in the order of the sheet."""
        return tuple(self.formula(answers, which=i) for i in range(len(self.recipes)))

    def _all_keys(self) -> frozenset[str]:
        return frozenset(_key(x.question) for x in self.questions if x.question)

    def _place(self, which: int | str) -> int:
        labels = [x.trial for x in self.recipes]
        if isinstance(which, str) and which in labels:
            return labels.index(which)
        if isinstance(which, int) and 0 <= which < len(self.recipes):
            return which
        asked = [f"{x.question}: {x.say}" for x in self.questions]
        raise FormulaError(
            where=self.name,
            found=f"no recipe {which!r} was read" if self.recipes else "no recipe was read",
            allowed="; ".join(str(x) for x in labels if x)
            or "A sheet with a material and its amount",
            cause=asked[0] if asked and not self.recipes else "The trial is called otherwise",
            do="Print the report to see what was read as what",
        )

    def _concerns(self, finding: Finding, place: int) -> bool:
        """Whether a question has to do with one recipe of the sheet."""
        recipe = self.recipes[place]
        if finding.trial is not None:
            return finding.trial == recipe.trial
        if finding.row is None or len(self.recipes) == 1:
            return True
        rows = [x.row for x in recipe.lines] + [recipe.total_row or 0]
        others = [x.row for i, r in enumerate(self.recipes) if i != place for x in r.lines]
        return finding.row in range(min(rows or [0]), max(rows) + 1) or finding.row not in others

    def as_dict(self) -> dict[str, Any]:
        """The report as plain values; amounts are text, so that every digit stays."""
        record: dict[str, Any] = {
            "file": self.name,
            "sha256": self.sha256,
            "read_as": self.read_as.as_dict(),
            "formulas": [_recipe_dict(x) for x in self.recipes],
            "findings": [x.as_dict() for x in self.findings],
            "rows": [x.as_dict() for x in self.rows],
        }
        totals = _totals(self.recipes)
        if totals:
            record["total_by_material"] = totals
        if self.lineage_offer:
            record["lineage_offer"] = [list(x) for x in self.lineage_offer]
        return record

    def __repr__(self) -> str:
        lines = sum(len(x.lines) for x in self.recipes)
        told = (
            _count(len(self.recipes), "recipe"),
            _count(lines, "line"),
            _count(len(self.questions), "open question"),
        )
        return f"<Recipe report on {self.name!r}: {', '.join(told)}>"

    def __str__(self) -> str:
        return report_words(self)

    def _repr_html_(self) -> str:
        return report_html(self)


def _count(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


def _key(question: str) -> str:
    return " ".join(question.casefold().split())


def _recipe_dict(recipe: ReadRecipe) -> dict[str, Any]:
    record: dict[str, Any] = {"title": recipe.title}
    if recipe.trial is not None:
        record["trial"] = recipe.trial
    if recipe.day is not None:
        record["date"] = recipe.day.isoformat()
    record["basis"] = recipe.basis
    if recipe.batch_g is not None:
        record["batch_g"] = digits(recipe.batch_g)
    record["stated_total"] = None if recipe.stated_total is None else digits(recipe.stated_total)
    if recipe.phase_notes:
        record["phase_notes"] = dict(recipe.phase_notes)
    record["lines"] = [x.as_dict() for x in recipe.lines]
    if recipe.measurements:
        record["measurements"] = [x.as_dict() for x in recipe.measurements]
    if recipe.remark is not None:
        record["remark"] = recipe.remark
    record["sum_of_amounts"] = digits(recipe.total)
    return record | _rest(recipe) | _shares(recipe)


def _rest(recipe: ReadRecipe) -> dict[str, Any]:
    """What the line that takes the rest must come to, and which lines are open."""
    record: dict[str, Any] = {}
    whole = Decimal(100) if recipe.basis == "percent" else recipe.batch_g
    if len(recipe.rest_lines) == 1 and whole is not None and whole > 0:
        name = {"percent": "balance_pct", "grams": "balance_g", "parts": "balance_parts"}[
            recipe.basis
        ]
        later = "_if_open_lines_were_zero" if recipe.open_lines else ""
        rest = whole - recipe.whole
        record[name + later] = digits(rest)
        if recipe.basis == "grams":
            record["balance_pct" + later] = _six(Fraction(rest) * 100 / Fraction(whole))
    if recipe.open_lines:
        record["open_lines"] = [x.row for x in recipe.open_lines]
    return record


def _shares(recipe: ReadRecipe) -> dict[str, Any]:
    """Grams or parts as percent of the whole, six decimals."""
    whole = Fraction(recipe.batch_g or 0) if recipe.rest_lines else Fraction(recipe.whole)
    if recipe.basis == "percent" or not whole:
        return {}
    rest = whole - Fraction(recipe.whole)
    return {
        "percent_exact": [
            _six((rest if x.kind == "balance" else x.mass) * 100 / whole)  # type: ignore[operator]
            if x.mass is not None or (x.kind == "balance" and len(recipe.rest_lines) == 1)
            else None
            for x in recipe.lines
        ]
    }


def _six(share: Fraction) -> str:
    units = round(share * 1_000_000)
    return f"{Decimal(units).scaleb(-6):.6f}"


def _totals(recipes: tuple[ReadRecipe, ...]) -> dict[str, str]:
    """Materials on several lines of a single recipe, with their joint amount."""
    if len(recipes) != 1:
        return {}
    totals = {}
    for lines in doubles(recipes[0]).values():
        amounts = [x.amount for x in lines if x.kind == "amount" and x.amount is not None]
        if len(amounts) == len(lines):
            totals[_tidy_label(lines)] = digits(sum(amounts, Decimal(0)))
    return totals


def _tidy_label(lines: list[ReadLine]) -> str:
    """The name of a material as a list would print it."""
    plain_ones = [x.name for x in lines if tidy_name(x.name) == x.name.casefold()] or [
        lines[0].name
    ]
    words = (plain_ones[0] if not plain_ones[0].isupper() else plain_ones[-1]).split()
    return " ".join(x if x != x.lower() else x[:1].upper() + x[1:] for x in words)
