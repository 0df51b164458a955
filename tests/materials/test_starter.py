"""The starter set: what it holds, what it says it does not know."""

from __future__ import annotations

import copy
import pickle
import subprocess
import sys

import pytest

from labkit import tables
from labkit.materials import Material, Materials, Price
from labkit.materials.acid_content import of_substance

MATS = Materials.starter()


def of(text: str) -> Material:
    found = MATS.resolve(text)
    assert found is not None, text
    return found


def test_there_are_528_materials_under_different_keys() -> None:
    assert len(MATS) == 528 == len({m.name for m in MATS.values()})
    assert all(key == m.key for key, m in MATS.items())


def test_the_starter_set_is_read_once() -> None:
    assert Materials.starter() is MATS


@pytest.mark.parametrize(
    ("name", "property_", "value"),
    [
        # CRC Handbook of Chemistry and Physics: glycerol 1.2613 g/cm3 at 20 °C
        ("Glycerol", "density_g_ml", 1.261),
        # USP-NF: Trolamine is 99.0 to 107.4 %; the 85 % grade is sold as low freezing
        ("TEA 85 %", "strength", 0.85),
        # CAS Registry
        ("Glycerol", "cas", "56-81-5"),
        ("Glycerol", "charge", "nonionic"),
        ("SLES 28 %", "charge_class", "surfactant"),
        ("Retinaldehyde", "heat_limit_c", 35.0),
        ("Purified water", "no_minimum", True),
        ("Isododecane", "phase", "oil"),
    ],
)
def test_properties_are_those_of_the_tables(name: str, property_: str, value: object) -> None:
    assert getattr(of(name), property_) == value


def test_unknown_is_none_and_said_in_words() -> None:
    carbomer = of("Carbomer")
    assert carbomer.density_g_ml is None
    assert "density" in carbomer.unknowns()
    assert of("Olive emulsifier").ordered_only
    assert any("only their order" in words for words in of("Olive emulsifier").unknowns())


def test_every_number_names_its_source() -> None:
    numbers = ("density_g_ml", "hlb", "required_hlb", "strength", "heat_limit_c", "use_level",
               "price", "cas", "acid_base", "partition", "constituents")  # fmt: skip
    missing = [
        (m.name, name)
        for m in MATS.values()
        for name in numbers
        if getattr(m, name, None) not in (None, ()) and m.source(name) is None
    ]
    assert not missing, missing[:10]
    assert of("Stearic acid").source("required_hlb").words.startswith("OCL")  # type: ignore[union-attr]
    assert of("Glycerol").source("weight of the moon") is None
    assert of("Glycerol").source("density") == of("Glycerol").source("density_g_ml")


def test_list_prices_are_invented_and_say_so() -> None:
    price = of("Glycerol").price
    assert price == Price(per_kg=3.2, currency="EUR", pack="1 kg")
    source = of("Glycerol").source("price")
    assert source is not None
    assert source.kind == "invented"


def test_the_cautions_of_a_caustic_come_with_it() -> None:
    assert any("goggles" in words for words in of("NaOH").hazards)
    assert "wheat" in of("Hydrolysed wheat protein").allergy
    assert "bee" in of("Beeswax").origin
    assert of("Glycerol").feel == "tacky"
    assert of("Dicaprylyl carbonate").spreading == "fast"


def test_acid_content_joins_by_grade_name() -> None:
    """Molar mass of sodium hydroxide 39.997 g/mol: 1 g holds 0.0250 mol."""
    assert dict(of("Caustic soda").acid_base or ()) == pytest.approx({"Na": 1 / 39.997}, rel=1e-4)
    ten = dict(of("Sodium hydroxide 10 % solution").acid_base or ())
    assert ten == pytest.approx({"Na": 0.1 / 39.997}, rel=1e-4)


def test_acid_content_of_a_substance_is_free_of_the_water_of_its_grade() -> None:
    """Molar masses of lactic acid 90.078 and glycolic acid 76.05 g/mol (IUPAC weights)."""
    assert dict(of_substance("Lactic Acid", 0.5) or ()) == pytest.approx(
        {"lactate": 0.5 / 90.078}, rel=1e-3
    )
    assert dict(of_substance("Glycolic Acid", 1.0) or ()) == pytest.approx(
        {"glycolate": 1 / 76.05}, rel=1e-3
    )
    assert of_substance("Glycerin", 1.0) is None


def test_salt_inside_a_blend_counts_at_the_middle_of_its_range() -> None:
    """4 to 6 % sodium chloride, 58.443 g/mol."""
    assert dict(of("CAPB 30 %").acid_base or ())["Cl"] == pytest.approx(0.05 / 58.443, rel=1e-3)


def test_every_row_of_the_acid_table_with_a_starter_name_joins() -> None:
    rows = [r for r in tables.rows("acid_base_materials") if MATS.resolve(r["material"] or "")]
    assert len(rows) > 80
    for row in rows:
        material = of(row["material"] or "")
        content = dict(material.acid_base or ())
        assert row["component"] in content, (material.name, row["component"])


def test_salts_carry_the_partition_of_their_acid() -> None:
    benzoate, acid = of("Sodium benzoate"), of("Benzoic acid")
    assert benzoate.partition == acid.partition
    assert acid.partition is not None


def test_a_material_survives_copying_and_pickling() -> None:
    one = of("SLES 28 %")
    assert pickle.loads(pickle.dumps(one)) == one == copy.deepcopy(one)
    assert hash(one) == hash(copy.copy(one))


def test_facts_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        of("Glycerol").facts["price"] = None  # type: ignore[index]


def test_reading_the_starter_set_loads_no_heavy_library() -> None:
    code = (
        "import sys; from labkit.materials import Materials; Materials.starter().find('glyc');"
        "print([m for m in ('pandas', 'openpyxl', 'scipy', 'pint') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_reference_names_of_common_materials_are_known() -> None:
    """INCI names of common ingredients, with their US spellings (21 CFR 701.3 lists)."""
    for name in (
        "Water", "Aqua", "Aqua/Water/Eau", "Water (Aqua)", "Fragrance", "Parfum",
        "Butyrospermum Parkii (Shea) Butter", "Helianthus Annuus (Sunflower) Seed Oil",
        "Simmondsia Chinensis (Jojoba) Seed Oil", "Cera Alba (Beeswax)", "Alcohol Denat.",
        "Titanium Dioxide", "CI 77891", "Red 40", "Yellow 5", "Blue 1", "Mineral oil",
        "Caprylic/Capric Triglyceride", "Sodium Hydroxide", "Citric Acid", "Disodium EDTA",
    ):  # fmt: skip
        assert MATS.resolve(name) is not None, name
