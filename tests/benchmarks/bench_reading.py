"""How long it takes to read a sheet with a report, beside a bare load of its cells.

    python -m tests.benchmarks.bench_reading

Peers: ``openpyxl.load_workbook`` twice (values and formulas, which any reader of
number formats needs), ``odf.opendocument.load``, and ``csv.reader``.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import perf_counter

import openpyxl
from odf.opendocument import load

from labkit.reading import read_recipe

SAMPLES = Path(__file__).parents[1] / "reference" / "messy_sheets"


def _milliseconds(work: Callable[[], object]) -> float:
    work()
    times = []
    for _ in range(9):
        begin = perf_counter()
        work()
        times.append(perf_counter() - begin)
    return median(times) * 1000


def _peer(path: Path) -> tuple[str, Callable[[], object]]:
    data = path.read_bytes()
    if path.suffix == ".xlsx":
        return "openpyxl twice", lambda: [
            openpyxl.load_workbook(io.BytesIO(data), data_only=x) for x in (True, False)
        ]
    if path.suffix == ".ods":
        return "odfpy", lambda: load(io.BytesIO(data))
    return "csv.reader", lambda: list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))


def main() -> None:
    """Print one line for each sample sheet."""
    for path in sorted(SAMPLES.glob("*.*")):
        if path.suffix not in {".csv", ".xlsx", ".ods"}:
            continue
        name, load_cells = _peer(path)
        ours, bare = _milliseconds(lambda path=path: read_recipe(path)), _milliseconds(load_cells)  # type: ignore[misc]
        print(f"{path.name:<36} read_recipe {ours:7.1f} ms   {name:<15} {bare:7.1f} ms")


if __name__ == "__main__":
    main()
