"""The finding about HLB and the forecast speak of the same emulsifiers and the same oils."""

from __future__ import annotations

import pytest

from labkit.estimates import check, forecast
from labkit.estimates.finding import Finding
from labkit.evaluate import asks_for_hlb, counts_in_hlb
from labkit.formula import Brief, Formula
from labkit.materials import Materials

MATS = Materials.starter()
BRIEF = Brief(product="body lotion", form="o/w emulsion")


def formula(lines: str) -> Formula:
    return Formula.parse(f"phase,material,percent\nA,Aqua,q.s.\n{lines}\nC,Phenoxyethanol,0.9")


def finding_of(recipe: Formula) -> Finding | None:
    return next((f for f in check(recipe, MATS, brief=BRIEF) if f.code == "HLB01"), None)


@pytest.mark.parametrize(
    "lines",
    [
        "B,Mineral oil,20\nB,Sorbitan oleate,4",
        "B,Mineral oil,20\nB,Polysorbate 60,0.5\nB,GMS,3",
        "B,Mineral oil,15\nB,Cetearyl alcohol,4\nB,Sorbitan stearate,3\nB,Polysorbate 60,0.5",
        "B,Sunflower oil,20\nB,Polysorbate 20,4",
        "B,Mineral oil,15\nB,Beeswax,3\nB,Sorbitan oleate,3\nA,PEG-40 HCO,0.5",
    ],
)
def test_finding_and_forecast_give_one_number(lines: str) -> None:
    recipe = formula(lines)
    found, look = finding_of(recipe), forecast(recipe, MATS)
    assert found is not None
    facts = found.facts
    assert facts["hlb"] == pytest.approx(look.hlb.value)
    assert facts["low"] == pytest.approx(look.required_hlb.low)
    assert facts["high"] == pytest.approx(look.required_hlb.high)


def test_a_pair_inside_the_band_raises_nothing() -> None:
    assert (
        finding_of(formula("B,Mineral oil,20\nB,Polysorbate 80,2.5\nB,Sorbitan oleate,1.5")) is None
    )


def test_a_ready_blend_or_a_charged_emulsifier_keeps_the_finding_silent() -> None:
    low = "B,Mineral oil,20\nB,Sorbitan oleate,4"
    assert finding_of(formula(low)) is not None
    for beside in ("Nonionic emulsifying wax", "Sodium cetearyl sulfate"):
        assert finding_of(formula(f"{low}\nB,{beside},2")) is None


def test_nothing_counts_on_both_sides() -> None:
    both = [m.name for m in MATS.values() if counts_in_hlb(m) and asks_for_hlb(m)]
    assert both == []


def test_what_is_no_emulsifier_is_left_out_of_the_mean() -> None:
    """Glycol distearate (HLB 1) makes a wash pearly; it does not emulsify this oil."""
    base = "B,Mineral oil,20\nB,Polysorbate 80,2\nB,Sorbitan oleate,2"
    pearly = forecast(formula(f"{base}\nB,Glycol distearate,2"), MATS).hlb
    assert pearly.value == pytest.approx(9.65)
