"""A batch at the bench: what was weighed, what was done when, what the beaker holds.

Each weighing and each line of the log is a record of its own, on disk when the call
returns; the batch is what they add up to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from labkit.bench.batch_parts import (
    LogLine,
    Weighing,
    beaker_formula,
    id_of,
    mass_of,
    no_vessel,
    weighing_of,
)
from labkit.bench.frames import Corrections
from labkit.bench.records import Record
from labkit.bench.snapshots import values_of
from labkit.bench.views import Trial
from labkit.errors import RecordError
from labkit.formula.model import Formula
from labkit.formula.moves import Ref as LineRef
from labkit.formula.names import is_water
from labkit.formula.weighed import from_grams
from labkit.quantities import parse as parse_quantity
from labkit.science.batch import water_lost
from labkit.science.restoring import to_bring_up

if TYPE_CHECKING:
    import pandas as pd

    from labkit.bench.bench import Bench
    from labkit.bench.stock import Lot

__all__ = ["Batch", "start_batch"]

COLUMNS = ("phase", "material", "planned_g", "weighed_g", "difference_g", "lots")


class Batch:
    """A batch that is being made, or was; ``bench.start_batch`` begins one."""

    def __init__(self, bench: Bench, record: Record) -> None:
        if record.kind != "batch" or "formula" not in record.body:
            raise RecordError(
                where=f"Record {record.id[:12]}",
                found=f"a {record.kind} that begins no batch",
                allowed="The record that bench.start_batch made",
                cause="The id of another record was given",
                do="Look at bench.batches()",
            )
        self.bench, self.record = bench, record
        self.formula = Formula.from_dict(dict(record.body["formula"]))

    @property
    def id(self) -> str:
        """The name of the record: 64 hex digits."""
        return self.record.id

    @property
    def mass_g(self) -> Decimal:
        """The batch as planned [g]."""
        return Decimal(self.record.body["mass_g"])

    @property
    def planned_g(self) -> tuple[Decimal, ...]:
        """Grams of each line as planned; they add up to exactly the batch."""
        return tuple(Decimal(x["planned_g"]) for x in self.record.body["weighings"])

    @property
    def balance_g(self) -> Decimal:
        """What the balance reads to [g]; the last digit of the plan where it was not said."""
        said = self.record.body.get("conditions", {}).get("balance_g")
        if said is not None:
            return Decimal(said)
        return Decimal(1).scaleb(min(int(g.as_tuple().exponent) for g in self.planned_g))

    @property
    def vessel_g(self) -> Decimal | None:
        """The empty vessel [g], where it was weighed."""
        said = self.record.body.get("conditions", {}).get("vessel_g")
        return None if said is None else Decimal(said)

    @property
    def trials(self) -> tuple[Trial, ...]:
        """The trials it was made for, and those that were split off."""
        of = [self.bench.trial(name) for name in self.record.about]
        named = self.bench.store.naming(self.id, "uses")
        shared = [self.bench.trial(r) for r in named if r.kind == "trial"]
        return tuple({t.id: t for t in [*of, *shared]}.values())

    # writing -----------------------------------------------------------------

    def weigh(
        self, line: LineRef, grams: Any, *, lot: Lot | Record | str | None = None, note: str = ""
    ) -> Weighing:
        """Write down what the balance says; more of the same line adds up.

        Parameters
        ----------
        line : str, (phase, material) or int
        grams : str
            As the balance shows it, such as ``"25.02 g"``; a bare number is grams.
        lot : Lot, record or id, optional
            Which lot it came from.

        Returns
        -------
        Weighing

        Raises
        ------
        MoveError
            No such line.
        QuantityError, RecordError
            Not a mass, or not above 0.
        """
        at = self.formula.find(line)
        mass = mass_of(grams, self.formula.lines[at].where)
        if mass <= 0:
            raise RecordError(
                where=self.formula.lines[at].where,
                found=f"{mass} g",
                allowed="More than 0 g",
                cause="The balance was not zeroed, or a sign slipped in",
                do="Weigh again; to take a weighing back use undo",
            )
        entry: dict[str, Any] = {
            "line": at,
            "material": self.formula.lines[at].material,
            "grams": f"{mass:f}",
        }
        body: dict[str, Any] = {"weighings": [entry]}
        if lot is not None:
            entry["lot"] = id_of(lot)
            body["uses"] = [id_of(lot)]
        if note:
            body["note"] = note
        record = self.bench.add("batch", body, about=self.id)
        return weighing_of(record, entry)

    def log(self, words: str, *, temperature: Any = None) -> Record:
        """Write a line of the log, with the time: ``batch.log("B in", temperature="72 °C")``.

        Raises
        ------
        RecordError
            Nothing was written.
        """
        said = " ".join(str(words).split())
        if not said:
            raise RecordError(
                where="Log of the batch",
                found="nothing was written",
                allowed="A few words",
                cause="The field was left empty",
                do="Say what was done",
            )
        entry = {"words": said}
        if temperature is not None:
            warm = parse_quantity(temperature, "temperature", where="Log of the batch")
            entry["temperature_c"] = f"{warm.exact('°C').normalize():f}"
        return self.bench.add("batch", {"process": [entry]}, about=self.id)

    def finish(self, gross: Any, vessel: Any = None) -> Decimal:
        """Write down vessel and batch at the end; the batch itself comes back [g].

        Raises
        ------
        RecordError
            The vessel was never weighed, or the batch is lighter than nothing.
        """
        empty = self.vessel_g if vessel is None else mass_of(vessel, "Vessel")
        if empty is None:
            raise no_vessel(self.formula.name)
        mass = mass_of(gross, "Vessel and batch") - empty
        if mass <= 0:
            raise RecordError(
                where=self.formula.name,
                found=f"vessel and batch lighter than the vessel alone ({empty} g)",
                allowed="More than the empty vessel",
                cause="Another vessel, or the balance was zeroed with it",
                do="Weigh again",
            )
        said = {"finished_g": f"{mass:f}", "vessel_g": f"{empty:f}"}
        self.bench.add("batch", {"conditions": said}, about=self.id)
        return mass

    def undo(self, weighing: Weighing | Record, reason: str) -> Record:
        """Take back a weighing or a log line; it stays readable and no longer counts."""
        record = weighing if isinstance(weighing, Record) else weighing.record
        return self.bench.withdraw(record, reason=reason)

    # reading -----------------------------------------------------------------

    def _entries(self) -> list[Record]:
        found = [r for r in self.bench.records("batch", about=self.id) if r.id != self.id]
        void = Corrections(self.bench.store, [r.id for r in found]).void
        return [r for r in found if r.id not in void and r.about == (self.id,)]

    @property
    def weighings(self) -> tuple[Weighing, ...]:
        """Every weighing that counts, oldest first."""
        return tuple(
            weighing_of(record, entry)
            for record in self._entries()
            for entry in record.body.get("weighings", ())
        )

    @property
    def log_lines(self) -> tuple[LogLine, ...]:
        """The log, oldest first."""
        return tuple(
            LogLine(at=r.created, words=e["words"], temperature_c=e.get("temperature_c"))
            for r in self._entries()
            for e in r.body.get("process", ())
        )

    @property
    def finished_g(self) -> Decimal | None:
        """The batch at the end [g], where it was weighed."""
        found = [r.body["conditions"] for r in self._entries() if "conditions" in r.body]
        said = [x["finished_g"] for x in found if "finished_g" in x]
        return Decimal(said[-1]) if said else None

    @property
    def weighed_g(self) -> tuple[Decimal, ...]:
        """Grams of each line that lie in the beaker by now."""
        grams = [Decimal(0)] * len(self.formula.lines)
        for one in self.weighings:
            grams[one.line] += one.grams
        return tuple(grams)

    @property
    def lots(self) -> tuple[str, ...]:
        """The lots that each line was taken from, as they stand on the bottles."""
        found: list[dict[str, None]] = [{} for _ in self.formula.lines]
        for one in self.weighings:
            if one.lot is not None:
                found[one.line][self._lot_name(one.lot)] = None
        return tuple(", ".join(names) for names in found)

    def table(self) -> pd.DataFrame:
        """Columns phase, material, planned_g, weighed_g, difference_g, lots; one row a line."""
        import pandas as pd

        lines = zip(self.formula.lines, self.planned_g, self.weighed_g, self.lots, strict=True)
        rows = [
            (x.phase, x.material, plan, done, done - plan if done else None, lot)
            for x, plan, done, lot in lines
        ]
        return pd.DataFrame(rows, columns=list(COLUMNS))

    def _lot_name(self, name: str) -> str:
        body = self.bench.store.get(name).body
        return str(body.get("lot") or body.get("name", name[:8]))

    def made(self) -> Formula:
        """The finished percentages, from what was weighed and the batch at the end.

        What is missing at the end went as water.

        Raises
        ------
        FormulaError
            Nothing weighed yet.
        RecordError
            More was lost than there was water, or the batch is heavier than its parts.
        """
        grams = [Fraction(x) for x in self.weighed_g]
        if self.finished_g is None:
            return from_grams(self.formula, grams)
        lost = sum(grams) - Fraction(self.finished_g)
        at = self._water_line()
        digit = Fraction(self.balance_g) * len(grams)
        if at is None or lost > grams[at] or lost < -digit:
            raise RecordError(
                where=self.formula.name,
                found=f"{float(lost):.2f} g missing at the end",
                allowed="No more than the water, and no batch heavier than its parts",
                cause="Another vessel's weight, or a line weighed twice or not at all",
                do="Check the weighings, and weigh vessel and batch again",
            )
        grams[at] -= max(lost, Fraction(0))
        return from_grams(self.formula, grams)

    def _water_line(self) -> int | None:
        wet = [i for i, x in enumerate(self.formula.lines) if is_water(x.material)]
        return self.formula.qs if self.formula.qs in wet else (wet[0] if wet else None)

    def bring_up(self) -> dict[str, Decimal]:
        """Grams of each line that would make an overpoured batch the planned recipe again.

        Lines that are not weighed yet get what the larger batch asks for; an empty answer
        means that nothing is over.
        """
        planned, weighed = self.planned_g, self.weighed_g
        if all(w <= p for p, w in zip(planned, weighed, strict=True)):
            return {}
        adds = to_bring_up([float(x) for x in planned], [float(x) for x in weighed])
        told = {
            line.material: (Decimal(repr(float(g))) / self.balance_g).quantize(
                Decimal(1), rounding=ROUND_HALF_UP
            )
            * self.balance_g
            for line, g in zip(self.formula.lines, adds, strict=True)
        }
        return {name: grams for name, grams in told.items() if grams > 0}

    def water_to_add(self, gross: Any, vessel: Any = None) -> Decimal:
        """Hot water that replaces what went as steam, from vessel and batch now [g].

        Raises
        ------
        RecordError
            The vessel was never weighed.
        ScienceError
            A batch heavier than what was weighed in.
        """
        empty = self.vessel_g if vessel is None else mass_of(vessel, "Vessel")
        if empty is None:
            raise no_vessel(self.formula.name)
        inside = float(sum(self.weighed_g, Decimal(0)))
        lost = water_lost(float(empty), inside, float(mass_of(gross, "Vessel and batch")))
        steps = (Decimal(repr(lost)) / self.balance_g).quantize(Decimal(1), rounding=ROUND_HALF_UP)
        return steps * self.balance_g

    # one base, several beakers -------------------------------------------------

    def split(
        self,
        beakers: Mapping[str, tuple[Any, Mapping[str, Any]]],
        *,
        phase: str | None = None,
        note: str = "",
        mats: Any = None,
        parent: Trial | Sequence[Trial] | None = None,
    ) -> list[Trial]:
        """Part the base into beakers with different last additions: one trial each.

        Parameters
        ----------
        beakers : mapping
            Label → (grams of base, {material: grams added}).
        phase : str, optional
            Of the additions; the last phase if left out.
        note : str
            Of every trial.

        Returns
        -------
        list of Trial
            Each names this batch, so that what went wrong with the base is counted once.

        Raises
        ------
        RecordError
            More base than was made, or no beaker.
        """
        base = self.made() if any(self.weighed_g) else self.formula
        masses = {label: mass_of(mass, label) for label, (mass, _) in beakers.items()}
        there = self.finished_g or sum(self.weighed_g, Decimal(0)) or self.mass_g
        if not beakers or sum(masses.values()) > there:
            raise RecordError(
                where=self.formula.name,
                found=f"{sum(masses.values())} g of base for {len(beakers)} beakers",
                allowed=f"At most the {there} g that were made, and at least one beaker",
                cause="A mass was typed twice, or the base was smaller than planned",
                do="Weigh less into each beaker",
            )
        made = []
        for label, (_, extra) in beakers.items():
            grams = {name: mass_of(g, f"{label}, {name}") for name, g in extra.items()}
            formula = beaker_formula(base, masses[label], grams, phase)
            trial = self.bench.record(
                formula, parent=parent, note=note, label=label, mats=mats, batch=self.record
            )
            told = [{"material": n, "grams": f"{g:f}"} for n, g in grams.items()]
            share = {"base_g": f"{masses[label]:f}"}
            self.bench.add(
                "batch",
                {"weighings": told, "conditions": share, "uses": [self.id]},
                about=trial,
            )
            made.append(trial)
        return made

    def __repr__(self) -> str:
        done = sum(1 for x in self.weighed_g if x)
        return (
            f"<Batch {self.formula.name!r}, {self.mass_g} g: {done} of "
            f"{len(self.formula.lines)} lines weighed>"
        )

    def _repr_html_(self) -> str:
        return str(self.table().to_html(index=False))


def start_batch(
    bench: Bench,
    about: Formula | Trial,
    mass: Any,
    *,
    balance: Any = "0.01 g",
    vessel: Any = None,
    note: str = "",
) -> Batch:
    """See :meth:`labkit.bench.Bench.start_batch`."""
    formula = about.formula if isinstance(about, Trial) else about
    planned = formula.grams(mass, balance)
    digit = parse_quantity(balance, "mass", where="Balance").exact("g")
    said = {"balance_g": f"{digit:f}"}
    if vessel is not None:
        said["vessel_g"] = f"{mass_of(vessel, 'Vessel'):f}"
    body: dict[str, Any] = {
        "formula": values_of(formula.as_dict(), f"Formula {formula.name}"),
        "mass_g": f"{sum(planned, Decimal(0)):f}",
        "weighings": [
            {"line": i, "material": x.material, "planned_g": f"{g:f}"}
            for i, (x, g) in enumerate(zip(formula.lines, planned, strict=True))
        ],
        "conditions": said,
    }
    if note:
        body["note"] = note
    record = bench.add("batch", body, about=about if isinstance(about, Trial) else None)
    return Batch(bench, record)
