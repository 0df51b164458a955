"""Write the published demonstration histories of ``shared/``, the same each time.

    python -m tests.share.make_shared [FOLDER]

An invented coastal teaching studio and a learner who went on from its gel. Clock, ids,
salts and the named software are fixed, forecasts are told to five digits, so the same
records come out on any computer; a test compares.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest import mock

import labkit as lk
from labkit import tables
from labkit.bench import Bench, Trial, recording
from labkit.bench.demo import record_demo

SHARED = Path(__file__).parents[2] / "shared"
SOFTWARE = {"labkit": "0.1.0"}
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
CREAM, GEL = "harbour-hand-cream.eln", "dune-gel-serum.eln"


class Calendar:
    """A clock that stands on the day it is told, and moves on seven minutes at each look."""

    def __init__(self) -> None:
        self.moment = START

    def on(self, day: int) -> None:
        """Go to nine o'clock of a day, never back."""
        self.moment = max(self.moment, START + timedelta(days=day))

    def __call__(self) -> datetime:
        self.moment += timedelta(minutes=7)
        return self.moment


def told(forecast: Any) -> dict[str, Any]:
    """A forecast as a record, its numbers to five digits."""
    record: dict[str, Any] = forecast.as_record()
    for estimate in record["estimates"]:
        for name in ("value", "low", "high"):
            if name in estimate:
                estimate[name] = five(estimate[name])
    return record


def five(number: str) -> str:
    """Five digits, without an exponent."""
    value = float(f"{float(number):.5g}")
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return text if text != "-0" else "0"


def recorded(bench: Bench, calendar: Calendar, product: str, brief: lk.Brief) -> dict[str, Trial]:
    """The trials of one product, each with its forecast from what the bench knew that day."""
    mats = lk.Materials.starter()
    steps = [
        row
        for row in sorted(tables.rows("demo/trials"), key=lambda row: int(row["day"] or 0))
        if str(row["product"]).startswith(product)
    ]
    days = iter([int(row["day"] or 0) for row in steps])

    def look(formula: lk.Formula) -> Mapping[str, Any]:
        calendar.on(next(days))
        return told(lk.forecast(formula, mats, brief=brief, bench=bench))

    made = record_demo(bench, mats, product, forecast=look, brief=brief)
    return {trial.label: trial for trial in made}


def make_cream(folder: Path) -> Path:
    """The studio's hand cream: eleven trials, a slip corrected, a reading taken back."""
    calendar = Calendar()
    brief = lk.Brief(product="hand cream", leave_on=True, ph=(4.8, 5.6), market=("EU", "US"))
    dice = random.Random(20260302).randbytes
    with Bench.open(folder / "studio.db", clock=calendar, entropy=dice) as bench:
        made = recorded(bench, calendar, "Harbour", brief)
        calendar.on(60)
        seventh, last = made["HC-07"], made["HC-11"]
        slip = bench.measure(seventh, "pH", "4.79", temperature="25 °C", note="a month later")
        bench.amend(slip, "/value", "4.97", reason="digits swapped when copying the sheet")
        how = {"temperature": "31 °C", "spindle": "helical C", "speed": "5 rpm"}
        warm = bench.measure(last, "viscosity", "21.4 Pa*s", **how)
        bench.withdraw(warm, reason="the jar still stood in the sun")
        bench.note(
            last,
            "Handed round:\n\n- **spreads** well on dry hands\n- a little *draggy* when cold",
        )
        bench.decide(last, "keep", reason="it keeps its peaks and does not whiten")
        bench.add(
            "lot", {"name": "Cetearyl Alcohol", "supplier": "the usual one", "lot": "CA-0311"}
        )
        bench.seal("end of term")
        return lk.share.export(
            bench, folder / CREAM, title="Harbour hand cream", licence="CC0-1.0",
            publisher="A small coastal teaching studio (invented)",
        )  # fmt: skip


def make_gel(folder: Path) -> Path:
    """The studio's gel, taken on by a learner at another bench and handed back."""
    calendar = Calendar()
    brief = lk.Brief(product="gel serum", product_type="face serum", leave_on=True)
    dice = random.Random(20260303).randbytes
    with Bench.open(folder / "gel.db", clock=calendar, entropy=dice) as bench:
        recorded(bench, calendar, "Dune", brief)
        first = lk.share.export(bench, folder / "studio.eln")
    with Bench.open(folder / "learner.db", clock=calendar, entropy=dice) as own:
        lk.share.merge(own, first, alias="studio")
        calendar.on(45)
        start = own.trial("GS-05")
        mats = lk.Materials.starter()
        glycerin = next(x.material for x in start.formula.lines if "lycerin" in x.material)
        softer = start.formula.move(glycerin, "6 %")
        look = told(lk.forecast(softer, mats, brief=brief, bench=own))
        mine = own.record(
            softer, parent=start, note="more glycerin against the drag", label="L-1", mats=mats,
            forecast=look, brief=brief,
        )  # fmt: skip
        reading = own.measure(mine, "pH", ["5.61", "5.66"], temperature="25 °C", dilution="neat")
        own.amend(reading, "/replicates/1/value", "5.60", reason="read again after it had settled")
        own.note(mine, "slips better; a film stays for a minute")
        own.seal("handed in")
        return lk.share.export(
            own, folder / GEL, title="Dune gel serum", licence="CC0-1.0",
            publisher="A learner of a small coastal teaching studio (invented)",
        )  # fmt: skip


def make(folder: Path) -> list[Path]:
    """Both histories, into a folder."""
    found = []
    with (
        mock.patch.object(recording, "_software", return_value=dict(SOFTWARE)),
        tempfile.TemporaryDirectory() as work,
    ):
        for one in (make_cream(Path(work)), make_gel(Path(work))):
            target = folder / one.name
            target.write_bytes(one.read_bytes())
            found.append(target)
    return found


if __name__ == "__main__":
    for path in make(Path(sys.argv[1]) if len(sys.argv) > 1 else SHARED):
        print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")
