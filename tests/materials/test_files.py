"""Own materials are read from real files, and bad ones are refused by row."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from openpyxl import Workbook

from labkit.errors import LabkitError, MaterialError
from labkit.materials import Materials
from labkit.materials.files import COLUMNS

MATS = Materials.starter()
Write = Callable[..., Path]


@pytest.fixture
def csv(tmp_path: Path) -> Write:
    def write(text: str, name: str = "own.csv", encoding: str = "utf-8") -> Path:
        file = tmp_path / name
        file.write_bytes(text.encode(encoding))
        return file

    return write


@pytest.fixture
def xlsx(tmp_path: Path) -> Write:
    def write(*rows: list[object]) -> Path:
        book = Workbook()
        assert book.active is not None
        for row in rows:
            book.active.append(row)
        file = tmp_path / "own.xlsx"
        book.save(file)
        return file

    return write


def test_friendly_column_names_are_understood(csv: Write) -> None:
    mats = Materials.read(
        csv(
            "Raw material,INCI name,Functions,Use min %,Use max %,pH from,pH to,Max temp,"
            "Density g/ml,RHLB,Price per kg,Currency,Supplier,Cautions\n"
            'Plum oil,Prunus Domestica Seed Oil,"emollient, gloss",1,20,3,9,80 °C,0.91,6-8,'
            '"31,50",EUR,Village press,stains; smells\n'
        )
    )
    plum = mats["plum-oil"]
    assert len(mats) == 529
    assert plum.functions == ("emollient", "gloss")
    assert (plum.use_low, plum.use_high, plum.ph_low, plum.ph_high) == (1.0, 20.0, 3.0, 9.0)
    assert (plum.heat_limit_c, plum.density_g_ml) == (80.0, 0.91)
    assert plum.required_hlb == (6.0, 7.0, 8.0)
    assert plum.price is not None
    assert (plum.price.per_kg, plum.price.currency) == (31.5, "EUR")
    assert plum.hazards == ("stains", "smells")
    assert plum.note == "Supplier: Village press"
    assert plum.source("density_g_ml").kind == "own"  # type: ignore[union-attr]


def test_blank_stays_unknown(csv: Write) -> None:
    plum = Materials.read(csv("name,density\nPlum oil,\n"))["plum-oil"]
    assert plum.density_g_ml is None
    assert plum.inci == "Plum oil"


def test_a_known_name_keeps_what_the_file_does_not_say(csv: Write) -> None:
    mats = Materials.read(csv("name;price;currency\nGlycerol;2,80;CHF\nGlycerine;3;EUR\n"))
    assert len(mats) == 529
    glycerol = mats["glycerol"]
    assert glycerol.starter_id == "M002"
    assert glycerol.density_g_ml == 1.261
    assert glycerol.price is not None
    assert glycerol.price.currency == "CHF"
    assert glycerol.source("price").kind == "own"  # type: ignore[union-attr]
    assert glycerol.source("density_g_ml").kind == "memory"  # type: ignore[union-attr]
    assert mats["glycerin"].density_g_ml == 1.261
    assert mats["glycerin"].starter_id is None


def test_based_on_takes_over_a_known_material(csv: Write) -> None:
    mats = Materials.read(csv("name,based on,strength\nQuat 25,M091,25 %\n"))
    quat = mats["quat-25"]
    assert quat.charge == "cationic"
    assert quat.strength == 0.25
    assert quat.constituents == ()


def test_a_stated_strength_renews_the_acid_content(csv: Write) -> None:
    """0.2 g of sodium hydroxide holds 0.2/39.997 mol."""
    mats = Materials.read(csv("name,based on,strength\nLye 20,Caustic soda,20\n"))
    assert dict(mats["lye-20"].acid_base or ()) == pytest.approx({"Na": 0.2 / 39.997}, rel=1e-4)


def test_a_known_name_with_another_inci_is_another_material(csv: Write) -> None:
    salt = Materials.read(csv("name,inci\nSalt,Potassium Chloride\n"))["salt"]
    assert salt.inci == "Potassium Chloride"
    assert salt.acid_base is None


def test_a_composition_is_exact_a_range_or_an_order(csv: Write) -> None:
    mats = Materials.read(
        csv(
            'name,inci,composition\nA,X,"Aqua 70-73 %; Sodium Laureth Sulfate 27-29"\n'
            'B,Y,"Sodium Hydroxide 5 %; Water: 95"\nC,Z,Polysorbate 60; Ceteareth-20\n'
        )
    )
    assert [(p.inci, p.low, p.high, p.role) for p in mats["a"].constituents] == [
        ("Aqua", 0.7, 0.73, "water"),
        ("Sodium Laureth Sulfate", 0.27, 0.29, "main"),
    ]
    assert [p.exact for p in mats["b"].constituents] == [True, True]
    assert mats["b"].acid_base is not None
    assert mats["c"].ordered_only
    assert [p.inci for p in mats["c"].constituents] == ["Polysorbate 60", "Ceteareth-20"]


def test_a_workbook_is_read(xlsx: Write) -> None:
    file = xlsx(["name", "price", "currency", "heat sensitive"], ["Plum oil", 31.5, "EUR", "yes"])
    plum = Materials.read(file)["plum-oil"]
    assert plum.price is not None
    assert plum.price.per_kg == 31.5
    assert plum.heat_sensitive is True


def test_a_percent_cell_is_what_the_screen_shows(tmp_path: Path) -> None:
    book = Workbook()
    assert book.active is not None
    book.active.append(["name", "strength", "use max %"])
    book.active.append(["Quat 30", 0.3, 0.05])
    book.active["B2"].number_format = "0%"
    book.active["C2"].number_format = "0.0 %"
    book.save(tmp_path / "own.xlsx")
    quat = Materials.read(tmp_path / "own.xlsx")["quat-30"]
    assert (quat.strength, quat.use_high) == (0.3, 5.0)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
def test_usual_encodings_are_read(csv: Write, encoding: str) -> None:
    assert "creme-de-noix" in Materials.read(csv("name\nCrème de noix\n", encoding=encoding))


def test_tabs_and_blank_rows_are_no_trouble(csv: Write) -> None:
    file = csv("\nname\tdensity\n\nPlum oil\t0.9\n\n", name="own.tsv")
    assert Materials.read(file)["plum-oil"].density_g_ml == 0.9


def test_names_are_kept_in_normal_form(csv: Write) -> None:
    mats = Materials.read(csv("name\nCre\u0300me\n"))
    assert mats["creme"].name == "Cr\u00e8me"


def test_own_materials_can_be_laid_on_own_materials(csv: Write) -> None:
    first = Materials.read(csv("name\nPlum oil\n"), onto=Materials())
    both = Materials.read(csv("name\nPear oil\n", name="b.csv"), onto=first)
    assert list(both) == ["plum-oil", "pear-oil"]


def test_without_a_name_column_the_inci_names_the_material(csv: Write) -> None:
    assert "plum-oil" in Materials.read(csv("inci,density\nPlum oil,0.9\n"), onto=Materials())


HOSTILE = [
    ("name\n\u202eliO mulP\n", "row 2: a name with signs that cannot be seen .U.202E"),
    ("name\n=HYPERLINK(1)\n", "the spreadsheet formula"),
    ("name,density\nPlum oil,=1+1\n", "row 2: the spreadsheet formula '=1.1'"),
    ("name\n@x\n", "a spreadsheet would execute"),
    ("name\nPlum oil\nPLUM-OIL\n", "stands already in row 2"),
    ("density\n0.9\n", "the columns density"),
    ("name,name\na,b\n", "two columns for 'name'"),
    ("", "no rows"),
    ("name,density\n,0.9\n", "row 2: no name"),
    ("name,density\nPlum oil,NaN\n", "density: 'NaN' is not a number"),
    ("name,density\nPlum oil,1e400\n", "'1e400' is not a number"),
    ("name,density\nPlum oil,910\n", "density 910 g/mL"),
    ("name,use max\nPlum oil,-2\n", "'-2' is below 0"),
    ("name,price\nPlum oil,3\n", "without a currency"),
    ("name,charge\nPlum oil,positive\n", "One of: acid, amphoteric"),
    ("name,phase\nPlum oil,grease\n", "One of: dispersible, oil, water"),
    ("name,volatile\nPlum oil,maybe\n", "yes or no"),
    ("name,based on\nPlum oil,Plomb\n", "'based on' names 'Plomb'"),
    ("name,composition\nPlum oil,A 20 %\n", "add up to 20 to 20 %"),
    ("name,composition\nPlum oil,;;\n", "A part has no name"),
    ('name\n"Plum\n', "text that is no table"),
]


@pytest.mark.parametrize(("text", "words"), HOSTILE, ids=[w for _, w in HOSTILE])
def test_bad_rows_are_refused_by_place(csv: Write, text: str, words: str) -> None:
    with pytest.raises(LabkitError, match=words) as caught:
        Materials.read(csv(text))
    assert "own.csv" in caught.value.where or "Plum oil" in caught.value.where


def test_a_workbook_of_too_many_rows_is_not_read_to_its_end(xlsx: Write) -> None:
    with pytest.raises(MaterialError, match="more than 20000 rows"):
        Materials.read(xlsx(["name"], *(["x"] for _ in range(20_001))))


def test_a_formula_in_a_workbook_is_refused(xlsx: Write) -> None:
    with pytest.raises(MaterialError, match="the spreadsheet formula '=2.3'"):
        Materials.read(xlsx(["name", "price"], ["Plum oil", "=2*3"]))


def test_files_that_are_no_tables_are_refused(csv: Write, tmp_path: Path) -> None:
    with pytest.raises(MaterialError, match="no such file"):
        Materials.read(tmp_path / "absent.csv")
    with pytest.raises(MaterialError, match=r"a \.pdf file"):
        Materials.read(csv("x", name="own.pdf"))
    with pytest.raises(MaterialError, match="no workbook"):
        Materials.read(csv("name\nPlum oil\n", name="own.xlsx"))
    with pytest.raises(MaterialError, match="no text"):
        Materials.read(csv("name\n\x00\x9d", encoding="latin-1"))
    with pytest.raises(MaterialError, match="no text"):
        Materials.read(csv("name\n\u00ff\u0081", encoding="latin-1"))
    with pytest.raises(MaterialError, match="more than 20000 rows"):
        Materials.read(csv("name\n" + "x\n" * 20_002))
    with pytest.raises(MaterialError, match="more than 20 MB"):
        Materials.read(csv("x" * 20_000_001))


def test_fields_by_hand_are_those_of_a_file() -> None:
    plum = MATS.add(name="Plum oil", hlb="4-6", groups="x; y", allergy=["nut"])["plum-oil"]
    assert plum.hlb == (4.0, 5.0, 6.0)
    assert plum.groups == {"x", "y"}
    assert plum.allergy == {"nut"}
    with pytest.raises(MaterialError, match="the field 'weight'"):
        MATS.add(name="Plum oil", weight=3)


def test_every_column_name_leads_to_one_field() -> None:
    assert COLUMNS["raw material"] == "name"
    assert COLUMNS["use max"] == "use_high"


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"composition": "Glycerin 50; Aqua 30; Panthenol 20"}, "per cent signs were left out"),
        ({"constituents": [("Glycerin", 50)]}, "not written as text"),
        ({"constituents": {"Glycerin": 50}}, "Write each part as name and per cent"),
        ({"density_g_ml": "heavy"}, "heavy"),
        ({"heat_limit_c": "hot"}, "hot"),
    ],
)
def test_a_material_typed_in_a_notebook_is_read_or_refused(fields: dict, words: str) -> None:
    with pytest.raises(LabkitError, match=words):
        Materials().add(name="Blend", **fields)


def test_both_names_of_a_field_read_a_text_alike() -> None:
    told = {"density_g_ml": "1,05", "constituents": "Glycerin 50 %; Polysorbate 20"}
    made = Materials().add(name="Blend", **told).resolve("Blend")
    again = Materials().add(name="Blend", density="1,05", composition=told["constituents"])
    assert made == again.resolve("Blend")
    assert made is not None
    assert made.density_g_ml == 1.05
    assert [x.inci for x in made.constituents] == ["Glycerin", "Polysorbate 20"]
