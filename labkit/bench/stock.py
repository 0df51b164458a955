"""Lots on the shelf: receipts, expiry, what is left, what a batch needs, and tracing both ways."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Protocol

from labkit.bench.frames import Corrections
from labkit.bench.recording import worded
from labkit.bench.records import Record
from labkit.bench.snapshots import material_values
from labkit.bench.tracing import records_into, trials_from
from labkit.bench.views import Trial
from labkit.errors import RecordError
from labkit.formula.model import Formula
from labkit.formula.names import fold, is_water
from labkit.quantities import parse as parse_quantity

if TYPE_CHECKING:
    import pandas as pd

    from labkit.bench.bench import Bench

__all__ = ["Lot", "Stock"]

LOT_COLUMNS = (
    "material",
    "lot",
    "received",
    "opened",
    "expiry",
    "mass_g",
    "remaining_g",
    "expired",
    "id",
)
NEED_COLUMNS = ("material", "need_g", "have_g", "missing_g")


class KnowsMaterials(Protocol):
    """Anything that can say which material a name means."""

    def resolve(self, text: str) -> Any:
        """The material, or None; its ``key`` is used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """One bottle, bag or premix, as it stands on the shelf."""

    id: str
    material: str
    lot: str
    supplier: str
    received: date | None
    opened: date | None
    expiry: date | None
    mass_g: Decimal | None

    def expired(self, day: date) -> bool:
        """Whether its last day of use is past."""
        return self.expiry is not None and self.expiry < day

    def __str__(self) -> str:
        return f"{self.material}, lot {self.lot or 'without number'}"


class Stock:
    """The shelf of a bench: ``bench.stock(mats)``.

    Parameters
    ----------
    bench : Bench
    mats : Materials, optional
        So that a lot named by its trade word serves a line named by INCI.
    """

    def __init__(self, bench: Bench, mats: KnowsMaterials | None = None) -> None:
        self.bench, self.mats = bench, mats

    # writing -----------------------------------------------------------------

    def receive(
        self,
        material: str,
        mass: Any = None,
        *,
        lot: str = "",
        supplier: str = "",
        received: date | str | None = None,
        opened: date | str | None = None,
        expiry: date | str | None = None,
        price: str = "",
        note: str = "",
    ) -> Lot:
        """Write down what came in; supplier, price and lot number stay private in a shared copy.

        Raises
        ------
        RecordError
            A day that is none, or expired before it came.
        """
        return self._keep(
            material,
            mass,
            {"lot": lot, "supplier": supplier, "price": price, "note": note},
            {"received": received, "opened": opened, "expiry": expiry},
        )

    def _keep(
        self,
        material: str,
        mass: Any,
        words: Mapping[str, str],
        days: Mapping[str, date | str | None],
        uses: Sequence[str] = (),
    ) -> Lot:
        body: dict[str, Any] = {"name": worded(material, "Material")}
        body |= {key: said for key, said in words.items() if said}
        read = {key: _day(day, key) for key, day in days.items() if day is not None}
        body |= {key: day.isoformat() for key, day in read.items()}
        if "received" in read and "expiry" in read and read["expiry"] < read["received"]:
            raise RecordError(
                where=f"Lot of {material}",
                found=f"expiry {read['expiry']} before its receipt {read['received']}",
                allowed="An expiry after the receipt",
                cause="The two days are exchanged, or the year is last year's",
                do="Look at the label again; nothing was saved",
            )
        if mass is not None:
            grams = parse_quantity(mass, "mass", where=f"Lot of {material}").exact("g")
            body["mass_g"] = f"{grams:f}"
        known = self.mats.resolve(material) if self.mats is not None else None
        if known is not None:
            told = self.bench.add("material", {"material": material_values(known)})
            body["material"] = told.id
        if uses:
            body["uses"] = sorted(set(uses))
        return self._lot(self.bench.add("lot", body))

    def premix(
        self,
        formula: Formula,
        mass: Any,
        *,
        lot: str = "",
        lots: Mapping[str, Lot] | None = None,
        made: date | str | None = None,
        expiry: date | str | None = None,
        balance: Any = "0.01 g",
    ) -> Lot:
        """Write down a premix made in the house; what went into it leaves the shelf.

        Parameters
        ----------
        lots : mapping of material to Lot, optional
            What it was made from.
        """
        batch = self.bench.start_batch(formula, mass, balance=balance)
        for line, grams in zip(formula.lines, batch.planned_g, strict=True):
            if grams > 0:
                batch.weigh(line.material, f"{grams} g", lot=(lots or {}).get(line.material))
        used = [one.id for one in (lots or {}).values()]
        days = {"received": made, "opened": made, "expiry": expiry}
        return self._keep(formula.name, mass, {"lot": lot}, days, [batch.id, *used])

    def open_lot(self, lot: Lot, day: date | str) -> Lot:
        """Write down the day on which a lot was opened."""
        opened = _day(day, "opened")
        self.bench.amend(lot.id, "/opened", opened.isoformat(), reason="opened")
        return self.lot(lot.id)

    def count(self, lot: Lot, mass: Any, note: str = "") -> Decimal:
        """Write down what is really left; from here on the shelf is reckoned from it [g]."""
        self.bench.measure(lot.id, "mass", mass, note=note)
        return parse_quantity(mass, "mass", where=str(lot)).exact("g")

    # reading -----------------------------------------------------------------

    def lot(self, which: str) -> Lot:
        """A lot by its id or by the number on its label.

        Raises
        ------
        RecordError
            None, or several, are called that.
        """
        found = [x for x in self._lots() if which in (x.id, x.lot)]
        if len(found) != 1:
            raise RecordError(
                where=f"Lot {which[:40]}",
                found="no such lot" if not found else f"{len(found)} lots with that number",
                allowed=", ".join(x.lot for x in self._lots() if x.lot)[:300] or "A recorded lot",
                cause="Another spelling, or two suppliers use one number",
                do="Look at bench.stock().lots(), and give the id",
            )
        return found[0]

    def _lots(self) -> list[Lot]:
        records = self.bench.records("lot")
        corrections = Corrections(self.bench.store, [r.id for r in records])
        return [
            self._lot(r, corrections.fold(r).body) for r in records if r.id not in corrections.void
        ]

    def _lot(self, record: Record, body: Mapping[str, Any] | None = None) -> Lot:
        said = record.body if body is None else body
        days = {k: date.fromisoformat(said[k]) for k in _DAYS if said.get(k)}
        mass = said.get("mass_g")
        return Lot(
            id=record.id,
            material=said["name"],
            lot=str(said.get("lot", "")),
            supplier=str(said.get("supplier", "")),
            received=days.get("received"),
            opened=days.get("opened"),
            expiry=days.get("expiry"),
            mass_g=None if mass is None else Decimal(mass),
        )

    def lots(self, day: date | None = None) -> pd.DataFrame:
        """Every lot with what is left of it; one row a lot, first to expire first."""
        import pandas as pd

        today = day or date.today()
        used = self._used()
        rows = [
            (
                x.material,
                x.lot,
                x.received,
                x.opened,
                x.expiry,
                x.mass_g,
                self._left(x, used),
                x.expired(today),
                x.id,
            )
            for x in sorted(self._lots(), key=_first_out)
        ]
        return pd.DataFrame(rows, columns=list(LOT_COLUMNS))

    def remaining(self, lot: Lot) -> Decimal | None:
        """What is left of a lot [g]; None where its mass was never written down."""
        return self._left(lot, self._used())

    def _used(self) -> dict[str, list[tuple[str, Decimal]]]:
        """Lot → when and how much was taken, weighings that were taken back left out."""
        records = [r for r in self.bench.records("batch") if "formula" not in r.body]
        void = Corrections(self.bench.store, [r.id for r in records]).void
        used: dict[str, list[tuple[str, Decimal]]] = {}
        for record in records:
            for entry in () if record.id in void else record.body.get("weighings", ()):
                if "lot" in entry:
                    taken = (record.created, Decimal(entry["grams"]))
                    used.setdefault(entry["lot"], []).append(taken)
        return used

    def _left(self, lot: Lot, used: Mapping[str, list[tuple[str, Decimal]]]) -> Decimal | None:
        start, since = lot.mass_g, ""
        for record in self.bench.records("measurement", about=lot.id):
            if record.body.get("quantity") == "mass":
                read = parse_quantity(f"{record.body['value']} {record.body['unit']}", "mass")
                start, since = read.exact("g"), record.created
        if start is None:
            return None
        return start - sum((g for at, g in used.get(lot.id, ()) if at > since), Decimal(0))

    def lots_for(self, formula: Formula, day: date | None = None) -> dict[str, Lot]:
        """For each line the lot to take: in date, something left, first to expire first."""
        today, used = day or date.today(), self._used()
        told = {}
        for line in formula.lines:
            for lot in sorted(self._lots(), key=_first_out):
                left = self._left(lot, used)
                fits = self._serves(lot, line.material) and not lot.expired(today)
                if fits and (left is None or left > 0):
                    told[line.material] = lot
                    break
        return told

    def _serves(self, lot: Lot, material: str) -> bool:
        if fold(lot.material) == fold(material):
            return True
        if is_water(material) and is_water(lot.material):
            return True
        if self.mats is None:
            return False
        one, two = self.mats.resolve(lot.material), self.mats.resolve(material)
        return one is not None and two is not None and one.key == two.key

    def needs(
        self,
        formula: Formula,
        batch: Any,
        *,
        groups: int = 1,
        spare: Any = "0 %",
        day: date | None = None,
    ) -> pd.DataFrame:
        """What batches need of each material, what is there, and what is missing.

        Parameters
        ----------
        batch : str
            Of one group, such as ``"100 g"``.
        groups : int
        spare : str or number
            On top [%].

        Returns
        -------
        DataFrame
            Columns material, need_g, have_g (in date only), missing_g.

        Raises
        ------
        RecordError
            No group, or a negative spare.
        """
        import pandas as pd

        extra = Decimal(str(spare).strip().removesuffix("%").strip() or "0")
        if groups < 1 or extra < 0:
            raise RecordError(
                where=f"{formula.name}, shopping list",
                found=f"{groups} groups with {extra} % spare",
                allowed="One group or more, and a spare of 0 % or more",
                cause="A number was left out or carries a sign",
                do="Write groups=24, spare='10 %'",
            )
        one = parse_quantity(batch, "mass", where=f"{formula.name}, batch").exact("g")
        whole = one * groups * (1 + extra / 100)
        wanted: dict[str, Decimal] = {}
        for line in formula.lines:
            grams = line.percent * whole / 100
            wanted[line.material] = wanted.get(line.material, Decimal(0)) + grams
        today, used = day or date.today(), self._used()
        rows = []
        for name, need in wanted.items():
            mine = [x for x in self._lots() if self._serves(x, name) and not x.expired(today)]
            have = sum((self._left(x, used) or Decimal(0) for x in mine), Decimal(0))
            rows.append((name, need, max(have, Decimal(0)), max(need - have, Decimal(0))))
        return pd.DataFrame(rows, columns=list(NEED_COLUMNS))

    def shopping_list(
        self,
        formulas: Formula | Sequence[Formula],
        batch: Any,
        *,
        groups: int = 1,
        spare: Any = "10 %",
        day: date | None = None,
    ) -> pd.DataFrame:
        """What is missing for a number of groups, whole grams, one row a material.

        Returns
        -------
        DataFrame
            Columns material, need_g, have_g, buy_g; what is there already is left out.
        """
        import pandas as pd

        several = [formulas] if isinstance(formulas, Formula) else list(formulas)
        parts = [self.needs(f, batch, groups=groups, spare=spare, day=day) for f in several]
        need: dict[str, Decimal] = {}
        have: dict[str, Decimal] = {}
        for part in parts:
            for name, grams, there in part[["material", "need_g", "have_g"]].values.tolist():
                need[name] = need.get(name, Decimal(0)) + grams
                have[name] = there
        rows = [
            (name, math.ceil(grams), math.floor(have[name]), math.ceil(grams - have[name]))
            for name, grams in need.items()
            if grams > have[name]
        ]
        return pd.DataFrame(rows, columns=["material", "need_g", "have_g", "buy_g"])

    # tracing -----------------------------------------------------------------

    def trace(self, lot: Lot) -> list[Trial]:
        """Every trial that a lot went into, through premixes and shared bases too."""
        found = [self.bench.trial(name) for name in trials_from(self.bench.store, lot.id)]
        return sorted(found, key=lambda t: (t.created, t.id))

    def lots_of(self, trial: Trial) -> list[Lot]:
        """Every lot that went into a trial, through premixes and shared bases too."""
        names = records_into(self.bench.store, trial)
        found = [x for x in self._lots() if x.id in names]
        return sorted(found, key=lambda x: (x.material, x.lot))


_DAYS = ("received", "opened", "expiry")


def _first_out(lot: Lot) -> tuple[date, date, str]:
    return (lot.expiry or date.max, lot.received or date.min, lot.id)


def _day(given: date | str, what: str) -> date:
    if isinstance(given, date):
        return given
    try:
        return date.fromisoformat(str(given).strip())
    except ValueError as error:
        raise RecordError(
            where=what.capitalize(),
            found=f"'{given}'",
            allowed="A day such as 2026-03-02",
            cause="Day and month can be read in two ways, or the day does not exist",
            do="Write year-month-day; nothing was saved",
        ) from error
