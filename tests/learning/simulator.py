"""A published simulator of benches that make creams, conditioners and gels.

It grades the learner and the planner, and shares no form with their model: power laws of the
thickeners, a gel network that needs both fatty alcohol and emulsifier in the right ratio, a
polyacid that thickens only when neutralised, collapse by electrolyte, a crowded oil phase, batch
share, reading noise, blunders, drift of the instrument. Constants are invented; see ``WORLDS``.

``python -m tests.learning.simulator 7 rough`` prints one series as CSV.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.learning.palette import CONTENT, FUNCTIONS, IONIC, NAMES, PALETTE, SYSTEMS

INDEX = {name: i for i, name in enumerate(NAMES)}
WATER = INDEX["Aqua"]
WORDS = tuple(FUNCTIONS[name] for name in NAMES)


@dataclass(frozen=True, slots=True)
class World:
    """How rough the bench is: standard deviations in log10 units, probabilities, drift."""

    batch_sd: float
    reading_sd: float
    blunder: float
    drift_sd: float
    balance_g: float
    spread: float
    process_sd: float


WORLDS: dict[str, World] = {
    "plain": World(0.035, 0.035, 0.004, 0.002, 0.01, 1.0, 1.0),
    "rough": World(0.045, 0.045, 0.012, 0.006, 0.02, 1.15, 1.5),
    "hostile": World(0.055, 0.060, 0.025, 0.010, 0.03, 1.3, 2.0),
}
BATCH_G = 200.0
TUNING_SEEDS = range(10_000, 10_400)
REPORT_SEEDS = range(500, 1_500)


class Truth:
    """The hidden physics of one bench."""

    def __init__(self, rng: np.random.Generator, world: World) -> None:
        s = world.spread
        self.world = world
        base = np.array([PALETTE[n].strength for n in NAMES])
        power = np.array([PALETTE[n].exponent for n in NAMES])
        self.strength = base * np.exp(rng.normal(0, 0.12 * s, base.size))
        log_kind = np.isin(WORDS, ["thickener", "polyacid"])
        self.strength[log_kind] = base[log_kind] + rng.normal(0, 0.25 * s, log_kind.sum())
        self.exponent = np.clip(power + rng.normal(0, 0.25 * s, base.size), 0.9, 3.2)
        slope = np.isin(WORDS, ["solid fat", "light emollient", "emollient", "humectant", "active"])
        self.slope = np.where(slope, base + rng.normal(0, 0.012 * s, base.size), 0.0)
        minor = np.isin(WORDS, ["preservative", "fragrance"])
        self.slope = np.where(minor, base + rng.normal(0, 0.05 * s, base.size), self.slope)
        self.network = rng.normal(2.75, 0.25 * s)
        self.network_power = rng.uniform(1.4, 2.4)
        self.ratio = rng.uniform(0.5, 1.1)
        self.salt_network = math.exp(rng.normal(math.log(0.22), 0.4 * s))
        self.salt_gum = math.exp(rng.normal(math.log(0.8), 0.4 * s))
        self.salt_acid = math.exp(rng.normal(math.log(0.06), 0.4 * s))
        self.cliff = rng.normal(5.1, 0.25 * s)
        self.steepness = rng.uniform(1.2, 2.4)
        self.synergy = rng.uniform(0.0, 0.8)
        self.temperature = rng.normal(-0.012, 0.005 * s)
        self.age = rng.normal(0.04, 0.03 * s)
        self.shear = rng.normal(0.05, 0.03 * s)
        self.shift = {k: rng.normal(0, 0.1) for k in SYSTEMS}
        self.residual = rng.normal(0, 1.2e-3 * s)
        self.meter = rng.normal(0, 0.05 * s)

    def ionic(self, x: np.ndarray) -> float:
        """Ionic strength in mol/kg."""
        return float(sum(k * x[INDEX[n]] for n, k in IONIC.items()))

    def ph(self, x: np.ndarray) -> float:
        """The pH of composition ``x`` in %, by bisection of the charge balance."""
        totals: dict[str, float] = {}
        cation = self.residual
        for name, (system, mol, charge) in CONTENT.items():
            c = 10.0 * float(x[INDEX[name]])
            totals[system] = totals.get(system, 0.0) + c * mol
            cation += c * charge
        root = math.sqrt(min(self.ionic(x), 0.5))
        davies = 0.51 * (root / (1 + root) - 0.3 * root * root)
        low, high = 1.0, 13.0
        for _ in range(40):
            ph = 0.5 * (low + high)
            if self._charge(ph, totals, cation, davies) > 0:
                low = ph
            else:
                high = ph
        return 0.5 * (low + high) + self.meter

    def _charge(self, ph: float, totals: dict[str, float], cation: float, davies: float) -> float:
        charge = cation + 10 ** (-ph + davies) - 10 ** (ph - 14.0 + davies)
        for system, total in totals.items():
            pkas, top = SYSTEMS[system]
            if total <= 0 or not pkas:
                continue
            weight, state, sum_w, sum_z = 1.0, top, 1.0, float(top)
            for pka in pkas:
                z = state - 1
                effective = pka + self.shift[system] - davies * (z * z - state * state)
                if system == "acrylic":
                    effective = pka + self.shift[system] + 0.35 * (ph - 6.0)
                weight *= 10 ** min(ph - effective, 60.0)
                state = z
                sum_w += weight
                sum_z += z * weight
            charge += total * sum_z / sum_w
        return charge

    def log10_viscosity(self, x: np.ndarray, ph: float) -> float:
        """Noiseless log10 mPa s at 23 C, one day old, reference shear."""
        salt = self.ionic(x)
        gum = acid = 0.0
        fatty = emulsifier = cationic = lin = oil = 0.0
        for i in np.flatnonzero(x > 0):
            word, c, k = WORDS[i], float(x[i]), float(self.strength[i])
            if word == "thickener":
                gum += 10**k * c ** self.exponent[i]
            elif word == "polyacid":
                acid += 10**k * c ** self.exponent[i]
            elif word == "fatty alcohol":
                fatty += k * c
            elif word == "co-emulsifier":
                fatty += k * c
                emulsifier += 0.2 * k * c
            elif word == "emulsifier":
                emulsifier += k * c
            elif word == "cationic":
                emulsifier += k * c
                cationic += k * c
            if word in ("solid fat", "light emollient", "emollient"):
                oil += c
            lin += float(self.slope[i]) * c
        gum /= 1 + salt / self.salt_gum
        acid /= (1 + 10 ** (-self.steepness * (ph - self.cliff))) * (1 + salt / self.salt_acid)
        network = 0.0
        if fatty > 0 and emulsifier > 0:
            ratio = emulsifier / fatty / self.ratio
            network = 10**self.network * fatty**self.network_power * ratio * math.exp(1 - ratio)
            strength = self.salt_network * (0.5 if cationic > 0 else 1.0)
            network /= 1 + (salt / strength) ** 2
        crowd = (1 - min(oil / 100.0, 0.6) / 0.74) ** -1.85
        total = 15.0 + 20.0 * emulsifier + gum + network + acid
        total += self.synergy * math.sqrt(gum * network)
        return math.log10(total * crowd) + lin

    def process(self, t_c: float, age_d: float, minutes: float, rpm: float) -> float:
        """Shift in log10 units by measuring temperature, age and shearing."""
        return (
            self.temperature * (t_c - 23.0)
            + self.age * math.log10(age_d)
            + self.shear * math.log(minutes * rpm / 15_000.0)
        )


def start(rng: np.random.Generator) -> np.ndarray:
    """A first formula of one of four kinds, rounded as a bench writes it."""
    x = np.zeros(len(NAMES))
    kind = rng.choice(["cream", "lotion", "conditioner", "gel cream"], p=[0.4, 0.2, 0.2, 0.2])

    def put(word: str, scale: float = 1.0, count: int = 1) -> None:
        options = [i for i, w in enumerate(WORDS) if w == word]
        for i in rng.choice(options, size=min(count, len(options)), replace=False):
            item = PALETTE[NAMES[i]]
            low = max(item.low, item.step)
            x[i] = round(rng.uniform(low, low + scale * (item.high - low)), 2)

    if kind == "conditioner":
        put("cationic", 0.6)
        put("fatty alcohol", 0.8, 1 + int(rng.random() < 0.4))
    else:
        put("emulsifier", 0.7)
        put("fatty alcohol", 0.45 if kind != "cream" else 0.7)
        if rng.random() < 0.6:
            put("co-emulsifier", 0.5)
    if kind == "gel cream":
        put("polyacid", 0.7)
        put("base", 0.5)
    elif rng.random() < 0.8:
        put("thickener", 0.4)
    put("emollient", 0.7, 1 + int(rng.random() < 0.5))
    if rng.random() < 0.6:
        put("light emollient", 0.5)
    if rng.random() < 0.4:
        put("solid fat", 0.6)
    put("humectant", 0.6)
    if rng.random() < 0.5:
        put("active", 0.6)
    put("preservative", 0.5)
    if rng.random() < 0.8:
        put("preservative salt", 0.6)
    if rng.random() < 0.3:
        put("fragrance", 0.6)
    if kind != "gel cream":
        put("acid", 0.3)
    return _fill(x)


def _fill(x: np.ndarray) -> np.ndarray:
    x = np.round(np.maximum(x, 0.0), 2)
    x[WATER] = 0.0
    x[WATER] = round(100.0 - x.sum(), 2)
    return x


def change(rng: np.random.Generator, x: np.ndarray) -> tuple[np.ndarray, str]:
    """One to four changes by a bench that looks for something."""
    draw = rng.random()
    if draw < 0.10:
        return _swap(rng, x)
    if draw < 0.25:
        return _acidity(rng, x)
    if draw < 0.32:
        i = INDEX[str(rng.choice(["Sodium Chloride", "Magnesium Sulfate", "Sodium Citrate"]))]
        y = x.copy()
        y[i] = 0.0 if x[i] > 0 and rng.random() < 0.7 else rng.choice([0.1, 0.2, 0.3, 0.5])
        return _fill(y), "trial of salt"
    y = x.copy()
    movable = [i for i in np.flatnonzero(x > 0) if WORDS[i] not in ("water", "acid", "base")]
    thick = [i for i in movable if WORDS[i] in ("thickener", "polyacid", "fatty alcohol")]
    for _ in range(rng.choice([1, 2, 3, 4], p=[0.2, 0.3, 0.3, 0.2])):
        i = int(rng.choice(thick if thick and rng.random() < 0.65 else movable))
        item = PALETTE[NAMES[i]]
        y[i] += rng.choice([-4, -3, -2, -1, 1, 2, 3, 4]) * item.step
        y[i] = min(max(y[i], 0.0 if rng.random() < 0.25 else max(item.low, item.step)), item.high)
    if rng.random() < 0.08:
        new = int(rng.choice([i for i in np.flatnonzero(x == 0) if WORDS[i] not in ("water",)]))
        y[new] = max(PALETTE[NAMES[new]].low, PALETTE[NAMES[new]].step)
    return _fill(y), "changed"


def _swap(rng: np.random.Generator, x: np.ndarray) -> tuple[np.ndarray, str]:
    present = [i for i in np.flatnonzero(x > 0) if WORDS.count(WORDS[i]) > 1]
    old = int(rng.choice(present))
    new = int(rng.choice([i for i, w in enumerate(WORDS) if w == WORDS[old] and i != old]))
    y = x.copy()
    y[new] += y[old]
    y[old] = 0.0
    return _fill(y), f"{NAMES[old]} for {NAMES[new]}"


def _acidity(rng: np.random.Generator, x: np.ndarray) -> tuple[np.ndarray, str]:
    present = [i for i in np.flatnonzero(x > 0) if WORDS[i] in ("acid", "base")]
    every = [i for i, w in enumerate(WORDS) if w in ("acid", "base")]
    i = int(rng.choice(present if present and rng.random() < 0.85 else every))
    y = x.copy()
    y[i] = max(0.0, y[i] + rng.choice([-2, -1, 1, 2]) * 0.6 * PALETTE[NAMES[i]].step)
    return _fill(y), "pH"


class Bench:
    """One simulated bench: give it a composition, it makes a batch and measures it."""

    def __init__(self, seed: int, world: str = "plain") -> None:
        self.rng = np.random.default_rng([seed, list(WORLDS).index(world)])
        self.world = WORLDS[world]
        self.truth = Truth(self.rng, self.world)
        self.drift = 0.0

    def make(self, x: np.ndarray) -> dict[str, Any]:
        """Weigh, make, and read a batch of composition ``x`` (%, sums to 100)."""
        rng, w, truth = self.rng, self.world, self.truth
        weighed = np.where(x > 0, x + rng.normal(0, w.balance_g, x.size) * 100 / BATCH_G, 0.0)
        weighed = np.maximum(weighed * (1 + rng.normal(0, 0.002, x.size)), 0.0)
        t_c = round(23 + rng.normal(0, 0.8 * w.process_sd), 1)
        age = int(rng.choice([1, 1, 1, 2, 3]))
        minutes = round(max(1.0, 3 + rng.normal(0, 0.4 * w.process_sd)), 1)
        rpm = round(5000 + 250 * w.process_sd * rng.normal(), -2)
        self.drift = 0.95 * self.drift + rng.normal(0, w.drift_sd)
        true_ph = truth.ph(x)
        level = truth.log10_viscosity(weighed, truth.ph(weighed))
        level += truth.process(t_c, age, minutes, rpm) + rng.normal(0, w.batch_sd) + self.drift
        if rng.random() < w.blunder:
            level += rng.choice([-1, 1]) * rng.uniform(0.25, 0.6)
        n = int(rng.choice([1, 2, 3], p=[0.3, 0.5, 0.2]))
        reading = level + rng.normal(0, w.reading_sd, n)
        ph = truth.ph(weighed) + rng.normal(0, 0.03)
        if rng.random() < w.blunder:
            ph += rng.normal(0, 0.5)
        true = truth.log10_viscosity(x, true_ph) + truth.process(t_c, age, minutes, rpm)
        return {
            "measure_temp_C": t_c,
            "age_days": age,
            "homog_min": minutes,
            "homog_rpm": rpm,
            "n_readings": n,
            "viscosity_mPas": float(f"{10 ** reading.mean():.3g}"),
            "pH": round(ph, 2),
            "true_viscosity_mPas": 10**true,
            "true_pH": true_ph,
        }


def series(seed: int, world: str = "plain", trials: int = 24) -> Any:
    """A DataFrame of ``trials`` consecutive trials of one bench."""
    import pandas as pd

    bench = Bench(seed, world)
    rng = bench.rng
    x = _sensible(bench, start(rng), rng)
    made = [x]
    rows = [_row(1, None, None, x, bench.make(x), "first")]
    for trial in range(2, trials + 1):
        parent = trial - 1 if rng.random() < 0.8 else int(rng.integers(1, trial))
        repeat = rng.random() < 0.1
        base = made[parent - 1]
        x, note = (base, "repeat") if repeat else _kept_sensible(bench, rng, base)
        made.append(x)
        rows.append(_row(trial, parent, parent if repeat else None, x, bench.make(x), note))
    frame = pd.DataFrame(rows)
    used = [n for n in NAMES if (frame[n] > 0).any()]
    return frame.drop(columns=[n for n in NAMES if n not in used])


def _sensible(bench: Bench, x: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    for _ in range(60):
        if _usable(bench, x):
            return x
        x = start(rng)
    return x


def _usable(bench: Bench, x: np.ndarray) -> bool:
    ph = bench.truth.ph(x)
    return _skin_ph(ph) and 2.6 < bench.truth.log10_viscosity(x, ph) < 5.2 and x[WATER] > 35


def _skin_ph(ph: float) -> bool:
    return 3.2 < ph < 8.3


def _kept_sensible(
    bench: Bench, rng: np.random.Generator, base: np.ndarray
) -> tuple[np.ndarray, str]:
    for _ in range(30):
        x, note = change(rng, base)
        if x[WATER] <= 35 or (x == base).all():
            continue
        missed = 0.25 if _skin_ph(bench.truth.ph(x)) else 0.05
        if _usable(bench, x) or rng.random() < missed:
            return x, note
    return base, "repeat"


def _row(
    trial: int, parent: int | None, repeat: int | None, x: np.ndarray, made: Any, note: str
) -> dict[str, Any]:
    row: dict[str, Any] = {"trial": trial, "parent": parent, "repeat_of": repeat, "note": note}
    return row | dict(zip(NAMES, map(float, x), strict=True)) | made


if __name__ == "__main__":
    import sys

    print(series(int(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else "plain").to_csv())
