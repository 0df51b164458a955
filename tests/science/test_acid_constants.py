"""Names and constants: shipped values are rows of their source; the temperature model holds."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from labkit import tables
from labkit.errors import ScienceError
from labkit.science import acid_constants
from labkit.science.acid_constants import component_name, find_component, pka_at, shipped_components

PKA = Path(__file__).parents[1] / "reference" / "pka.csv"


def _reference() -> list[dict[str, str]]:
    with PKA.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_shipped_constant_names_a_known_source() -> None:
    known = tables.sources()
    for row in tables.rows("acid_base_constants"):
        assert row["source_id"] in known, row
        assert row["source_kind"] in {"opened", "memory", "common-practice"}, row
        assert row["source_kind"] != "opened" or row["place"], row


def test_a_shipped_constant_that_cites_a_reference_row_is_that_row() -> None:
    reference = {row["id"]: row for row in _reference()}
    columns = {"pKa25": "value", "dH": "dH_kJ_per_mol", "dCp": "dCp_J_per_mol_K"}
    checked = 0
    for row in tables.rows("acid_base_constants"):
        place = row["place"] or ""
        if "reference row pka_" not in place or "note" in place:
            continue
        cited = reference[place.split("reference row ")[1][:7]]
        stated = cited[columns[str(row["property"])]]
        assert float(str(row["value"])) == float(stated), (row, cited)
        checked += 1
    assert checked > 90


def test_no_constant_is_taken_from_a_non_commercial_source() -> None:
    restricted = {row["id"] for row in _reference() if "NC" in row["licence"]}
    for row in tables.rows("acid_base_constants"):
        assert not any(name in (row["place"] or "") for name in restricted)


def test_constants_are_ordered_from_the_strongest_acid_and_lie_in_reach() -> None:
    low, high = acid_constants.PKA_LIMITS
    for part in shipped_components().values():
        assert list(part.pka25) == sorted(part.pka25), part.name
        assert all(low < value < high for value in part.pka25), part.name
        assert len(part.pka25) == len(part.dh_kj_per_mol) == len(part.dcp_j_per_mol_k)


def test_every_spelling_leads_to_a_shipped_component() -> None:
    for row in tables.rows("acid_base_names"):
        assert row["component"] in shipped_components(), row


@pytest.mark.parametrize(
    "row",
    [
        row
        for row in _reference()
        if row["compound"].startswith(("Aminomethyl Propanol", "Diethanolamine"))
        and row["ionic_strength"].startswith("0 (m")
    ],
    ids=lambda row: f"{row['compound'].split()[0]}-{row['temperature_C']}",
)
def test_amine_constants_from_0_to_50_c_meet_the_measured_ones(row: dict[str, str]) -> None:
    # IUPAC digitised pKa data (Perrin), cited per row; independent of the shipped dH, dCp
    name = row["compound"].replace(" (protonated)", "")
    assert pka_at(name, float(row["temperature_C"]))[0] == pytest.approx(
        float(row["value"]), abs=max(0.03, float(row["tol_abs"]))
    )


def test_the_temperature_model_is_the_printed_equation() -> None:
    # tris at 37 °C by hand: 8.072 + dH and dCp terms
    t, r = 310.15, 8.314462618 * math.log(10.0)
    ratio = 298.15 / t
    by_hand = 8.072 + 47450 / r * (1 / t - 1 / 298.15) + 59 / r * (ratio - 1 - math.log(ratio))
    assert pka_at("tromethamine", 37.0)[0] == pytest.approx(by_hand, abs=1e-12)


@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("Cit", "citrate"),
        ("Tar", "tartrate"),
        ("Phth", "phthalate"),
        ("P", "phosphate"),
        ("Bor", "borate"),
        ("B", "borate"),
        ("Carb", "carbonate"),
        ("C", "carbonate"),
        ("Ac", "acetate"),
        ("Tris", "tromethamine"),
        (" citric ACID ", "citrate"),
        ("K", "K"),
        ("my own", "my own"),
    ],
)
def test_other_spellings_are_understood(spelling: str, name: str) -> None:
    assert component_name(spelling) == name


def test_given_constants_go_before_shipped_ones_under_any_spelling() -> None:
    own = {"Cit": {"pKa25": 5.0, "charge_fully_deprotonated": -1}}
    assert find_component("citric acid", own).pka25 == (5.0,)


def test_an_unknown_name_is_refused_with_near_ones() -> None:
    with pytest.raises(ScienceError, match=r"'citrat' is not known.*Near names: citrate"):
        find_component("citrat")
    with pytest.raises(ScienceError, match="Name the acid part and the ion apart"):
        find_component("unobtainium")


def test_a_name_that_is_no_text_is_refused() -> None:
    with pytest.raises(ScienceError, match="where a name belongs"):
        component_name(3)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        (4.2, "a mapping with pKa25"),
        ({"pKa25": [4.2]}, "whole number"),
        ({"pKa25": [4.2], "charge_fully_deprotonated": -0.5}, "whole number"),
        ({"pKa25": [4.2], "charge_fully_deprotonated": True}, "whole number"),
        ({"pKa25": [4.2], "charge_fully_deprotonated": 99}, "whole number"),
        ({"pKa25": [4.2, "x"], "charge_fully_deprotonated": -1}, "plain numbers"),
        ({"pKa25": [math.nan], "charge_fully_deprotonated": -1}, "plain numbers"),
        ({"pKa25": None, "charge_fully_deprotonated": -1}, "plain numbers"),
        ({"pKa25": [55.0], "charge_fully_deprotonated": -1}, "at most 12 pKa"),
        ({"pKa25": [4.0] * 13, "charge_fully_deprotonated": -12}, "at most 12 pKa"),
        (
            {"pKa25": [4.2], "charge_fully_deprotonated": -1, "dH_kJ_per_mol": [1, 2]},
            "one for each pKa",
        ),
        ({"pKa": [4.2], "charge_fully_deprotonated": -1}, "the entry 'pKa'"),
    ],
)
def test_unusable_constants_are_refused(facts: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        find_component("mine", {"mine": facts})  # type: ignore[dict-item]


@pytest.mark.parametrize("bad", [-1.0, 101.0, math.nan, "25", True, None])
def test_a_temperature_that_is_none_is_refused(bad: object) -> None:
    with pytest.raises(ScienceError, match="0 to 100 °C"):
        pka_at("citrate", bad)  # type: ignore[arg-type]
