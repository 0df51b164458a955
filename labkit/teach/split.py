"""One base, many beakers: a class makes one batch together and doses it apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_UP, Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from labkit.bench import Bench, Trial
from labkit.bench.records import Record
from labkit.errors import FormulaError
from labkit.formula import Formula, Line
from labkit.formula.grid import TOTAL, apportion, percent_of, read_percent, show, units_of
from labkit.paperwork.blocks import Cell, Row, Table, Words
from labkit.paperwork.page import Document
from labkit.quantities import parse

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Beaker", "Split", "split_base"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Beaker:
    """One beaker: what goes onto the base, grams of both, and the finished formula."""

    name: str
    addition: str
    percent: Decimal
    base_g: Decimal
    addition_g: Decimal
    formula: Formula


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """A base and the beakers it is shared out to."""

    base: Formula
    beakers: tuple[Beaker, ...]
    base_g: Decimal
    balance: Decimal

    def table(self) -> pd.DataFrame:
        """Columns beaker, addition, percent, base [g], addition [g]."""
        import pandas as pd

        rows = [(b.name, b.addition, b.percent, b.base_g, b.addition_g) for b in self.beakers]
        head = ["beaker", "addition", "percent", "base_g", "addition_g"]
        return pd.DataFrame(rows, columns=head)

    def grams(self) -> tuple[tuple[str, Decimal], ...]:
        """What is weighed for the base: material to grams, adding up to exactly ``base_g``."""
        grams = self.base.grams(f"{self.base_g} g", f"{self.balance} g")
        return tuple((x.material, g) for x, g in zip(self.base.lines, grams, strict=True))

    def record(self, bench: Bench, note: str = "", parent: Any = None) -> list[Trial]:
        """Record the shared base as a batch, and each beaker as a trial made of it."""
        weighed = [{"material": name, "planned_g": f"{g:f}"} for name, g in self.grams()]
        body = {
            "label": f"{self.base.name}, shared base",
            "formula": self.base.as_dict(),
            "mass_g": f"{self.base_g:f}",
            "weighings": weighed,
        }
        batch: Record = bench.add("batch", body | ({"note": note} if note else {}))
        return [
            bench.record(
                b.formula,
                parent=parent,
                batch=batch,
                note=f"beaker {b.name}: {show(b.percent)} % {b.addition}",
            )
            for b in self.beakers
        ]

    @property
    def page(self) -> Document:
        """What to weigh for the base, and what goes into each beaker, to be printed."""
        base: list[Row] = [(name, f"{g:f}", Cell(kind="blank")) for name, g in self.grams()]
        shares: list[Row] = [
            (b.name, b.addition, show(b.percent), f"{b.base_g:f}", f"{b.addition_g:f}",
             Cell(kind="blank"), Cell(kind="tick"))
            for b in self.beakers
        ]  # fmt: skip
        head = ("beaker", "addition", "% w/w", "base [g]", "addition [g]", "weighed [g]", "in")
        return Document(
            kind="One base, many beakers",
            title=self.base.name,
            blocks=[
                Words(text=f"Make {self.base_g:f} g of base together."),
                Table(head=("base", "weigh [g]", "weighed [g]"), rows=base, numeric=frozenset({1})),
                Table(head=head, rows=shares, numeric=frozenset({2, 3, 4}), stack_from=9),
            ],
            foot="A beaker without an addition is the blank: it gets water in its place.",
        )


def split_base(
    base: Formula,
    additions: Mapping[str, Any] | Sequence[tuple[str, Any]],
    *,
    beaker: str = "50 g",
    spare: float = 0.10,
    balance: str = "0.01 g",
    phase: str = "Z",
    blank: str | None = "Aqua",
) -> Split:
    """Share one base out to many beakers, each with its own addition.

    Parameters
    ----------
    base : Formula
        Adds up to 100 by itself.
    additions : mapping or sequence of (material, share)
        What goes onto the base in each beaker [% w/w of the finished beaker]; a sequence
        may name a material more than once, at several shares.
    beaker : str
        Mass of each finished beaker.
    spare : float
        Base on top, 0.10 for a tenth.
    balance : str
        What the balance reads to; grams are whole steps.
    phase : str
        In which the addition stands.
    blank : str, optional
        What a last beaker gets in place of an addition, at the mean share; None for no
        such beaker.

    Returns
    -------
    Split

    Raises
    ------
    FormulaError
        No additions, or one of 0 or 100 % or more.

    Notes
    -----
    Each line of the base falls to (100 - p)/100 of its share; rounded to the grid so that
    every beaker adds up to exactly 100.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5", name="Gel")
    >>> made = split_base(gel, [("Fragrance", "0.5 %"), ("Fragrance", "1 %")], beaker="40 g")
    >>> [(b.name, str(b.base_g), str(b.addition_g), b.formula.total) for b in made.beakers][0]
    ('1', '39.80', '0.20', Decimal('100.0000'))
    >>> str(made.base_g)
    '131.01'
    """
    listed = list(additions.items() if isinstance(additions, Mapping) else additions)
    step = parse(balance, "mass", where="Balance").exact("g")
    mass = parse(beaker, "mass", where="Beaker").exact("g")
    shares = [(name, read_percent(share, where=f"Beaker with {name}")) for name, share in listed]
    bad = [(name, share) for name, share in shares if not 0 < share < 100]
    if not shares or bad or spare < 0 or mass <= 0:
        raise FormulaError(
            where=base.name,
            found=f"{show(bad[0][1])} % of {bad[0][0]}" if bad else "nothing to add",
            allowed="At least one addition, each above 0 and below 100 %, in a beaker above 0 g",
            cause="A share was left out or mistyped",
            do="Write pairs such as ('Fragrance', '0.5 %')",
        )
    if blank is not None:
        mean = sum((units_of(share) for _, share in shares), 0) // len(shares)
        shares.append((blank, percent_of(max(mean, 1))))
    beakers = tuple(
        _beaker(base, str(i), name, share, mass, step, phase)
        for i, (name, share) in enumerate(shares, start=1)
    )
    needed = sum((b.base_g for b in beakers), Decimal(0)) * (1 + Decimal(str(spare)))
    whole = (needed / step).to_integral_value(ROUND_UP) * step
    return Split(base=base, beakers=beakers, base_g=whole, balance=step)


def _beaker(
    base: Formula,
    name: str,
    addition: str,
    share: Decimal,
    mass: Decimal,
    step: Decimal,
    phase: str,
) -> Beaker:
    left = TOTAL - units_of(share)
    units = apportion([Fraction(units_of(x.percent)) for x in base.lines], left)
    lines = (
        *(
            Line(phase=x.phase, material=x.material, key=x.key, percent=percent_of(n), note=x.note)
            for x, n in zip(base.lines, units, strict=True)
        ),
        Line(phase=phase, material=addition, percent=share),
    )
    formula = Formula(f"{base.name}, beaker {name}", lines, base.phases, base.qs)
    dose = (mass * share / 100 / step).quantize(Decimal(1)) * step
    return Beaker(
        name=name,
        addition=addition,
        percent=share,
        base_g=mass - dose,
        addition_g=dose,
        formula=formula,
    )
