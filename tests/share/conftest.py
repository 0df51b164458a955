"""A small history worth sharing: two branches, private fields, a photo, a slip put right."""

from __future__ import annotations

import io
import random
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

import labkit as lk
from labkit.bench import Bench

GEL = """phase,material,percent
A,Aqua,q.s.
A,Glycerin,5
A,Lactic acid 80 %,0.3
A,Sodium lactate 60 %,1
B,Sodium Benzoate,0.4"""


def clock(start: int = 0) -> Callable[[], datetime]:
    ticks = iter(range(1_000_000))
    first = datetime(2026, 3, 2, 9, tzinfo=UTC) + timedelta(days=start)
    return lambda: first + timedelta(minutes=next(ticks))


def photo() -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (64, 48), "#9bc").save(out, "JPEG")
    return out.getvalue()


def fill(bench: Bench) -> Bench:
    mats = lk.Materials.starter()
    gel = lk.Formula.parse(GEL, name="Low water gel")
    brief = lk.Brief(product="gel serum", leave_on=True)
    look = lk.forecast(gel, mats, brief=brief)
    first = bench.record(
        gel, note="start", label="G-1", mats=mats, forecast=look, brief=brief, recipe=b"aqua 93"
    )
    richer = gel.move("glycerin", "7 %")
    look = lk.forecast(richer, mats, brief=brief)
    second = bench.record(richer, parent=first, label="G-2", mats=mats, forecast=look, brief=brief)
    third = bench.record(gel.move("glycerin", "3 %"), parent=first, label="G-3", mats=mats)
    reading = bench.measure(second, "pH", ["4.01", "4.10"], temperature="25 °C", dilution="neat")
    bench.amend(reading, "/replicates/1/value", "4.05", reason="read again")
    wrong = bench.measure(third, "pH", "7.4", temperature="25 °C", dilution="neat")
    bench.withdraw(wrong, reason="meter not calibrated")
    bench.note(third, "thin, *sticky*")
    bench.add(
        "lot", {"name": "Glycerin", "supplier": "The Quiet Shop", "lot": "GL-77", "price": "4.20"}
    )
    bench.photo(second, photo(), caption="after a night")
    bench.seal("so far")
    return bench


def open_bench(place: Path, seed: int = 7, day: int = 0, person: str | None = None) -> Bench:
    dice = random.Random(seed).randbytes
    return Bench.open(place, clock=clock(day), entropy=dice, person=person)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with open_bench(tmp_path / "bench.db", person="R. Tidewater") as opened:
        yield fill(opened)


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Bench]:
    with open_bench(tmp_path / "other.db", seed=11, day=30) as opened:
        yield opened


@pytest.fixture(scope="session")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same history, exported once."""
    folder = tmp_path_factory.mktemp("published")
    with open_bench(folder / "bench.db", person="R. Tidewater") as bench:
        return lk.share.export(fill(bench), folder / "gel.eln")
