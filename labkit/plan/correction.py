"""A correction of a batch in the beaker: what goes in, what every percentage becomes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from labkit.errors import FormulaError
from labkit.estimates.finding import Findings
from labkit.estimates.weighing import READINGS
from labkit.formula import Formula
from labkit.formula.grid import show
from labkit.formula.lines import Line
from labkit.formula.names import is_water
from labkit.formula.weighed import from_grams
from labkit.materials import Materials
from labkit.science.restoring import to_restore

if TYPE_CHECKING:
    import pandas as pd

    from labkit.bench import Bench, Record, Trial

__all__ = ["Addition", "Correction", "Fall", "line_of", "mixed"]

WATCHED = (
    "preservative",
    "preservative booster",
    "preservative aid",
    "antimicrobial aid",
    "chelator",
    "fragrance",
    "antioxidant",
    "colourant",
    "active",
)
"""Main functions whose level matters as such, not only beside the others."""
FOUR = Decimal("0.0001")
NOISE = Decimal("0.0002")
"""Falls up to here come from rounding to the grid [%]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Addition:
    """Grams of one thing that goes into the beaker; a stock brings its carrier along."""

    material: str
    grams: Decimal
    strength: Decimal = Decimal(100)
    carrier: str = "Aqua"

    def parts(self) -> tuple[tuple[str, Fraction], ...]:
        """What it brings, in grams: the material, and the carrier of a stock."""
        grams, share = Fraction(self.grams), Fraction(self.strength) / 100
        own = ((self.material, grams * share),)
        return own if share == 1 else (*own, (self.carrier, grams * (1 - share)))

    def __str__(self) -> str:
        stock = "" if self.strength == 100 else f" {self.strength.normalize():f} % stock"
        return f"{self.grams:f} g {self.material}{stock}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """A line whose percentage fell, and the grams of it that bring it back."""

    line: int
    material: str
    before: Decimal
    after: Decimal
    restore_g: Decimal
    weighable: bool

    def __str__(self) -> str:
        how = f"{self.restore_g:f} g restores it"
        if not self.weighable:
            how += " (under 100 digits of the balance: a finer balance, or a stock it dissolves in)"
        return f"{self.material} {self.before.normalize():f} → {self.after:f} %: {how}"


def mixed(
    formula: Formula, mass_g: Decimal, additions: Sequence[Addition], mats: Materials
) -> Formula:
    """The formula of what is in the beaker after something was added.

    Parameters
    ----------
    formula : Formula
        What was in it.
    mass_g : Decimal
        How much of it [g].
    additions : sequence of Addition
    mats : Materials
        Says which names mean the same material.

    Returns
    -------
    Formula
        Percentages on the grid of 0.0001 %, total exactly 100; bounds that no longer hold
        are dropped, the q.s. line stays.
    """
    grams = [Fraction(x.percent) * Fraction(mass_g) / 100 for x in formula.lines]
    lines = list(formula.lines)
    for name, mass in (part for one in additions for part in one.parts()):
        at = line_of(formula, lines, name, mats)
        if at is None:
            lines.append(Line(phase=lines[-1].phase, material=name, percent=Decimal(0)))
            grams.append(Fraction(0))
            at = len(lines) - 1
        grams[at] += mass
    return from_grams(formula, grams, lines)


def line_of(formula: Formula, lines: Sequence[Line], name: str, mats: Materials) -> int | None:
    """The line that a material belongs to; water goes to the q.s. line where that is water."""
    wanted = mats.resolve(name)
    key = wanted.key if wanted is not None else None
    hits = [
        i
        for i, x in enumerate(lines)
        if x.material.casefold() == name.casefold()
        or (is_water(x.material) and is_water(name))
        or (key is not None and (x.key or getattr(mats.resolve(x.material), "key", None)) == key)
    ]
    if formula.qs in hits:
        return formula.qs
    return hits[-1] if hits else None


@dataclass(frozen=True, kw_only=True)
class Correction:
    """What to add, what becomes of every percentage, and what it takes down with it.

    Attributes
    ----------
    trouble : str
        What was wrong, such as ``"too thick"``.
    possible : bool
        False when the batch cannot be saved by adding something; ``why`` says so.
    additions : tuple of Addition
        In the order in which they go in.
    steps : tuple of str
        How it is done, cautions first.
    planned, before, after : Formula
        What was to be made; what is in the beaker without and with the additions.
    mass_g, mass_after_g : Decimal
    findings : Findings
        What is new after the correction; what held before is not told again.
    """

    trouble: str
    possible: bool
    why: str
    additions: tuple[Addition, ...]
    steps: tuple[str, ...]
    planned: Formula
    before: Formula
    after: Formula
    mass_g: Decimal
    balance_g: Decimal
    findings: Findings = field(default_factory=Findings)
    mats: Materials = field(repr=False)

    @property
    def mass_after_g(self) -> Decimal:
        """What is in the beaker afterwards [g]."""
        return self.mass_g + sum((x.grams for x in self.additions), Decimal(0))

    @property
    def fell(self) -> tuple[Fall, ...]:
        """Preservative, chelator, fragrance, active … that were diluted, and what restores them.

        The grams restore all of them together.
        """
        found = [
            i
            for i, x in enumerate(self.planned.lines)
            if self.after.lines[i].percent < x.percent - NOISE and self._watched(x)
        ]
        if not found:
            return ()
        now = [float(self.after.lines[i].percent) for i in found]
        wanted = [float(self.planned.lines[i].percent) for i in found]
        grams = to_restore(float(self.mass_after_g), now, wanted)
        return tuple(self._fall(i, float(g)) for i, g in zip(found, grams, strict=True))

    def _watched(self, line: Line) -> bool:
        material = self.mats.resolve(line.key or line.material)
        return (
            material is not None and bool(material.functions) and (material.functions[0] in WATCHED)
        )

    def _fall(self, i: int, grams: float) -> Fall:
        exact = Decimal(repr(grams)).quantize(FOUR)
        return Fall(
            line=i,
            material=self.planned.lines[i].material,
            before=self.planned.lines[i].percent,
            after=self.after.lines[i].percent,
            restore_g=exact,
            weighable=exact >= READINGS * self.balance_g,
        )

    def restored(self, strengths: Mapping[str, Any] | None = None) -> Correction:
        """The same correction with what fell brought back.

        Parameters
        ----------
        strengths : mapping of str to number, optional
            Materials that are added as a stock in water, and its strength [%].
        """
        falls = self.fell
        if not falls:
            return self
        strong = [Decimal(str((strengths or {}).get(x.material, 100))) for x in falls]
        grams = to_restore(
            float(self.mass_after_g),
            [float(x.after) for x in falls],
            [float(x.before) for x in falls],
            np.array([float(s) for s in strong]),
        )
        extra = tuple(
            Addition(material=x.material, grams=Decimal(repr(float(g))).quantize(FOUR), strength=s)
            for x, g, s in zip(falls, grams, strong, strict=True)
        )
        after = mixed(self.after, self.mass_after_g, extra, self.mats)
        return replace(self, additions=(*self.additions, *extra), after=after)

    def fold(self, name: str | None = None) -> Formula:
        """The formula of the next trial: what the beaker holds now, as a recipe of 100 %.

        Raises
        ------
        FormulaError
            The batch cannot be saved: there is nothing to fold in.
        """
        if not self.possible:
            raise FormulaError(
                where=f"{self.before.name}, {self.trouble}",
                found="a batch that cannot be saved by an addition",
                allowed="A correction that adds something",
                cause=self.why,
                do="Change the formula itself, and make it anew as the next trial",
            )
        return self.after if name is None else self.after.renamed(name)

    def record(
        self,
        bench: Bench,
        about: Trial,
        *,
        before: Mapping[str, Any] | None = None,
        after: Mapping[str, Any] | None = None,
        decided_by: str = "",
        note: str = "",
    ) -> Record:
        """Write the correction into the history: grams, percentages, readings, who decided.

        Parameters
        ----------
        before, after : mapping, optional
            Readings, such as ``{"ph": "6.10"}``.
        decided_by, note : str, optional
            Initials or a word for who decided; anything else worth a line.
        """
        body: dict[str, Any] = {"reason": self.trouble + ("" if self.possible else ": not saved")}
        body["additions"] = [
            {"material": x.material, "grams": f"{x.grams:f}", "strength": f"{x.strength:f}"}
            for x in self.additions
        ]
        body["formula"] = self.after.as_dict()
        for name, said in (("before", before), ("after", after)):
            if said:
                body[name] = {key: str(value) for key, value in said.items()}
        words = [note, f"decided by {decided_by}" if decided_by else ""]
        if told := "; ".join(word for word in words if word):
            body["note"] = told
        return bench.add("correction", body, about=about)

    def table(self) -> pd.DataFrame:
        """Columns material, before, after (% w/w), one row a line."""
        import pandas as pd

        return pd.DataFrame(self._all_rows(), columns=["material", "before", "after"])

    def _all_rows(self) -> list[tuple[str, Decimal, Decimal]]:
        old = [x.percent for x in self.before.lines]
        old += [Decimal(0)] * (len(self.after.lines) - len(old))
        return [(x.material, p, x.percent) for x, p in zip(self.after.lines, old, strict=True)]

    def _rows(self) -> list[tuple[str, Decimal, Decimal]]:
        return [row for row in self._all_rows() if row[1] != row[2]]

    def __str__(self) -> str:
        head = f"{self.before.name}, {self.trouble}, {self.mass_g.normalize():f} g in the beaker"
        if not self.possible:
            return "\n".join([f"{head}: cannot be saved.", self.why, *self.steps])
        adds = "; ".join(map(str, self.additions)) or "nothing"
        told = [f"{head}: add {adds}; then {self.mass_after_g.normalize():f} g."]
        told += [f"- {step}" for step in self.steps]
        changed = [f"{name} {show(old)} → {show(new)} %" for name, old, new in self._rows()]
        told += ["Now: " + "; ".join(changed)] if changed else []
        told += [f"Fell: {fall}" for fall in self.fell]
        told += [f"New: {finding}" for finding in self.findings]
        return "\n".join(told)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        head, *rest = str(self).splitlines()
        items = "".join(f"<li>{escape(x.removeprefix('- '))}</li>" for x in rest)
        return f"<p><b>{escape(head)}</b></p><ul>{items}</ul>"
