"""Sheets of our own, of many kinds, each with the parse that a careful person would give."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

from labkit.reading import read_recipe
from tests.reading.building import number, ods, row, words, xlsx
from tests.reading.comparing import differences

NOT_NUMBERS = ("NaN", "1e400", "-0", "1_000", "٣", "0x10", "1,2,3", "5 %%")
SHEETS: dict[str, tuple[str | bytes, dict[str, Any]]] = {}


def sheet(name: str, source: str | bytes, lines: str, **rest: Any) -> None:
    """Note a sheet; a line is ``row/phase/name/what`` with what as in :func:`_what`."""
    findings = [
        dict(zip(("row", "code", "severity"), x, strict=True)) for x in rest.pop("findings", [])
    ]
    read_as = rest.pop("read_as", {})
    formula = {"lines": [_line(x) for x in lines.strip().split("\n")], **rest}
    SHEETS[name] = (source, {"read_as": read_as, "formulas": [formula], "findings": findings})


def _line(text: str) -> dict[str, Any]:
    number_, phase, rest = text.split("/", 2)
    name, _, what = rest.rpartition("/")
    start = {"row": int(number_), "phase": phase or None, "name": name}
    return start | _what(what)


def _what(text: str) -> dict[str, Any]:
    if text in {"balance", "missing", "unreadable"}:
        return {"kind": text}
    if text.startswith("until"):
        quantity, _, value = text.removeprefix("until").strip().partition(" ")
        return {
            "kind": "to_target",
            "target": {"quantity": quantity or None, "value": value or None},
        }
    if ".." in text:
        low, high = (x or None for x in text.split(".."))
        return {"kind": "range", "low": low, "high": high}
    amount, unit = text.split(" ")
    kind = "volume" if unit in {"drops", "ml"} else "amount"
    return {"kind": kind, "amount": amount, "unit": unit}


sheet(
    "markdown with bold total and decimal commas",
    "# Lotion\n\n| Phase | INCI | % | Note |\n|:--|---|--:|---|\n| A | **Aqua** | 72,5 | |\n"
    "| A | Glycerin | 5,0 | veg. |\n| B | Squalane | 22,5 | |\n| | **Total** | **100,0** | |\n",
    "5/A/Aqua/72.5 %\n6/A/Glycerin/5.0 %\n7/B/Squalane/22.5 %",
    title="Lotion",
    stated_total="100.0",
    read_as={"delimiter": "|", "decimal": ",", "header_row": 3, "title": "Lotion"},
)
sheet(
    "markdown, a table for each phase",
    "# Summer lotion\n\nBatch size: 200 g\n\n### Phase A (75 °C)\n\n| Ingredient | g |\n|---|---|\n"
    "| Water | 156 |\n\n### Phase B (75 °C)\n\n| Ingredient | g |\n|---|---|\n"
    "| Jojoba oil | 44 |\n\n"
    "Heat both phases, combine and stir.\n",
    "9/A/Water/156 g\n15/B/Jojoba oil/44 g",
    basis="grams",
    batch_g="200",
)
sheet(
    "pasted list, amounts behind the names",
    "Face gel\nAqua 95,5\nPolysorbate 20 2,0\nGlycerin: 1 %\n• Xanthan gum ... 0,5\n"
    "Phenoxyethanol 1\nStir until clear and even.",
    "2//Aqua/95.5 %\n3//Polysorbate 20/2.0 %\n4//Glycerin/1 %\n5//Xanthan gum/0.5 %\n"
    "6//Phenoxyethanol/1 %",
    title="Face gel",
    read_as={"header_row": None, "decimal": ","},
)
sheet(
    "pasted list, amounts before the names, with drops",
    "Body oil\n- 3,5 % Tocopherol\n- 2 drops Lavandula oil\n- q.s. Sunflower oil\n",
    "2//Tocopherol/3.5 %\n3//Lavandula oil/2 drops\n4//Sunflower oil/balance",
    findings=[(3, "volume", "ask"), (4, "balance_found", "tell")],
)
sheet(
    "pasted list with phases, method and readings",
    "Phase A: water phase\n  Aqua to 100%\n  Glycerin 3%\nPhase B - oils\n  Cetearyl alcohol 5%\n"
    "Phase C (below 40 C)\n  Citric acid q.s. to pH 5.0\n\nMethod\n1. Heat A and B to 75 C.\n"
    "pH 5.2\nViscosity 12 Pa.s\n",
    "2/A/Aqua/balance\n3/A/Glycerin/3 %\n5/B/Cetearyl alcohol/5 %\n7/C/Citric acid/until pH 5.0",
    phase_notes={"A": "water phase", "B": "oils", "C": "below 40 C"},
    measurements=[
        {"quantity": "pH", "value": "5.2"},
        {"quantity": "Viscosity", "value": "12 Pa.s"},
    ],
    findings=[(7, "amount_unknown", "ask")],
)
sheet(
    "a numbered material without an amount is not read as its number",
    "Aqua 95\nGlycerin 5\nPolysorbate 80\n",
    "1//Aqua/95 %\n2//Glycerin/5 %\n3//Polysorbate 80/missing",
    findings=[(3, "amount_missing", "ask")],
)
sheet(
    "table laid out with blanks",
    "Ingredient            %      Phase\nAqua               78.25      A\n"
    "Glycerin            4.00      A\nOil                17.75      B\nTotal             100.00\n",
    "2/A/Aqua/78.25 %\n3/A/Glycerin/4.00 %\n4/B/Oil/17.75 %",
    stated_total="100.00",
)
sheet(
    "German, tabs, grouped thousands, readings below",
    "Rezept: Handcreme\nPhase\tRohstoff\tMenge (g)\tBemerkung\nA\tWasser, dest.\t1.250,5\t\n"
    "B\tSheabutter\t249,5\traffiniert\n\tSumme\t1.500,0\t\npH-Wert\t\t5,4\t\n",
    "3/A/Wasser, dest./1250.5 g\n4/B/Sheabutter/249.5 g",
    title="Handcreme",
    batch_g="1500.0",
    stated_total="1500.0",
    measurements=[{"quantity": "pH-Wert", "value": "5.4"}],
    percent_exact=["83.366667", "16.633333"],
    findings=[(3, "thousands", "tell"), (None, "rounded", "tell")],
)
sheet(
    "French, Windows letters, phases named in words, limits",
    (
        "Crème mains\nPhase;Matière première;Quantité (%);Fonction\nPhase aqueuse;;;\n"
        ";Eau;qsp 100;solvant\nPhase grasse;;;\n;Huile d’amande;12,0;émollient\n"
        ";Beurre de karité;max 4;\n;Parfum;0,3-0,5;\n"
    ).encode("cp1252"),
    "4/Phase aqueuse/Eau/balance\n6/Phase grasse/Huile d’amande/12.0 %\n"
    "7/Phase grasse/Beurre de karité/..4\n8/Phase grasse/Parfum/0.3..0.5",
    title="Crème mains",
    read_as={"encoding": "cp1252", "delimiter": ";", "decimal": ",", "header_row": 2},
    findings=[(7, "limit", "ask"), (8, "range", "ask"), (4, "balance_found", "tell")],
)
sheet(
    "French, thousands parted by blanks, a date in words",
    "Recette;Lait corps\nDate;3 mars 2026\nIngrédient;Quantité\nEau;1 250,5 g\nHuile;249,5 g\n"
    "Total;1 500 g\n",
    "4//Eau/1250.5 g\n5//Huile/249.5 g",
    title="Lait corps",
    date="2026-03-03",
    basis="grams",
    batch_g="1500",
    findings=[(4, "thousands", "tell")],
)
sheet(
    "UTF-16 without headings",
    "A,Aqua,78.25\r\nA,Glycerin,4\r\nB,Oil,17.75\r\n".encode("utf-16"),
    "1/A/Aqua/78.25 %\n2/A/Glycerin/4 %\n3/B/Oil/17.75 %",
    read_as={"encoding": "utf-16", "delimiter": ",", "header_row": None},
)
sheet(
    "upright strokes without a rule",
    "Aqua | ad 100\nGlycerin | 3,0\nXanthan | ~0,3\n",
    "1//Aqua/balance\n2//Glycerin/3.0 %\n3//Xanthan/0.3 %",
    read_as={"delimiter": "|", "decimal": ","},
    findings=[(3, "about", "tell"), (1, "balance_found", "tell")],
)
sheet(
    "parts, one of them a half",
    "Ingredient,Parts\nBeeswax,1\nCoconut oil,2\nOlive oil,4\nVitamin E,1/2\n",
    "2//Beeswax/1 parts\n3//Coconut oil/2 parts\n4//Olive oil/4 parts\n5//Vitamin E/0.5 parts",
    basis="parts",
    sum_of_amounts="7.5",
    percent_exact=["13.333333", "26.666667", "53.333333", "6.666667"],
)
sheet(
    "grams with the rest to 500, ana, and drops",
    "Rohstoff;Gramm\nWasser;ad 500\nHarnstoff;10\nNatriumlactat;aa\nMilchsäure;aa 2\n"
    "Konservierung;5 Tropfen\n",
    "2//Wasser/balance\n3//Harnstoff/10 g\n4//Natriumlactat/2 g\n5//Milchsäure/2 g\n"
    "6//Konservierung/5 drops",
    batch_g="500",
    balance_g_if_open_lines_were_zero="486",
    findings=[(6, "volume", "ask")],
)
sheet(
    "units in the cells",
    "Ingredient;Amount\nAqua;250 g\nGlycerin;12,5 g\nWax;500 mg\nOil;0,237 kg\n",
    "2//Aqua/250 g\n3//Glycerin/12.5 g\n4//Wax/500 mg\n5//Oil/0.237 kg",
    basis="grams",
    batch_g="500",
    percent_exact=["50.000000", "2.500000", "0.100000", "47.400000"],
)
sheet(
    "two senses of q.s., one with its pH in the name",
    "Material;Gew.-%\nWasser;auf 100\nGlycerin;3\nMilchsäure (auf pH 4,5);q.s.\nDuft;nach Bedarf",
    "2//Wasser/balance\n3//Glycerin/3 %\n4//Milchsäure (auf pH 4,5)/until pH 4.5\n5//Duft/until",
    findings=[(4, "amount_unknown", "ask"), (5, "amount_unknown", "ask")],
)
sheet(
    "bounds beside the amount",
    "Phase,Ingredient,Min %,Max %,Target %\nA,Aqua,60,95,q.s.\nA,Glycerin,2,5,3\n",
    "2/A/Aqua/balance\n3/A/Glycerin/3 %",
)
sheet(
    "bounds alone are ranges",
    "Ingredient;Min;Max\nAqua;60;95\nGlycerin;2;5\n",
    "2//Aqua/60..95\n3//Glycerin/2..5",
    findings=[(2, "range", "ask"), (3, "range", "ask")],
)
sheet(
    "decimal commas that cut the numbers",
    "Ingredient,%\nAqua,97,5\nGlycerin,2,5\n",
    "2//Aqua/97.5 %\n3//Glycerin/2.5 %",
    findings=[(None, "decimal_comma_split", "ask")],
)
sheet(
    "details above, numbers of lines, unnamed total",
    "Product:;Gel;;\nDate:;12.03.2026;;\nBatch size:;150 g;;\n;;;\nNo.;Ingredient;%;g\n"
    "1;Aqua;97;145.5\n2;Xanthan;1;1.5\n3;Glycerin;2;3\n;;100;150\n",
    "6//Aqua/97 %\n7//Xanthan/1 %\n8//Glycerin/2 %",
    title="Gel",
    date="2026-03-12",
    batch_g="150",
    stated_total="100",
    findings=[(5, "column_set_aside", "tell"), (2, "date_style", "tell")],
)
sheet(
    "more than the whole",
    "Ingredient,%\nAqua,97\nGlycerin,4\nTotal,101\n",
    "2//Aqua/97 %\n3//Glycerin/4 %",
    findings=[(4, "total_not_100", "ask")],
)
sheet(
    "numbers that are none",
    "Ingredient;%\nAqua;q.s.\n" + "\n".join(f"Salt {x};{x}" for x in NOT_NUMBERS) + "\nSalt;",
    "2//Aqua/balance\n"
    + "\n".join(f"{i}//Salt {x}/unreadable" for i, x in enumerate(NOT_NUMBERS, 3))
    + "\n11//Salt/missing",
    findings=[(i, "amount_unreadable", "ask") for i in range(3, 11)]
    + [(11, "amount_missing", "ask")],
)
sheet(
    "a grouped or a decimal number, nothing tells",
    "Ingredient;g\nAqua;1,250\nGlycerin;300\n",
    "2//Aqua/1.250 g\n3//Glycerin/300 g",
    findings=[(2, "number_ambiguous", "ask")],
)
sheet(
    "a reading direction turned round",
    "Ingredient;%\nAqua\u202e%5.0;97\nGlycerin;3\n",
    "2//Aqua⟨U+202E⟩%5.0/97 %\n3//Glycerin/3 %",
    findings=[(2, "hidden_signs", "ask")],
)
sheet(
    "workbook: hidden row that does not count, a date in place of a range, a comment",
    xlsx(
        [["Phase", "Material", "%"], ["A", "Aqua", 90], ["A", "Retinol", 2], ["A", "Urea", "5,0"],
         ["B", "Oil", datetime.date(2026, 4, 2)], ["B", "Wax", 0.015], [None, "Total", 100]],
        hidden_rows=[3], formats={"C6": "0.0%"}, comments={"B4": "try 4 next"},
    ),
    "2/A/Aqua/90.0 %\n4/A/Urea/5.0 %\n5/B/Oil/unreadable\n6/B/Wax/1.5 %",
    findings=[(3, "hidden_row", "ask"), (5, "amount_unreadable", "ask"),
              (7, "total_disagrees", "ask"), (4, "comment", "tell")],
)  # fmt: skip
sheet(
    "workbook: hidden row that counts, total not worked out",
    xlsx([["Material", "%"], ["Aqua", 93], ["Urea", 2], ["Oil", 5], ["Total", "=SUM(B2:B4)"]],
         hidden_rows=[3]),
    "2//Aqua/93 %\n3//Urea/2 %\n4//Oil/5 %",
    findings=[(3, "hidden_row", "ask"), (5, "total_not_calculated", "tell")],
)  # fmt: skip
sheet(
    "workbook: an amount not worked out",
    xlsx([["INCI", "g"], ["Aqua", "=400-B3"], ["Oil", 80], ["Total", 400]]),
    "2//Aqua/missing\n3//Oil/80 g",
    findings=[(2, "amount_not_calculated", "ask"), (4, "total_disagrees", "ask")],
)
sheet(
    "workbook: an empty percent column, sheets of notes and prices",
    xlsx([["Ingredient", "Weight in g", "Percent"], ["Water", 80, None], ["Oil", 20, None]],
         more={"Notes": [["Stir slowly"]], "Prices": [["Material", "€/kg"], ["Oil", 3.2]]}),
    "2//Water/80 g\n3//Oil/20 g",
    read_as={"sheet": "recipe", "other_sheets": ["Notes", "Prices"]},
)  # fmt: skip
sheet(
    "workbook: batch sizes beside each other are no trials",
    xlsx([["Material", "100 g", "250 g"], ["Aqua", 78.5, 196.25], ["Oil", 21.5, 53.75]]),
    "2//Aqua/78.5 g\n3//Oil/21.5 g",
    findings=[(1, "batch_column", "tell")],
)
sheet(
    "workbook: fractions of one",
    xlsx([["Material", "fraction"], ["Aqua", 0.785], ["Oil", 0.215], ["Total", 1]]),
    "2//Aqua/0.785 parts\n3//Oil/0.215 parts",
    basis="parts",
    percent_exact=["78.500000", "21.500000"],
)
sheet(
    "workbook: trade name, INCI, supplier, unnamed total of percent cells",
    xlsx([["INCI", "Trade name", "Supplier", "% w/w", "Cost €/kg", "Lot"],
          ["Aqua", "water", "tap", 0.8, 0.01, "-"], ["Glycerin", "veg", "S1", 0.2, 3, "L1"],
          [None, None, None, 1, None, None]],
         formats={f"D{i}": "0.00%" for i in (2, 3, 4)}),
    "2//Aqua/80.00 %\n3//Glycerin/20.00 %",
    stated_total="100.00",
    findings=[(1, "column_set_aside", "tell")],
)  # fmt: skip
sheet(
    "OpenDocument: percent cells, merged phase, hidden column and row, endless blank rows",
    ods(
        '<table:table table:name="Blatt1"><table:table-column table:number-columns-repeated="2"/>'
        '<table:table-column table:visibility="collapse"/><table:table-column/>'
        + row(words("Phase"), words("Rohstoff"), words("Preis €/kg"), words("Anteil"))
        + row(words("A", 'table:number-rows-spanned="2"'), words("Aqua"), number("0.01", "0,01"),
              number("0.785", "78,50 %", "percentage"))
        + row("<table:covered-table-cell/>", words("Urea"), number("3", "3,00"),
              number("0.05", "5,00 %", "percentage"))
        + row(words("B"), words("Öl"), number("4", "4,00"),
              number("0.165", "16,50 %", "percentage"))
        + row(words("B"), words("Alt"), number("4", "4"), number("0.02", "2 %", "percentage"),
              attributes='table:visibility="collapse"')
        + row(words(""), words("Summe"), "<table:table-cell/>",
              number("1", "100,00 %", "percentage"))
        + '<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
        'table:number-columns-repeated="16384"/></table:table-row></table:table>'
    ),
    "2/A/Aqua/78.50 %\n3/A/Urea/5.00 %\n4/B/Öl/16.50 %",
    stated_total="100.00",
    read_as={"sheet": "Blatt1"},
    findings=[(None, "hidden_column", "tell"), (5, "hidden_row", "ask")],
)  # fmt: skip

sheet(
    "German, INCI beside trade names, phase only where it begins, grams of a Charge",
    "Nachtcreme;;;;\nCharge 12/26;;500 g;;\n\nPh;INCI;Handelsname;Einsatz %;Charge g\n"
    "A;Aqua;Wasser;67,50;337,5\n;Glycerin;Glycerin 86 %;5,00;25\n"
    "B;Simmondsia Chinensis Seed Oil;Jojobaöl;27,5;137,5\n;Gesamt;;100,00;500\n\n"
    "Herstellung:\nPhase A und B auf 75 °C erhitzen.\n",
    "5/A/Aqua/67.50 %\n6/A/Glycerin/5.00 %\n7/B/Simmondsia Chinensis Seed Oil/27.5 %",
    title="Nachtcreme",
    batch_g="500",
    findings=[(6, "phase_carried", "tell")],
)
sheet(
    "a column of units, one of them drops",
    "Ingredient;Amount;Unit\nAqua;80;%\nLavender oil;3;drops\nOil;20;%\n",
    "2//Aqua/80 %\n3//Lavender oil/3 drops\n4//Oil/20 %",
    findings=[(3, "volume", "ask")],
)
sheet(
    "a recipe as it stands in a letter",
    "Lotion v3 (total 100 g)\n\nWater phase:\nwater 75g\nglycerine 5g\n\nOil phase:\n"
    "olive oil 19g\n\nCool down:\nvitamin e 1g\n",
    "4/Water phase/water/75 g\n5/Water phase/glycerine/5 g\n8/Oil phase/olive oil/19 g\n"
    "11/Cool down/vitamin e/1 g",
    title="Lotion v3 (total 100 g)",
    basis="grams",
    batch_g="100",
)
sheet(
    "percent beside kilograms",
    "Ingredient;%;kg per batch\nAqua;80;40\nOil;20;10\nTotal;100;50\n",
    "2//Aqua/80 %\n3//Oil/20 %",
    batch_g="50000",
)
sheet(
    "kilograms keep their own total",
    "Phase | Material | kg\nA | Water | 12,5\nA | Oil | 2,5\n | Total | 15\n",
    "2/A/Water/12.5 kg\n3/A/Oil/2.5 kg",
    batch_g="15000",
    stated_total="15",
    sum_of_amounts="15.0",
)
sheet(
    "workbook: one amount is not formatted as percent",
    xlsx([["Material", "%"], ["Aqua", 0.945], ["Urea", 0.05], ["Oil", 0.5]],
         formats={"B2": "0.0%", "B3": "0.0%"}),
    "2//Aqua/94.5 %\n3//Urea/5.0 %\n4//Oil/0.5 %",
    findings=[(4, "percent_format_mixed", "ask")],
)  # fmt: skip
sheet(
    "temperatures in the amount column of phase headings",
    "PHASE A,75 °C,\nAqua,90,\nPHASE B,,cool\nGlycerin,10,\n",
    "2/A/Aqua/90 %\n4/B/Glycerin/10 %",
    phase_notes={"A": "75 °C", "B": "cool"},
)
sheet(
    "subtotals of phases are checked, not read as lines",
    "Material;%\nPhase A;\nAqua;70\nGlycerin;5\nSubtotal A;76\nPhase B;\nOil;25\nTotal;100\n",
    "3/A/Aqua/70 %\n4/A/Glycerin/5 %\n7/B/Oil/25 %",
    findings=[(5, "subtotal_disagrees", "tell")],
)

sheet(
    "commas part the cells and the decimals",
    "Aqua, 78,25\nGlycerin, 4,00\nOil, 17,75\n",
    "1//Aqua/78.25 %\n2//Glycerin/4.00 %\n3//Oil/17.75 %",
    read_as={"decimal": ","},
)
sheet(
    "no INCI in a row: the trade name stands in",
    "INCI;Trade name;%\nAqua;water;90\n;house blend 7;10\n",
    "2//Aqua/90 %\n3//house blend 7/10 %",
)
sheet(
    "grams with q.s. water and a stated batch",
    "Ingredient;g\nAqua;q.s.\nGlycerin;10\nTotal;250\n",
    "2//Aqua/balance\n3//Glycerin/10 g",
    batch_g="250",
    balance_g="240",
    balance_pct="96.000000",
    findings=[(2, "balance_found", "tell")],
)
sheet(
    "a stability table below is not the recipe",
    "Phase,Ingredient,%\nA,Aqua,85\nB,Oil,15\n\nStability,,\n4 °C,ok,\n40 °C,separated,\n",
    "2/A/Aqua/85 %\n3/B/Oil/15 %",
)

sheet(
    "the rest is named in the notes",
    "Phase;INCI;%;Notes\nA;Aqua;;to 100\nA;Glycerin;4;\nA;Lactic Acid;;q.s. to pH 4.5\n",
    "2/A/Aqua/balance\n3/A/Glycerin/4 %\n4/A/Lactic Acid/until pH 4.5",
    findings=[(4, "amount_unknown", "ask"), (2, "balance_found", "tell")],
)
sheet(
    "a comma inside a quoted name",
    'INCI,%\nAqua,to 100\n"1,2-Hexanediol",1.0\nPEG/PPG-18/18 Dimethicone,2\n',
    "2//Aqua/balance\n3//1,2-Hexanediol/1.0 %\n4//PEG/PPG-18/18 Dimethicone/2 %",
)


def test_trials_side_by_side_with_ranges_and_a_rest() -> None:
    rows = [
        ["Shampoo bar", None, None],
        [None, "T1 (%)", "T2 (%)"],
        ["Phase A – solids", None, None],
        ["SCI", 50, 45],
        ["Betaine", "max 5", "12,5"],
        ["Aqua", "to 100", "to 100"],
        ["Total", 100, 100],
        ["pH", 5.5, "5.4?"],
        ["made", datetime.date(2026, 5, 1), datetime.date(2026, 5, 8)],
        ["remark", "crumbly", None],
    ]
    report = read_recipe(xlsx(rows, merges=("A1:C1", "A3:C3"))).as_dict()
    expected = {
        "formulas": [
            {
                "trial": "T1",
                "title": "Shampoo bar T1",
                "date": "2026-05-01",
                "remark": "crumbly",
                "sum_of_amounts": "50",
                "measurements": [{"quantity": "pH", "value": "5.5"}],
            },
            {
                "trial": "T2",
                "date": "2026-05-08",
                "sum_of_amounts": "57.5",
                "balance_pct": "42.5",
                "measurements": [{"quantity": "pH", "value": "5.4", "doubtful": True}],
            },
        ],
        "lineage_offer": [["T1", "T2"]],
        "findings": [
            {"row": 5, "code": "limit", "severity": "ask"},
            {"row": 8, "code": "reading_doubtful", "severity": "tell"},
        ],
    }
    assert differences(expected, report) == []


def test_recipes_below_each_other_are_read_apart() -> None:
    text = "HC-1\nIngredient,%\nAqua,80\nOil,20\nTotal,100\n\nHC-2\nIngredient,%\nAqua,75\nOil,24\n"
    report = read_recipe(text)
    assert [x.title for x in report.recipes] == ["HC-1", "HC-2"]
    assert report.formula(which=0).total == 100
    assert [x.trial for x in report.questions] == ["HC-2"]


def test_trials_that_stand_in_rows_are_not_misread() -> None:
    report = read_recipe("trial,note,Aqua,Glycerin,Oil\n1,,80,5,15\n2,thick,78,5,17\n")
    assert report.recipes == ()
    assert [x.code for x in report.questions] == ["trials_in_rows"]


def test_there_are_enough_sheets() -> None:
    assert len(SHEETS) >= 30


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_is_read_as_a_careful_person_would(name: str) -> None:
    source, expected = SHEETS[name]
    assert differences(expected, read_recipe(source).as_dict()) == []


@pytest.mark.parametrize("name", SHEETS)
def test_no_row_is_dropped(name: str) -> None:
    report = read_recipe(SHEETS[name][0])
    numbers = [x.row for x in report.rows]
    assert numbers == list(range(1, len(numbers) + 1))
    assert all(x.text or x.kept_as == "blank" for x in report.rows)
