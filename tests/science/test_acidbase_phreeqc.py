"""Cross-check with PHREEQC (USGS) through phreeqpython, on the phosphate and carbonate system."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest

from labkit.science.acidbase import shipped_components, solve_ph

phreeqpython = pytest.importorskip("phreeqpython", reason="optional cross-check engine")

HEAD = """SOLUTION_MASTER_SPECIES
H H+ -1.0 H 1.008
H(0) H2 0 H
H(1) H+ -1.0 0.0
E e- 0 0.0 0.0
O H2O 0 O 16.0
O(0) O2 0 O
O(-2) H2O 0 0.0
Na Na+ 0 Na 22.99
Cl Cl- 0 Cl 35.45
{masters}
SOLUTION_SPECIES
H+ = H+
log_k 0
e- = e-
log_k 0
H2O = H2O
log_k 0
Na+ = Na+
log_k 0
Cl- = Cl-
log_k 0
H2O = OH- + H+
log_k -13.9948
2 H2O = O2 + 4 H+ + 4 e-
log_k -86.08
2 H+ + 2 e- = H2
log_k -3.15
{species}
END
"""


def _ion(name: str, charge: int) -> str:
    return name + ("" if charge == 0 else f"{'+' if charge > 0 else '-'}{abs(charge)}")


def _database(components: list[str]) -> str:
    masters, species = [], []
    for index, component in enumerate(components):
        part = shipped_components()[component]
        element = ["Xa", "Xb", "Xc", "Xd"][index]
        core = _ion(element, part.charge)
        masters.append(f"{element} {core} 0 {element} 100.0")
        own = "\n-gamma 1.0 0.0" if part.charge == 0 else ""
        species.append(f"{core} = {core}\nlog_k 0{own}")
        total = 0.0
        for protons, pka in enumerate(reversed(part.pka25), start=1):
            total += pka
            made = _ion(f"H{protons}{element}", part.charge + protons)
            # PHREEQC gives a neutral species log gamma = 0.1 I unless it is told otherwise
            neutral = "\n-gamma 1.0 0.0" if part.charge + protons == 0 else ""
            species.append(f"{core} + {protons} H+ = {made}\nlog_k {total}{neutral}")
    return HEAD.format(masters="\n".join(masters), species="\n".join(species))


def _phreeqc_ph(components: dict[str, float], sodium: float, chloride: float) -> float:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "own.dat").write_text(_database(list(components)))
        engine = phreeqpython.PhreeqPython("own.dat", Path(folder))
        amounts = {
            ["Xa", "Xb", "Xc", "Xd"][index]: 1000.0 * amount
            for index, amount in enumerate(components.values())
        }
        amounts |= {"Na": 1000.0 * sodium, "Cl": 1000.0 * chloride}
        lines = "\n".join(f"{name} {amount}" for name, amount in amounts.items() if amount)
        engine.ip.run_string(
            f"SOLUTION 1\nunits mmol/kgw\ntemp 25\npH 7 charge\n{lines}\n"
            "SELECTED_OUTPUT\n-reset false\n-pH true\n-high_precision true\nEND\n"
        )
        return float(engine.ip.get_selected_output_array()[-1][0])


@pytest.mark.parametrize(
    ("components", "sodium", "chloride"),
    [
        ({"citrate": 0.05}, 0.05, 0.0),
        ({"lactate": 0.1, "benzoate": 0.02}, 0.06, 0.0),
        ({"phosphate": 0.05}, 0.08, 0.0),
        ({"arginine": 0.03, "citrate": 0.02}, 0.0, 0.0),
        ({"triethanolamine": 0.1}, 0.0, 0.05),
    ],
    ids=lambda value: "+".join(value) if isinstance(value, dict) else str(value),
)
def test_ph_agrees_with_phreeqc_on_the_same_constants(
    components: dict[str, float], sodium: float, chloride: float
) -> None:
    mine = solve_ph(components | {"Na": sodium, "Cl": chloride})
    assert mine == pytest.approx(_phreeqc_ph(components, sodium, chloride), abs=0.001)
