"""What a formula looks like to the learner: numbers for ingredients, classes and structure.

- Thickeners and polyacids count as a class (log of the class total) plus each one's share of it,
  so that swapping one gum for another is not read as taking out and putting in.
- Salts, acids, bases and unknown materials count by the log of their amount, the rest by the
  percentage points. Water is left out: it fills.
- A gel network needs both fatty alcohol and emulsifier: the log of the fatty alcohol, as far as
  there is emulsifier to carry it (two parts to one).
- A polyacid thickens as it is neutralised: a soft step in pH at 5.2.
- Process: measuring temperature, age, shearing, where recorded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.learning.posterior import Prior
from labkit.learning.words import SLOPES, Slope

Array = NDArray[np.float64]

CLASSES = ("thickener", "polyacid")
CLASS_SD_FACTOR = 0.7
SHARE_SD = 0.35
NETWORK = Slope("log", 0.5, 0.5, 0.4)
NEUTRAL = Slope("step", 0.0, 1.0, 0.5)
NEUTRAL_PH, NEUTRAL_WIDTH = 5.2, 0.5
PROCESS = ("measuring temperature", "age", "shearing")
PROCESS_MEAN = (-0.012, 0.04, 0.05)
PROCESS_SD = (0.010, 0.06, 0.06)
REFERENCE_C = 23.0
LN10 = float(np.log(10.0))


@dataclass(frozen=True, slots=True)
class Feature:
    """One column: its label, its materials (by position), and its prior."""

    label: str
    members: tuple[int, ...]
    mean: float
    sd: float
    family: str  # features of one family share half the prior variance


@dataclass(frozen=True, slots=True)
class FeatureMap:
    """Turns percentages, process and pH into the design of the linear model."""

    names: tuple[str, ...]
    words: tuple[str, ...]
    reference: Array
    reference_ph: float
    features: tuple[Feature, ...]
    groups: tuple[tuple[str, Array], ...]
    log_at: Array
    offsets: Array
    linear_at: Array
    network_at: tuple[Array, Array, Array] | None
    polyacid_at: Array

    @classmethod
    def build(
        cls, names: Sequence[str], words: Sequence[str], reference: Array, reference_ph: float
    ) -> FeatureMap:
        """Lay out the columns for these materials, measured from ``reference`` (%)."""
        at = {w: np.array([j for j, x in enumerate(words) if x == w]) for w in set(words)}
        none = np.array([], dtype=int)
        groups = tuple((w, at[w]) for w in CLASSES if w in at)
        single = [j for j, w in enumerate(words) if w != "water" and w not in CLASSES]
        log_at = np.array([j for j in single if SLOPES[words[j]].kind == "log"], dtype=int)
        linear_at = np.array([j for j in single if SLOPES[words[j]].kind == "linear"], dtype=int)
        fatty = at.get("fatty alcohol", none)
        carrier = np.concatenate([at.get("emulsifier", none), at.get("cationic", none)])
        network = None
        if fatty.size and carrier.size:
            network = (fatty, at.get("co-emulsifier", none), carrier)
        polyacid = at.get("polyacid", none)
        return cls(
            names=tuple(names),
            words=tuple(words),
            reference=np.asarray(reference, float),
            reference_ph=float(reference_ph),
            features=_columns(names, words, groups, log_at, linear_at, network, polyacid),
            groups=groups,
            log_at=log_at,
            offsets=np.array([SLOPES[words[j]].offset for j in log_at]),
            linear_at=linear_at,
            network_at=network,
            polyacid_at=polyacid,
        )

    @property
    def uses_ph(self) -> bool:
        """True when a polyacid makes thickness depend on pH."""
        return self.polyacid_at.size > 0

    def rows(self, percent: Array, process: Array, ph: Array) -> Array:
        """Design rows ``(m, p)`` from percent ``(m, n)``, process ``(m, 3)`` and pH ``(m,)``."""
        blocks = self._blocks(percent, ph)
        base = self._blocks(self.reference[None], np.array([self.reference_ph]))
        return np.concatenate([blocks - base, process], axis=1)

    def _blocks(self, percent: Array, ph: Array) -> Array:
        parts: list[Array] = []
        for word, members in self.groups:
            offset = SLOPES[word].offset
            amount = percent[:, members]
            total = amount.sum(axis=1, keepdims=True) + offset
            parts.append(np.log10(total))
            if members.size > 1:
                parts.append(amount / total)
        parts.append(np.log10(percent[:, self.log_at] + self.offsets))
        parts.append(percent[:, self.linear_at])
        if self.network_at is not None:
            fatty, co, carrier = (percent[:, k].sum(axis=1) for k in self.network_at)
            gel = np.minimum(fatty + 0.5 * co, 2.0 * carrier)
            parts.append(np.log10(gel + NETWORK.offset)[:, None])
        if self.uses_ph:
            parts.append(self._neutral(percent, ph)[:, None])
        return np.concatenate(parts, axis=1)

    def _neutral(self, percent: Array, ph: Array) -> Array:
        present = percent[:, self.polyacid_at].sum(axis=1) > 0
        step = -np.logaddexp(0.0, -(ph - NEUTRAL_PH) / NEUTRAL_WIDTH) / LN10
        return np.asarray(np.where(present, step, 0.0))

    def ph_doubt(self, percent: Array, ph: Array, ph_sd: Array | float) -> Array:
        """Variance the doubt about pH adds to log10 viscosity through the polyacid step."""
        if not self.uses_ph:
            return np.zeros(percent.shape[0])
        present = percent[:, self.polyacid_at].sum(axis=1) > 0
        slope = 1.0 / (1.0 + np.exp(np.clip((ph - NEUTRAL_PH) / NEUTRAL_WIDTH, -30, 30)))
        change = np.where(present, slope / NEUTRAL_WIDTH / LN10, 0.0) * ph_sd
        return np.asarray(NEUTRAL.mean**2 * change**2)

    def prior(self) -> Prior:
        """Prior of the effects, in the order of the columns."""
        mean = np.array([f.mean for f in self.features])
        sd = np.array([f.sd for f in self.features])
        family = np.array([f.family for f in self.features])
        shared = (family[:, None] == family[None, :]) & (family != "")[:, None]
        corr = np.where(shared, 0.5, 0.0)
        np.fill_diagonal(corr, 1.0)
        return Prior(mean=mean, covariance=corr * sd[:, None] * sd[None, :])

    def outside(self, tried: Array, rows: Array) -> list[list[str]]:
        """Labels of the features that leave the tried range by more than their prior sd."""
        sd = np.array([f.sd for f in self.features])
        low, high = tried.min(axis=0), tried.max(axis=0)
        beyond = np.maximum(low - rows, rows - high)
        flagged = beyond * sd > 0.05
        return [[self.features[k].label for k in np.flatnonzero(row)] for row in flagged]


def _columns(
    names: Sequence[str],
    words: Sequence[str],
    groups: tuple[tuple[str, Array], ...],
    log_at: Array,
    linear_at: Array,
    network: tuple[Array, Array, Array] | None,
    polyacid: Array,
) -> tuple[Feature, ...]:
    out: list[Feature] = []
    for word, members in groups:
        slope, who = SLOPES[word], tuple(int(j) for j in members)
        label = names[who[0]] if len(who) == 1 else f"all {word}s"
        out.append(Feature(label, who, slope.mean, slope.sd * CLASS_SD_FACTOR, ""))
        if len(who) > 1:
            out += [Feature(f"{names[j]}, its share", (j,), 0.0, SHARE_SD, "") for j in who]
    for j in (*log_at, *linear_at):
        slope = SLOPES[words[j]]
        out.append(Feature(names[j], (int(j),), slope.mean, slope.sd, words[j]))
    if network is not None:
        who = tuple(int(j) for part in network for j in part)
        out.append(Feature("gel network", who, NETWORK.mean, NETWORK.sd, ""))
    if polyacid.size:
        who = tuple(int(j) for j in polyacid)
        out.append(Feature("polyacid at this pH", who, NEUTRAL.mean, NEUTRAL.sd, ""))
    out += [
        Feature(label, (), mean, sd, "")
        for label, mean, sd in zip(PROCESS, PROCESS_MEAN, PROCESS_SD, strict=True)
    ]
    return tuple(out)
