"""Do findings about charge tell which laboratory samples split?

    python -m tests.benchmarks.bench_open_data_charge PATH/liquid_formulations.csv

The file is published with "Machine Learning-Guided Space-filling Designs for High Throughput
Liquid Formulations Development" (2024, MIT licence) and is not part of the project; without it
the benchmark is skipped and says so. Amounts are taken as active matter.
"""

from __future__ import annotations

import csv
import sys
from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

from labkit.estimates.check import Checker
from labkit.formula import Formula, Line
from labkit.formula.brief import Brief
from labkit.materials import Materials

CHARGE = ("INC01", "INC51")


def shelf(names: list[str]) -> tuple[Materials, dict[str, str]]:
    """The file's substances as pure materials, with charge and class from the starter list."""
    starter, mats, keys = Materials.starter(), Materials(), {}
    mats = mats.add(name="water", inci="Aqua", phase="water")
    for name in names:
        inci = name.removesuffix(" (a)").removesuffix(" (b)").split(" (and) ")[0]
        known = starter.resolve(inci)
        charge = known.charge if known else _charge(inci)
        kind = known.charge_class if known else _class(inci)
        mats = mats.add(name=name, inci=inci, phase="water", charge=charge, charge_class=kind)
        keys[name] = name
    return mats, keys


def _charge(inci: str) -> str:
    if inci.startswith("Polyquaternium") or inci.endswith("monium Chloride"):
        return "cationic"
    if "Betaine" in inci or "ampho" in inci:
        return "amphoteric"
    salt = inci.startswith(("Sodium", "Disodium", "Potassium")) or "Citrate" in inci
    return "anionic" if salt else "nonionic"


def _class(inci: str) -> str:
    return "polymer" if inci.startswith("Polyquaternium") else "surfactant"


def samples(path: Path) -> Iterator[tuple[Formula, bool, list[str]]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.DictReader(file)
        names = list(reader.fieldnames or [])
        names = names[1 : names.index("one_phase")]
        for row in reader:
            if row["one_phase"] not in ("True", "False"):
                continue
            parts = [(n, Decimal(row[n]).quantize(Decimal("0.0001"))) for n in names]
            held = [Line(phase="A", material=n, percent=p) for n, p in parts if p > 0]
            water = 100 - sum((x.percent for x in held), Decimal(0))
            lines = (Line(phase="A", material="water", percent=water), *held)
            yield Formula(f"sample {row['sample']}", lines), row["one_phase"] == "True", names


def main(arguments: list[str]) -> int:
    """Print the share of split samples with each finding and without."""
    path = Path(arguments[0]) if arguments else None
    if path is None or not path.is_file():
        print("skipped: give the path of liquid_formulations.csv (open data, not in the project)")
        return 0
    rows = list(samples(path))
    mats, _ = shelf(rows[0][2])
    brief = Brief(product="rinse-off", form="surfactant", market=("US",))
    split: dict[str, list[bool]] = defaultdict(list)
    for formula, one_phase, _ in rows:
        codes = set(Checker(formula, mats, brief).findings(ph=5.5).codes)
        told = [c for c in CHARGE if c in codes]
        for code in told:
            split[code].append(not one_phase)
        split["either" if told else "neither"].append(not one_phase)
    print(f"{len(rows)} samples, {sum(not ok for _, ok, _ in rows) / len(rows):.0%} split")
    for name in ("INC01", "INC51", "either", "neither"):
        found = split[name]
        share = f"{sum(found) / len(found):.0%}" if found else "–"
        print(f"{name:8} {len(found):4} samples, {share} split")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
