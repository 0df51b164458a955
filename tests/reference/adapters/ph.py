"""pH standards, pH mixtures and dissociation constants.

Primary standards are held to 0.025 each (the table's mean is held in
``tests/science/test_acidbase_standards.py``); every other row to its own tolerance.
Mixtures bring their own constants and are checked in all models they print.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator

from labkit.errors import LabkitError
from labkit.science.acidbase import buffer_capacity, component_name, solve_ph
from labkit.tables import rows as rows_of
from tests.reference.tolerance import Result, Row, exact_number, fact, near, not_covered, verdict

TABLES = ("ph_standards", "ph_mixtures", "pka")
COLUMNS = frozenset({"totals_mol_per_kg", "value", "unit"})

PRIMARY_TOLERANCE = 0.025

DISPUTED = {
    ("borax", "buffer value"): (
        "0.020 does not follow from the composition: 0.04 mol/kg borate half neutralised "
        "gives ln10 x 0.04/4 = 0.0230 by the definition alone; held in "
        "tests/science/test_titration.py instead"
    )
}

SALTS = {
    "KH3(C2O4)2": {"K": 1, "oxalate": 2},
    "Ca(OH)2": {"calcium": 1},
    "KHC2O4": {"K": 1, "oxalate": 1},
    "KHTartrate": {"K": 1, "tartrate": 1},
    "KH2Citrate": {"K": 1, "citrate": 1},
    "KHPhthalate": {"K": 1, "phthalate": 1},
    "KH2PO4": {"K": 1, "phosphate": 1},
    "NaH2PO4": {"Na": 1, "phosphate": 1},
    "K2HPO4": {"K": 2, "phosphate": 1},
    "Na2HPO4": {"Na": 2, "phosphate": 1},
    "Na2B4O7": {"Na": 2, "borate": 4},
    "H3BO3": {"borate": 1},
    "NaHCO3": {"Na": 1, "carbonate": 1},
    "Na2CO3": {"Na": 2, "carbonate": 1},
    "HAc": {"acetate": 1},
    "NaAc": {"Na": 1, "acetate": 1},
    "Tris": {"tromethamine": 1},
    "TrisHCl": {"tromethamine": 1, "Cl": 1},
    "NH3": {"ammonia": 1},
    "NH4Cl": {"ammonia": 1, "Cl": 1},
    "HCl": {"Cl": 1},
    "KCl": {"K": 1, "Cl": 1},
    "NaCl": {"Na": 1, "Cl": 1},
    "NaOH": {"Na": 1},
    "KOH": {"K": 1},
}


def check(rows: list[Row]) -> Iterator[Result]:
    """One verdict a row."""
    for row in rows:
        try:
            yield _one(row)
        except LabkitError as refusal:
            yield verdict(row, False, row.get("value") or "", "a refusal", str(refusal))


def _one(row: Row) -> Result:
    if "compound" in row:
        return _constant(row)
    totals = _totals(row)
    if totals is None:
        return not_covered(row, "the composition is given neither as totals nor as known salts")
    if row.get("constants") is not None:
        return _mixture(row, totals)
    return _standard(row, totals)


def _totals(row: Row) -> dict[str, float] | None:
    stated = (row.get("totals_mol_per_kg") or "").strip()
    if stated:
        return {name: float(amount) for name, amount in json.loads(stated).items()}
    salts = json.loads(row.get("molality_mol_per_kg") or "{}")
    if not salts or any(salt not in SALTS for salt in salts):
        return None
    found: dict[str, float] = {}
    for salt, amount in salts.items():
        for component, count in SALTS[salt].items():
            found[component] = found.get(component, 0.0) + count * float(amount)
    return found


def _standard(row: Row, totals: dict[str, float]) -> Result:
    temperature = exact_number(row.get("temperature_C")) or 25.0
    quantity = row["quantity"].lower()
    if quantity.startswith("ph"):
        got = float(solve_ph(totals, temperature_c=temperature))
        return _within_primary(row, got) if _is_primary(row) else near(row, got)
    if "buffer" in quantity or "beta" in quantity:
        for (buffer, what), reason in DISPUTED.items():
            if row.get("buffer") == buffer and what in quantity:
                return not_covered(row, reason)
        return near(row, float(buffer_capacity(totals, temperature_c=temperature)))
    if "ionic strength" in quantity:
        return near(
            row, float(solve_ph(totals, temperature_c=temperature, detail=True).ionic_strength)
        )
    return not_covered(row, f"no call for the quantity {row['quantity']!r}")


def _is_primary(row: Row) -> bool:
    return row["quantity"] == "pH(S)" and "secondary" not in row["source"] + row["note"]


def _within_primary(row: Row, got: float) -> Result:
    tolerance = max(PRIMARY_TOLERANCE, exact_number(row.get("tol_abs")) or 0.0)
    good = abs(got - float(row["value"])) <= tolerance
    return verdict(row, good, row["value"], f"{got:.4f}", f"± {tolerance:g}")


def _mixture(row: Row, totals: dict[str, float]) -> Result:
    constants = json.loads(row["constants"] or "{}")
    temperature = exact_number(row.get("temperature_C")) or 25.0
    found = solve_ph(totals, constants, temperature, detail=True)
    misses = list(_misses(row, totals, constants, temperature, float(found.ionic_strength)))
    main = near(row, float(found.ph))
    if main.status != "passed" or not misses:
        return main
    return verdict(row, False, main.expected, main.got, "; ".join(misses))


def _misses(
    row: Row,
    totals: dict[str, float],
    constants: dict[str, dict[str, object]],
    temperature: float,
    strength: float,
) -> Iterable[str]:
    tolerance = exact_number(row.get("tol_abs")) or 0.01
    for column, activity, room in (
        ("value_ideal", "ideal", exact_number(row.get("tolerance_ideal")) or tolerance),
        ("value_bates_guggenheim", "bates-guggenheim", tolerance),
    ):
        stated = exact_number(row.get(column))
        if stated is not None:
            got = float(solve_ph(totals, constants, temperature, activity))
            if abs(got - stated) > room + 1e-9:
                yield f"{column} {stated} got {got:.4f}"
    stated = exact_number(row.get("ionic_strength"))
    if stated is not None and abs(strength - stated) > max(2e-5, 0.002 * stated):
        yield f"ionic_strength {stated} got {strength:.5f}"


COMPOUNDS = {
    "carbonic acid (co2 aq)": "carbonate",
    "sodium pca (pca acid)": "PCA",
    "methylparaben (phenol)": "methylparaben",
}

SOURCES = {
    "goldberg-2002": "Goldberg",
    "minteq-v4": "minteq.v4",
    "handbook-recalled": "handbook value recalled",
    "encyclopaedia-infobox": "encyclopaedia",
}

FACTS = {"dH": "dH_kJ_per_mol", "dCp": "dCp_J_per_mol_K"}


def _constant(row: Row) -> Result:
    """A shipped constant must equal the row of the source it names; other rows are facts."""
    plain = re.sub(r"\s*\((protonated|ammonium ion)\)$", "", row["compound"].lower())
    name = COMPOUNDS.get(plain) or component_name(plain)
    shipped = {
        str(line["property"]): line
        for line in rows_of("acid_base_constants")
        if line["component"] == name and line["step"] == row["step"]
    }
    main = shipped.get("pKa25")
    if main is None or exact_number(row["value"]) is None:
        return fact(row)
    if (
        SOURCES.get(str(main["source_id"]), "no other") not in row["source"]
        or row["temperature_C"] != "25"
    ):
        return fact(row)
    for key, column in FACTS.items():
        stated, mine = exact_number(row[column]) or 0.0, shipped.get(key, {"value": "0"})["value"]
        if abs(stated - float(str(mine))) > 1e-9:
            return verdict(row, False, f"{column} {stated}", str(mine))
    return near(row, float(str(main["value"])))
