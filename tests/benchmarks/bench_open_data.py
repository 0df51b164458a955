"""One phase or split, learned from the first samples of an open laboratory dataset.

    python -m tests.benchmarks.bench_open_data liquid_formulations.csv

The file is published with "Machine Learning-Guided Space-filling Designs for High Throughput
Liquid Formulations Development" (2024), MIT licence; it is not part of the project. Prints
accuracy on the samples that follow against the base rate, with calibration.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from labkit.learning.passfail import fit_passfail

SEED = 3
SIZES = (20, 40, 80, 160, 320)
# charge classes of the surfactants and polymers by INCI name, general chemistry
CLASSES = {
    "anionic surfactant": ("Sulfosuccinate", "Cocoyl Glutamate", "Cocoyl Glycinate", "Citrate"),
    "cationic surfactant": ("Cetrimonium",),
    "cationic polymer": ("Polyquaternium",),
    "amphoteric surfactant": ("Betaine", "amphoacetate"),
    "nonionic surfactant": ("Glucoside",),
    "thickener": ("Laureth-2", "Trioleate"),
}


def charge_class(name: str) -> str | None:
    """Class of a material by the words in its name."""
    return next((c for c, words in CLASSES.items() if any(w in name for w in words)), None)


def run(path: Path) -> list[str]:
    """Lines of the report."""
    import pandas as pd

    frame = pd.read_csv(path)
    names = list(frame.columns[1 : list(frame.columns).index("one_phase")])
    percent = frame[names].to_numpy(float)
    yes = frame["one_phase"].astype(str).str.lower().eq("true").to_numpy()
    charges = [charge_class(n) for n in names]
    lines = [f"{len(yes)} samples, {100 * yes.mean():.0f} % one phase", "in the order of the file:"]
    lines += scores(percent, yes, charges)
    order = np.random.default_rng(SEED).permutation(len(yes))
    lines.append(f"shuffled (seed {SEED}): the file explores region after region")
    return lines + scores(percent[order], yes[order], charges)


def scores(percent: np.ndarray, yes: np.ndarray, charges: list[str | None]) -> list[str]:
    """Learned from the first n, scored on the rest."""
    lines = ["first n   accuracy  base rate  logistic on %  chance said -> came true        ms"]
    for n in SIZES:
        if n + 40 > len(yes):
            continue
        start = time.perf_counter()
        chance = fit_passfail(percent[:n], yes[:n], charges).predict(percent[n:])
        took = 1e3 * (time.perf_counter() - start)
        rest = yes[n:]
        base = rest.mean() if yes[:n].mean() >= 0.5 else 1 - rest.mean()
        right = np.mean((chance >= 0.5) == rest)
        peer = np.mean(plain_logistic(percent[:n], yes[:n], percent[n:]) == rest)
        lines.append(
            f"{n:7d}   {100 * right:5.1f} %   {100 * base:5.1f} %    {100 * peer:5.1f} %        "
            f"{calibration(chance, rest)}   {took:.0f}"
        )
    return lines


def calibration(chance: np.ndarray, came: np.ndarray) -> str:
    """Mean chance said and share that came true, in three groups."""
    groups = np.digitize(chance, [0.33, 0.67])
    parts = []
    for g in range(3):
        inside = groups == g
        if inside.any():
            parts.append(f"{chance[inside].mean():.2f}->{came[inside].mean():.2f}")
    return " ".join(parts)


def plain_logistic(percent: np.ndarray, yes: np.ndarray, ahead: np.ndarray) -> np.ndarray:
    """Peer: statsmodels logistic regression on %, lightly penalised."""
    import statsmodels.api as sm

    design, later = sm.add_constant(percent), sm.add_constant(ahead, has_constant="add")
    fitted = sm.Logit(yes.astype(float), design).fit_regularized(alpha=1.0, disp=False)
    return np.asarray(fitted.predict(later) >= 0.5)


def main() -> None:
    """Run on the file named, or say why not."""
    if len(sys.argv) < 2 or not Path(sys.argv[1]).is_file():
        print("skipped: give the path of liquid_formulations.csv (it is not part of the project)")
        return
    print("\n".join(run(Path(sys.argv[1]))))


if __name__ == "__main__":
    main()
