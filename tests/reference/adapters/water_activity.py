"""water_activity: Norrish, Ross, Raoult, sodium chloride."""

from __future__ import annotations

import re
from collections.abc import Iterable

from labkit.science import humidity
from tests.reference.tolerance import FAILED, Result, Row, near, not_covered

TABLES = ("water_activity",)
COLUMNS = frozenset({"solute", "quantity", "wt_percent", "molality"})
SALT = {"sodium chloride", "nacl"}


def check(rows: list[Row]) -> Iterable[Result]:
    for row in rows:
        yield _check(row)


def _check(row: Row) -> Result:
    quantity, table = row["quantity"].casefold(), humidity.constants()
    parts = _parts(row)
    unknown = [name for name, _ in parts if name not in table and name not in SALT]
    if unknown:
        return not_covered(row, f"no water activity data for {', '.join(unknown)}")
    molalities = [m for _, m in parts]
    constants = [table[name][1] if name in table else None for name, _ in parts]
    if "norrish k" in quantity:
        if constants[0] is None:
            return not_covered(row, "labkit ships no Norrish constant for it")
        return near(row, constants[0])
    if parts[0][0] in SALT and len(parts) == 1:
        return near(row, float(humidity.sodium_chloride(molalities[0])))
    if "raoult" in quantity:
        return near(row, float(humidity.raoult(molalities)))
    salt = sum(m for name, m in parts if name in SALT)
    sugars = [(m, k or 0.0) for (name, m), k in zip(parts, constants, strict=True) if name in table]
    molalities, known = [m for m, _ in sugars], [k for _, k in sugars]
    if "ross" in quantity:
        salted = float(humidity.sodium_chloride(salt))
        return near(row, salted * float(humidity.ross(molalities, known)))
    if salt:
        return not_covered(row, "the Norrish mixture holds no electrolyte")
    return _norrish(row, float(humidity.norrish(molalities, known)))


def _norrish(row: Row, got: float) -> Result:
    """A measured value is met, or lies outside its own band but inside Norrish's accuracy."""
    result = near(row, got)
    off = abs(got - float(row["value"]))
    measured = "norrish" not in row["source"].casefold()
    if result.status == FAILED and measured and off <= humidity.NORRISH_ACCURACY:
        return not_covered(
            row, f"a measured value {off:.4f} from the Norrish equation, which states 0.010"
        )
    return result


def _parts(row: Row) -> list[tuple[str, float]]:
    """Solutes and molalities: one from the columns, several from "A 5 + B 5 in water 90 (g)"."""
    text, table = row["solute"].strip(), humidity.constants()
    mixed = re.fullmatch(r"(.*) in water ([\d.]+).*", text)
    if mixed is None:
        name = text.casefold()
        if row["molality"]:
            percent = float(row["wt_percent"]) if row["wt_percent"] else None
            if percent is not None and name in table:
                return [(name, float(humidity.molality(percent, table[name][0])))]
            return [(name, float(row["molality"]))]
        return [(name, 0.0)]
    found = []
    for part in mixed.group(1).split("+"):
        name, grams = part.strip().rsplit(None, 1)
        mass = table[name.casefold()][0] if name.casefold() in table else 58.4428
        found.append(
            (name.casefold(), float(humidity.molality(float(grams), mass, float(mixed.group(2)))))
        )
    return found
