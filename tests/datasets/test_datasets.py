"""Every row of every table: keys, units, ranges, sources, sums and physical rules.

Each check lists all offenders in one message.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from labkit import tables
from labkit.materials.names import fold
from tests.datasets import make_datapackage

FOLDER = tables.path("sources").parent
EVERY = sorted(f.relative_to(FOLDER).with_suffix("").as_posix() for f in FOLDER.rglob("*.csv"))
SOURCED = [name for name in EVERY if tables.rows(name) and "source_id" in tables.rows(name)[0]]
DATA = [name for name in SOURCED if not name.startswith("sources")]
WITHOUT_SOURCES = {"contents", "acid_base_names", "demo/lines", "demo/trials", "demo/readings"}
KINDS = {"opened", "computed", "memory", "common-practice", "invented"}
WORDS_FOR_UNITS = {
    "%": "1", "-": "1", "log10": "1", "pH": "1", "delta_E": "1", "batches": "1",
    "g or ml": "g", "% of panel height": "1", "% of batch": "1", "% torque": "1",
    "parts per part": "1", "readability": "1", "persons": "1", "EUR/kg": "1/kg",
}  # fmt: skip
"""Units of the trade that a library of units does not know, and what they count as."""

COUNTS_AND_SUMS: dict[str, tuple[int, dict[str, float]]] = {
    "challenge_criteria": (31, {"min_log_reduction": 34.0}),
    "essential_oil_allergens": (
        99,
        {"min_pct": 715.25, "max_pct": 1383.5, "typical_pct": 1024.85},
    ),
    "exposure": (147, {"value": 45276.192}),
    "fragrance_allergens": (
        83,
        {"threshold_leave_on_pct": 0.081, "threshold_rinse_off_pct": 0.81},
    ),
    "hlb_emulsifiers": (156, {"value": 2110.14, "low": 1044.7, "high": 1110.6}),
    "hlb_required": (99, {"value": 940.97, "low": 862.54, "high": 960.46}),
    "hlb_required_ends": (22, {"value": 229.5}),
    "incompatibilities": (67, {}),
    "label_rules": (52, {}),
    "material_constituents": (339, {"low": 9510.49, "high": 10690.41}),
    "material_defaults": (17, {}),
    "material_facts": (2981, {"value": 47033.571, "low": 2684.0345, "high": 8125.4162}),
    "material_hazards": (246, {}),
    "material_names": (381, {}),
    "material_tags": (278, {}),
    "materials": (528, {}),
    "partition": (37, {"value": 432.807}),
    "process_practice": (82, {"value": 1309.45, "low": 138738.9, "high": 594323.0}),
    "stability_practice": (31, {"value": 12092.5, "low": 42.0, "high": 124.0}),
    "use_limits": (
        210,
        {
            "limit_max_pct": 165.0382,
            "factor_supplied_to_basis": 25.9278,
            "pka": 123.2,
            "ph_min_work": 272.8,
            "ph_max_work": 611.7,
            "typical_min_pct": 26.82,
            "typical_max_pct": 127.8,
        },
    ),
    "demo/prices": (528, {"value": 54190.75}),
}
MINE = tuple(COUNTS_AND_SUMS)


def number(text: str | None) -> float:
    assert text is not None
    return float(text)


def ids(row: tables.Row) -> list[str]:
    return (row["source_id"] or "").split("; ")


def starters() -> set[str | None]:
    return {row["starter_id"] for row in tables.rows("materials")}


def facts(name: str) -> Iterator[tuple[str, tables.Row]]:
    for row in tables.rows("material_facts"):
        if row["property"] == name:
            yield row["starter_id"] or "", row


def listed(offenders: Iterable[object]) -> None:
    found = list(offenders)
    assert not found, f"{len(found)} offenders: {found[:20]}"


# --- all tables -----------------------------------------------------------------------


def test_every_table_names_its_sources() -> None:
    assert {name for name in EVERY if name not in SOURCED} <= WITHOUT_SOURCES


@pytest.mark.parametrize("name", DATA)
def test_every_source_id_exists_and_its_kind_is_known(name: str) -> None:
    known = tables.sources()
    listed(
        (number, row["source_id"], row["source_kind"])
        for number, row in enumerate(tables.rows(name), start=2)
        if any(i not in known for i in ids(row)) or row["source_kind"] not in KINDS
    )


def test_every_source_is_used() -> None:
    used = {i for name in DATA for row in tables.rows(name) for i in ids(row)}
    listed(sorted(set(tables.sources()) - used))


@pytest.mark.parametrize("name", DATA)
def test_what_was_opened_names_its_place(name: str) -> None:
    listed(
        number
        for number, row in enumerate(tables.rows(name), start=2)
        if row["source_kind"] == "opened" and not row.get("place")
    )


@pytest.mark.parametrize("name", [n for n in DATA if "unit" in tables.rows(n)[0]])
def test_units_parse(name: str) -> None:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    wrong = []
    for unit in sorted({row["unit"] for row in tables.rows(name) if row["unit"]}):
        try:
            registry.Unit(WORDS_FOR_UNITS.get(unit, unit.replace("m3", "m^3")))
        except (pint.PintError, AssertionError):
            wrong.append(unit)
    listed(wrong)


@pytest.mark.parametrize("name", [n for n in DATA if "low" in tables.rows(n)[0]])
def test_low_value_and_high_stand_in_this_order(name: str) -> None:
    def disordered(row: tables.Row) -> bool:
        known = [float(x) for x in (row["low"], row.get("value"), row["high"]) if x]
        return known != sorted(known)

    listed(n for n, row in enumerate(tables.rows(name), start=2) if disordered(row))


@pytest.mark.parametrize("entry", tables.rows("contents"), ids=lambda row: row["table"])
def test_keys_are_unique(entry: tables.Row) -> None:
    key = (entry["primary_key"] or "").split("; ")
    rows = tables.rows(entry["table"] or "")
    if key == [""]:
        seen = Counter(tuple(row.values()) for row in rows)
    else:
        seen = Counter(tuple(row[column] for column in key) for row in rows)
    listed(value for value, times in seen.items() if times > 1)


def test_the_package_description_covers_every_table_and_is_up_to_date() -> None:
    fresh = make_datapackage.text(FOLDER)
    assert make_datapackage.TARGET.read_text(encoding="utf-8") == fresh, (
        "run python -m tests.datasets.make_datapackage"
    )
    paths = {r["path"] for r in make_datapackage.package(FOLDER)["resources"]}
    assert paths == {f"{name}.csv" for name in EVERY}


def test_the_description_is_the_same_twice() -> None:
    assert make_datapackage.text(FOLDER) == make_datapackage.text(FOLDER)


@pytest.mark.parametrize("name", EVERY)
def test_no_table_speaks_of_anything_but_the_trade(name: str) -> None:
    text = (FOLDER / f"{name}.csv").read_text(encoding="utf-8")
    words = re.compile(
        r"\b(safe|compliant|approved|hobby|split from|own row|README)\b",
        re.IGNORECASE,
    )
    listed(
        (n, m.group()) for n, line in enumerate(text.splitlines(), 1) for m in words.finditer(line)
    )


@pytest.mark.parametrize("name", MINE)
def test_row_count_and_column_sums_are_fixed(name: str) -> None:
    count, sums = COUNTS_AND_SUMS[name]
    rows = tables.rows(name)
    assert len(rows) == count
    for column, total in sums.items():
        found = [number(row[column]) for row in rows if row[column]]
        assert sum(found) == pytest.approx(total)


# --- materials ------------------------------------------------------------------------


def test_cas_numbers_carry_their_check_digit() -> None:
    """CAS Registry: the last digit is the weighted sum of the others, modulo 10."""

    def wrong(cas: str) -> bool:
        match = re.fullmatch(r"(\d{2,7})-(\d\d)-(\d)", cas)
        if match is None:
            return True
        digits = (match[1] + match[2])[::-1]
        return sum(i * int(d) for i, d in enumerate(digits, start=1)) % 10 != int(match[3])

    found = [row["text"] for _, row in facts("cas")]
    found += [c for row in tables.rows("fragrance_allergens") for c in _split(row["cas"])]
    assert len(found) > 450
    listed(cas for cas in found if cas is None or wrong(cas))


def _split(text: str | None) -> list[str]:
    return re.split(r"\s*[;/]\s*", text) if text else []


@pytest.mark.parametrize(
    "name",
    [
        "material_facts",
        "material_constituents",
        "material_hazards",
        "material_names",
        "material_tags",
        "material_defaults",
        "demo/prices",
    ],
)
def test_rows_belong_to_a_starter_material(name: str) -> None:
    listed(row["starter_id"] for row in tables.rows(name) if row["starter_id"] not in starters())


def test_every_material_has_use_level_heat_limit_and_price() -> None:
    for name in ("use_level", "heat_limit", "heat_sensitive"):
        assert {number for number, _ in facts(name)} == starters()
    assert {row["starter_id"] for row in tables.rows("demo/prices")} == starters()
    assert {row["source_kind"] for row in tables.rows("demo/prices")} == {"invented"}


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        ("use_level", 0, 100),
        ("ph_window", 0, 14),
        ("heat_limit", 20, 200),
        ("strength", 0.01, 100),
        ("density", 0.6, 6),
        ("hlb", 0, 40),
        ("required_hlb", 1, 20),
    ],
)
def test_properties_stay_within_what_can_be(name: str, least: float, most: float) -> None:
    listed(
        (material, column, row[column])
        for material, row in facts(name)
        for column in ("value", "low", "high")
        if row[column] is not None and not least <= number(row[column]) <= most
    )


def test_nonionic_emulsifiers_have_an_hlb_of_at_most_twenty() -> None:
    """Griffin 1954: 20 is a molecule that is all hydrophile."""
    listed(
        row["inci"]
        for row in tables.rows("hlb_emulsifiers")
        if row["ionic"] == "nonionic" and row["property"] == "hlb" and number(row["high"]) > 20
    )


def test_hlb_from_ethylene_oxide_agrees_with_the_listed_value() -> None:
    """Griffin 1954: HLB = E/5; listed and computed differ by less than one unit."""
    hlb: dict[str, dict[str, float]] = defaultdict(dict)
    for row in tables.rows("hlb_emulsifiers"):
        if row["value"]:
            hlb[row["inci"] or ""][row["property"] or ""] = number(row["value"])
    pairs = [(k, v) for k, v in hlb.items() if "hlb_from_ethylene_oxide" in v]
    assert len(pairs) > 25
    listed(k for k, v in pairs if abs(v["hlb"] - v["hlb_from_ethylene_oxide"]) >= 1)


def test_the_usual_grade_is_set_for_every_inci_of_several_grades() -> None:
    grades: dict[str | None, list[str | None]] = defaultdict(list)
    for row in tables.rows("materials"):
        grades[row["inci"]].append(row["starter_id"])
    several = {inci for inci, found in grades.items() if len(found) > 1}
    chosen = {row["inci"]: row["starter_id"] for row in tables.rows("material_defaults")}
    assert set(chosen) == several
    listed(inci for inci, number in chosen.items() if number not in grades[inci])


def test_no_other_name_means_two_materials() -> None:
    owner = {fold(row["name"] or ""): row["starter_id"] for row in tables.rows("materials")}
    wrong = []
    for row in tables.rows("material_names"):
        plain = fold(row["alias"] or "")
        if owner.setdefault(plain, row["starter_id"]) != row["starter_id"]:
            wrong.append((row["alias"], row["starter_id"], owner[plain]))
    listed(wrong)


def test_parts_of_a_material_can_add_up_to_one_hundred() -> None:
    low: Counter[str | None] = Counter()
    high: Counter[str | None] = Counter()
    for row in tables.rows("material_constituents"):
        if row["role"] != "within":
            low[row["starter_id"]] += number(row["low"]) if row["low"] else 0  # type: ignore[assignment]
            high[row["starter_id"]] += number(row["high"]) if row["high"] else 100  # type: ignore[assignment]
    listed((m, low[m], high[m]) for m in high if low[m] > 100.0001 or high[m] < 99.9999)


def test_parts_are_numbered_in_order() -> None:
    order: dict[str | None, list[int]] = defaultdict(list)
    for row in tables.rows("material_constituents"):
        order[row["starter_id"]].append(int(row["order"] or 0))
    listed(m for m, numbers in order.items() if numbers != list(range(1, len(numbers) + 1)))


def test_the_strength_lies_in_the_range_of_the_named_substance() -> None:
    inci = {row["starter_id"]: row["inci"] for row in tables.rows("materials")}
    strength = {material: number(row["value"]) for material, row in facts("strength")}
    listed(
        (row["starter_id"], row["inci"], row["low"], row["high"], strength[row["starter_id"]])
        for row in tables.rows("material_constituents")
        if row["starter_id"] in strength
        and row["inci"] == inci[row["starter_id"]]
        and row["low"]
        and not number(row["low"]) <= strength[row["starter_id"]] <= number(row["high"])
    )


# --- rules ----------------------------------------------------------------------------

CLAUSE = re.compile(r"(ionic|class|group|function):([\w-]+)|inci=([^|\]]+)")


def test_conditions_of_the_rules_name_things_that_exist() -> None:
    rows = tables.rows("materials")
    names = {row["inci"] for row in rows}
    names |= {row["inci"] for row in tables.rows("material_constituents")}
    names |= {row["inci"] for row in tables.rows("use_limits")}
    known: dict[str, set[str | None]] = {
        "group": {group for row in rows for group in _split(row["groups"])},
        "class": {row["charge_class"] for row in rows},
        "ionic": {row["charge"] for row in rows},
        "function": {f for row in rows for f in _split(row["functions"])},
    }
    wrong: list[object] = []
    for rule in tables.rows("incompatibilities"):
        needs = rule["needs"] or ""
        if needs.count("[") != needs.count("]"):
            wrong.append((rule["rule_id"], needs))
        for kind, word, inci in CLAUSE.findall(needs):
            if (kind and word not in known[kind]) or (inci and inci.strip() not in names):
                wrong.append((rule["rule_id"], kind or "inci", word or inci.strip()))
    listed(wrong)


def test_severity_gives_the_level_of_the_finding() -> None:
    level = {"harm": "stop", "law": "stop", "fails": "stop", "may": "check", "info": "fyi"}
    listed(
        rule["rule_id"]
        for rule in tables.rows("incompatibilities")
        if level[rule["severity"] or ""] != rule["finding_level"]
    )


def test_factors_of_use_limits_are_ratios_of_molar_masses() -> None:
    """One molecule of salt holds one of acid, so the factor is acid over salt."""
    rows = [r for r in tables.rows("use_limits") if r["mw_supplied"] and r["mw_acid"]]
    assert len(rows) >= 30
    listed(
        (r["row_id"], r["factor_supplied_to_basis"])
        for r in rows
        if abs(number(r["mw_acid"]) / number(r["mw_supplied"])
               - number(r["factor_supplied_to_basis"])) > 0.0006
    )  # fmt: skip


def test_windows_of_use_limits_are_ordered() -> None:
    pairs = [("ph_min_work", "ph_max_work", 14), ("typical_min_pct", "typical_max_pct", 100)]
    listed(
        (row["row_id"], low)
        for row in tables.rows("use_limits")
        for low, high, most in pairs
        if row[low] and row[high] and not 0 <= number(row[low]) <= number(row[high]) <= most
    )


def test_prohibited_means_a_limit_of_zero() -> None:
    listed(
        row["row_id"]
        for row in tables.rows("use_limits")
        if row["status"] in ("prohibited", "not permitted") and number(row["limit_max_pct"]) != 0
    )


def test_allergens_of_an_oil_are_ordered_and_fit_into_it() -> None:
    total: Counter[str | None] = Counter()
    wrong: list[object] = []
    for row in tables.rows("essential_oil_allergens"):
        least, usual, most = (number(row[c]) for c in ("min_pct", "typical_pct", "max_pct"))
        total[row["oil_inci"]] += usual  # type: ignore[assignment]
        if not 0 <= least <= usual <= most <= 100:
            wrong.append((row["oil_inci"], row["allergen_label_name"]))
    listed([*wrong, *(oil for oil, share in total.items() if share > 100)])


def test_exposure_is_amount_times_what_stays_on() -> None:
    """SCCS Notes of Guidance: E = amount x retention factor, printed to three digits."""
    product: dict[str | None, dict[str | None, float]] = defaultdict(dict)
    for row in tables.rows("exposure"):
        product[row["product_type"]][row["property"]] = number(row["value"])
    full = {
        k: v for k, v in product.items() if {"amount", "retention_factor", "exposure"} <= set(v)
    }
    assert len(full) >= 17
    listed(
        k
        for k, v in full.items()
        if abs(v["amount"] * v["retention_factor"] - v["exposure"])
        > max(0.006, 0.03 * v["exposure"])
    )


def test_criteria_ask_for_reductions_that_do_not_shrink() -> None:
    listed(
        row["criterion"]
        for row in tables.rows("challenge_criteria")
        if row["min_log_reduction"] and not 0 <= number(row["min_log_reduction"]) <= 5
    )


def test_thresholds_of_allergens_are_those_of_the_regulation() -> None:
    """Regulation (EC) No 1223/2009, Annex III: 0.001 % leave-on, 0.01 % rinse-off."""
    listed(
        row["label_name"]
        for row in tables.rows("fragrance_allergens")
        if (row["threshold_leave_on_pct"], row["threshold_rinse_off_pct"])
        != (("0", "0") if row["status"] == "prohibited" else ("0.001", "0.01"))
    )


def test_file_names_are_plain() -> None:
    listed(f.name for f in Path(FOLDER).rglob("*") if not re.fullmatch(r"[a-z0-9_.-]+", f.name))


def test_the_ends_of_an_hlb_band_are_those_of_the_band() -> None:
    bands = {
        row["material_inci"]: row
        for row in tables.rows("hlb_required")
        if row["property"] == "required_hlb_ow" and row["material_inci"]
    }
    listed(
        row
        for row in tables.rows("hlb_required_ends")
        if number(row["value"]) != number(bands[row["inci"]][row["end"] or ""])
    )
