"""The formula: lines in phases whose shares add up to exactly 100 %."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Protocol

from labkit.errors import FormulaError, QuantityError
from labkit.formula.compare import Comparison, compare_lines
from labkit.formula.grid import apportion, read_percent, show, units_of
from labkit.formula.lines import Line, Phase, default_phases
from labkit.formula.moves import (
    Give,
    Move,
    Ref,
    apply_move,
    find_line,
    rank_of,
    reachable,
)
from labkit.formula.names import clean_name, slug
from labkit.formula.parsing import parse_table
from labkit.formula.rendering import formula_html, formula_words
from labkit.quantities import parse as parse_quantity

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Formula", "KnowsMaterials"]


class KnowsMaterials(Protocol):
    """Anything that can say which material of the list a name means."""

    def resolve(self, text: str) -> Any:
        """The material, or None; its ``key`` is used."""


@dataclass(frozen=True, slots=True)
class Formula:
    """A recipe in percent of the finished batch; every change gives a new one.

    Parameters
    ----------
    name : str
        What the recipe is called.
    lines : tuple of Line
        In making order.
    phases : tuple of Phase
        Titles and steps; phases that only the lines name are added.
    qs : int or None
        Position of the q.s. line, which takes the rest.

    Raises
    ------
    FormulaError
        No lines, a total that is not exactly 100 %, or a q.s. line that is locked.

    Examples
    --------
    >>> gel = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Glycerin,4
    ... B,Xanthan Gum,0.5''')
    >>> gel.total, gel.qs_line.percent
    (Decimal('100.0000'), Decimal('95.5000'))
    >>> print(gel.move("glycerin", "6 %").compare(gel))
    Aqua 93.50 → 95.50 %; Glycerin 6.00 → 4.00 %
    """

    name: str
    lines: tuple[Line, ...]
    phases: tuple[Phase, ...] = field(default=())
    qs: int | None = None

    reader: ClassVar[Callable[[Path], Formula] | None] = None
    """Reads recipe files; set by the reading room when it is loaded."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "name", clean_name(self.name, where="The formula's name"))
        object.__setattr__(self, "lines", tuple(self.lines))
        object.__setattr__(self, "phases", default_phases(self.lines, tuple(self.phases)))
        if not self.lines:
            raise FormulaError(
                where=self.name,
                found="no lines",
                allowed="At least one material",
                cause="The recipe is empty",
                do="Write the materials with their shares",
            )
        if self.total != 100:
            gap = 100 - self.total
            raise FormulaError(
                where=self.name,
                found=f"percentages add up to {show(self.total)} %, "
                f"{show(abs(gap))} % {'short of' if gap > 0 else 'more than'} 100 %",
                allowed="Exactly 100 %",
                cause="A line is missing, or a share was mistyped",
                do="Add the missing line, or let one line take the rest (q.s.)",
                total=self.total,
            )
        self._check_rest()

    def _check_rest(self) -> None:
        if self.qs is None:
            return
        if not 0 <= self.qs < len(self.lines) or self.lines[self.qs].locked:
            raise FormulaError(
                where=self.name,
                found=f"line {self.qs + 1} cannot take the rest",
                allowed="One unlocked line of the formula",
                cause="It is locked, or the formula has no such line",
                do="Unlock it, or name another q.s. line",
            )

    @classmethod
    def parse(cls, text: str, name: str = "Formula", phases: Iterable[Phase] = ()) -> Formula:
        """Read the plain table form: a heading ``phase,material,percent``, then rows.

        ``q.s.`` in place of a number marks the line that takes the rest; without one,
        plain water takes that part when there is any, and the shares must add up to 100.

        Raises
        ------
        FormulaError
            The text cannot be a formula; the line of the text is named.
        """
        parsed = parse_table(text, name=name)
        return cls(name, parsed.lines, tuple(phases), parsed.qs)

    @classmethod
    def read(cls, path: str | Path) -> Formula:
        """Read a recipe file: CSV, TSV, XLSX, ODS, Markdown or text.

        Raises
        ------
        FormulaError
            Questions are open; each is listed with what can be answered. Use
            ``read_recipe`` to see what was read as what and to answer them.
        """
        if cls.reader is None:
            raise FormulaError(
                where=str(path),
                found="the reading room is not loaded",
                allowed="Formula from labkit itself",
                cause="The formula room was imported on its own",
                do="Write 'import labkit as lk' and use lk.Formula.read",
            )
        return cls.reader(Path(path))

    @property
    def total(self) -> Decimal:
        """Sum of the shares, in %; always exactly 100."""
        return sum((line.percent for line in self.lines), Decimal(0))

    @property
    def qs_line(self) -> Line | None:
        """The line that takes the rest, if one is named."""
        return None if self.qs is None else self.lines[self.qs]

    @property
    def fingerprint(self) -> str:
        """64 hex digits that equal recipes share.

        Made from phase, material (the key where it is known) and share; order, locks,
        bounds, notes and titles do not count.
        """
        rows = sorted([x.phase, x.identity, units_of(x.percent)] for x in self.lines)
        return sha256(json.dumps(rows, ensure_ascii=False).encode()).hexdigest()

    def find(self, ref: Ref) -> int:
        """Position of the line that a name, a (phase, name) pair or a number means.

        Raises
        ------
        MoveError
            No such line, or more than one; both are shown.
        """
        return find_line(self.lines, ref, self.name)

    def phase(self, key: str) -> tuple[Line, ...]:
        """The lines of one phase, in making order."""
        found = tuple(x for x in self.lines if x.phase.casefold() == key.casefold())
        if not found:
            raise FormulaError(
                where=self.name,
                found=f"no phase '{key}'",
                allowed="Phases " + ", ".join(p.key for p in self.phases),
                cause="Another name for the phase",
                do="Use one of these",
            )
        return found

    def apply(self, move: Move) -> Formula:
        """The formula after a move.

        Raises
        ------
        MoveError
            The move cannot be made; this formula is unchanged, as always.
        """
        lines, qs = apply_move(self.lines, self.qs, move)
        return Formula(self.name, lines, self._phases_for(lines), qs)

    def _phases_for(self, lines: tuple[Line, ...]) -> tuple[Phase, ...]:
        used = {x.phase for x in lines}
        return tuple(p for p in self.phases if p.key in used or p.title or p.steps)

    def move(
        self,
        material: Ref,
        percent: object = None,
        *,
        by: object = None,
        give: str | Sequence[Ref] = "qs",
    ) -> Formula:
        """Take one line to another share; others give way so that the total stays 100.

        Parameters
        ----------
        material : str, (phase, material) or int
            The line.
        percent : str or number
            The new share, such as ``"6.5 %"``.
        by : str or number, optional
            A change instead of a share, such as ``"+3 %"`` or ``-0.5``.
        give : "qs", "phase", "all" or list of lines
            Which lines give way: the q.s. line, the other lines of the phase, all
            other lines, or chosen ones, in proportion to their shares, inside their
            bounds; locked lines never move.

        Raises
        ------
        MoveError
            The share cannot be reached (the range is named), or the line is locked.
        """
        line = self.find(material)
        here = self.lines[line]
        if by is not None:
            text = str(by).strip().removesuffix("%").strip()
            sign = -1 if text[:1] in "-−" else 1
            step = read_percent(text.lstrip("+-−").strip(), where=here.where)
            target = here.percent + sign * step
        else:
            target = read_percent(percent, where=here.where)
        return self.apply(self._set(line, target, give))

    def _set(self, line: int, percent: Decimal, give: str | Sequence[Ref]) -> Move:
        return Move(
            kind="set",
            line=line,
            material=self.lines[line].material,
            percent=percent,
            give=_give(give),
        )

    def reachable(self, material: Ref, give: str | Sequence[Ref] = "qs") -> tuple[Decimal, Decimal]:
        """Lowest and highest share, in %, that a line can take."""
        return reachable(self.lines, self.find(material), _give(give), self.qs)

    def swap(self, old: Ref, new: str, key: str | None = None) -> Formula:
        """Another material in the place of one, at the same share."""
        line = self.find(old)
        here = self.lines[line].material
        return self.apply(Move(kind="swap", line=line, material=here, to=new, key=key))

    def add(
        self,
        material: str,
        percent: object = 0,
        *,
        phase: str | None = None,
        position: int | None = None,
        give: str | Sequence[Ref] = "qs",
    ) -> Formula:
        """One more line; its share is taken from the lines that give way."""
        name = clean_name(material, where=f"{self.name}, new line")
        share = read_percent(percent, where=f"{self.name}, {name}")
        return self.apply(
            Move(
                kind="add",
                material=name,
                phase=phase,
                percent=share,
                position=position,
                give=_give(give),
            )
        )

    def remove(self, material: Ref, *, give: str | Sequence[Ref] = "qs") -> Formula:
        """Without one line; its share goes to the lines that give way."""
        line = self.find(material)
        here = self.lines[line].material
        return self.apply(Move(kind="remove", line=line, material=here, give=_give(give)))

    def lock(self, material: Ref, locked: bool = True) -> Formula:
        """With a line locked, so that no other move changes it (or unlocked again)."""
        line = self.find(material)
        here = self.lines[line].material
        return self.apply(Move(kind="lock", line=line, material=here, locked=locked))

    def bound(self, material: Ref, low: object = None, high: object = None) -> Formula:
        """With bounds on a line, in %; None takes a bound away."""
        line = self.find(material)
        here = self.lines[line]
        ends = [None if x is None else read_percent(x, where=here.where) for x in (low, high)]
        return self.apply(
            Move(kind="bound", line=line, material=here.material, low=ends[0], high=ends[1])
        )

    def rest(self, material: Ref) -> Formula:
        """With another line as the q.s. line."""
        line = self.find(material)
        return self.apply(Move(kind="qs", line=line, material=self.lines[line].material))

    def renamed(self, name: str) -> Formula:
        """The same recipe under another name."""
        return Formula(name, self.lines, self.phases, self.qs)

    def resolved(self, mats: KnowsMaterials) -> Formula:
        """With the key of each material that the list knows, and none where it does not."""
        found = (mats.resolve(x.key or x.material) for x in self.lines)
        lines = tuple(
            replace(x, key=m.key if m is not None else None)
            for x, m in zip(self.lines, found, strict=True)
        )
        return Formula(self.name, lines, self.phases, self.qs)

    def grams(self, batch: object = "100 g", balance: object = None) -> tuple[Decimal, ...]:
        """Grams of each line for a batch, exact, or rounded to a balance.

        Parameters
        ----------
        batch : str
            Mass of the batch, such as ``"250 g"`` or ``"1.2 kg"``.
        balance : str, optional
            What the balance reads to, such as ``"0.01 g"``. The grams are then whole
            steps whose sum is exactly the batch.

        Raises
        ------
        QuantityError
            Not a mass, or nothing.
        FormulaError
            The batch is not a whole number of balance steps.
        """
        where = f"{self.name}, batch size"
        mass = parse_quantity(batch, "mass", where=where).exact("g")
        if mass <= 0:
            raise QuantityError(
                where=where,
                found=f"'{batch}'",
                allowed="More than 0 g",
                cause="The batch size was left empty or at zero",
                do="Give the mass to be made, such as '250 g'",
            )
        if balance is None:
            return tuple((x.percent * mass / 100).normalize() + 0 for x in self.lines)
        step = parse_quantity(balance, "mass", where=f"{self.name}, balance").exact("g")
        if step <= 0 or mass % step:
            raise FormulaError(
                where=self.name,
                found=f"a batch of {mass} g on a balance that reads {step} g",
                allowed="A batch of a whole number of balance steps",
                cause="The batch was written with more digits than the balance shows",
                do="Round the batch, or name the balance that is used",
            )
        shares = [Fraction(units_of(x.percent)) for x in self.lines]
        steps = apportion(shares, int(mass / step), rank_of(self.lines))
        return tuple(n * step for n in steps)

    def compare(self, other: Formula) -> Comparison:
        """Only the differences, from this formula to ``other``."""
        return compare_lines(self.lines, other.lines, (self.name, other.name))

    def table(self) -> pd.DataFrame:
        """Columns phase, material, percent (exact decimals, % w/w), note; one row a line."""
        import pandas as pd

        rows = [(x.phase, x.material, x.percent, x.note) for x in self.lines]
        return pd.DataFrame(rows, columns=["phase", "material", "percent", "note"])

    def as_dict(self) -> dict[str, Any]:
        """The formula as plain values, for a file or a record."""
        record: dict[str, Any] = {
            "name": self.name,
            "phases": [p.as_dict() for p in self.phases],
            "lines": [x.as_dict() for x in self.lines],
        }
        if self.qs is not None:
            record["qs"] = self.qs
        return record

    @classmethod
    def from_dict(cls, record: dict[str, Any]) -> Formula:
        """The formula that :meth:`as_dict` wrote."""
        phases = tuple(
            Phase(key=p["key"], title=p.get("title", ""), steps=tuple(p.get("steps", ())))
            for p in record.get("phases", ())
        )
        lines = tuple(Line.from_dict(x) for x in record["lines"])
        return cls(record["name"], lines, phases, record.get("qs"))

    @property
    def key(self) -> str:
        """The name as a file or material key."""
        return slug(self.name) or "formula"

    def __str__(self) -> str:
        return formula_words(self.name, self.lines, self.qs)

    def __repr__(self) -> str:
        return f"<Formula {self.name!r}: {len(self.lines)} lines, total {show(self.total)} %>"

    def _repr_html_(self) -> str:
        return formula_html(self.name, self.lines, self.phases, self.qs)


def _give(give: str | Sequence[Ref]) -> Give:
    return give if isinstance(give, str) else tuple(give)
