"""What to expect of a formula, and what could go wrong, before the beaker."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from labkit.errors import MeasurementError
from labkit.estimates.acidity import ph_half_width
from labkit.estimates.check import check
from labkit.estimates.estimate import Estimate
from labkit.estimates.finding import Findings
from labkit.estimates.learned import learned_from
from labkit.evaluate import Evaluator, Numbers, compile_formula, oils_of
from labkit.formula import Brief, Formula, formula_of
from labkit.quantities import parse

__all__ = ["Forecast", "Forecaster", "Learned", "forecast"]

Array = NDArray[np.float64]
ACID_SOURCE = (
    "charge balance with Davies activities, ΔH and ΔCp of each acid; checked against the pH "
    "standards from 15 to 40 °C"
)
LITTLE_WATER = 5.0
"""% w/w of water below which a pH of the water phase says nothing (common practice)."""


class Learned(Protocol):
    """What the trials taught, as far as a forecast needs it."""

    def bands(self, formula: Formula, percent: Array) -> Mapping[str, tuple[Array, Array, Array]]:
        """Median, low and high at 80 % for each learned quantity, shape of the rows."""

    def outside(self, formula: Formula, percent: Array) -> tuple[str, ...]:
        """Words for what lies outside the compositions tried."""

    @property
    def record(self) -> dict[str, Any]:
        """Model, version, seed and the ids of the trials it learned from."""


@dataclass(frozen=True, kw_only=True)
class Forecast:
    """Estimates and findings of one formula.

    ``ph``, ``viscosity``, ``hlb``, ``required_hlb``, ``preservation``, ``cost``, ``water``,
    ``oil_to_emulsifier`` and ``density`` are :class:`Estimate`; ``findings`` what to look
    at first; ``unknown`` the materials that nothing is known of.
    """

    formula: Formula
    estimates: Mapping[str, Estimate]
    findings: Findings
    unknown: tuple[str, ...] = ()
    preservatives: Mapping[str, float] = field(default_factory=dict)
    outside: tuple[str, ...] = ()
    learned: Mapping[str, Any] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Estimate:
        estimates = object.__getattribute__(self, "__dict__").get("estimates", {})
        if name in estimates:
            found: Estimate = estimates[name]
            return found
        raise AttributeError(f"a forecast has no '{name}'; it has {', '.join(estimates)}")

    def __iter__(self) -> Any:
        return iter(self.estimates.values())

    def __str__(self) -> str:
        lines = [f"Forecast for {self.formula.name}", *(f"  {e}" for e in self)]
        if self.unknown:
            lines.append(f"  not known, so not counted: {', '.join(self.unknown)}")
        if self.outside:
            lines.append(f"  outside what was tried: {'; '.join(self.outside)}")
        lines += [f"  {f.severity}: {f.what}" for f in self.findings]
        return "\n".join(lines)

    def __repr__(self) -> str:
        return f"<Forecast for {self.formula.name!r}: {len(self.findings)} findings>"

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td style='text-align:left'>{escape(e.quantity)}</td>"
            f"<td style='text-align:left'>{escape(str(e).removeprefix(e.quantity).lstrip(': '))}"
            f"</td><td style='text-align:left'>{escape(e.words)}</td></tr>"
            for e in self
        )
        return f"<table><tbody>{rows}</tbody></table>{self.findings._repr_html_()}"

    def as_record(self) -> dict[str, Any]:
        """The forecast as text values, to be stored with a trial before its result."""
        record: dict[str, Any] = {"estimates": [e.as_record() for e in self if e.known]}
        if self.findings:
            record["findings"] = [
                {"code": f.code, "severity": f.severity, "what": f.what} for f in self.findings
            ]
        if self.unknown:
            record["unknown"] = list(self.unknown)
        if self.learned:
            record["model"] = dict(self.learned)
        return record


class Forecaster:
    """Forecasts for one bench: materials, brief and what was learned, made ready once.

    Compiled formulas are kept, so that a slider step costs only the arithmetic.
    """

    def __init__(
        self, mats: Any = None, brief: Brief | None = None, learned: Learned | None = None
    ) -> None:
        self.mats, self.brief, self.learned = mats, brief, learned
        self._compiled: dict[tuple[tuple[str, str | None, str], ...], Evaluator] = {}

    def evaluator(self, formula: Formula) -> Evaluator:
        """The formula's lines made ready; kept for the next call with the same lines."""
        key = tuple((x.material, x.key, x.phase) for x in formula.lines)
        if key not in self._compiled:
            if len(self._compiled) > 64:
                self._compiled.clear()
            self._compiled[key] = compile_formula(formula, self.mats)
        return self._compiled[key]

    def __call__(self, formula: Formula, measured_ph: float | None = None) -> Forecast:
        """Estimates and findings of a formula; a pH that was measured goes before the rest."""
        evaluator = self.evaluator(formula)
        percent = np.array([float(x.percent) for x in formula.lines])
        numbers = evaluator(percent)
        learned = {} if self.learned is None else self.learned.bands(formula, percent[None, :])
        ph = _ph(numbers, learned) if measured_ph is None else _measured(measured_ph)
        estimates = {
            "ph": ph,
            "viscosity": _viscosity(learned),
            "preservation": _preservation(evaluator, percent, numbers, ph),
            "water": _share("water", numbers.water, "plain water, also that inside the materials"),
            "oil_to_emulsifier": _oil_to_emulsifier(numbers),
            "hlb": _hlb(evaluator, numbers),
            "required_hlb": _required(evaluator, percent, numbers),
            "cost": _cost(evaluator, numbers, self.brief),
            "density": _density(numbers),
        }
        at = None if not ph.known else (ph.value, ph.low, ph.high)
        doses = dict(zip(numbers.working.names, numbers.working.doses.tolist(), strict=True))
        outside = () if self.learned is None else self.learned.outside(formula, percent)
        return Forecast(
            formula=formula,
            estimates=estimates,
            findings=check(formula, self.mats, brief=self.brief, ph=at),
            unknown=_unknown(evaluator),
            preservatives=doses,
            outside=tuple(outside),
            learned={} if self.learned is None or not learned else self.learned.record,
        )

    def along(self, formula: Formula, percent: Array) -> dict[str, Array]:
        """Read-outs for many percentages of one formula's lines, shape (n, n_lines).

        Returns
        -------
        dict of ndarray, shape (n,)
            ``ph``, ``ph_low``, ``ph_high``, ``preservation``, ``cost``, ``water``, and
            ``viscosity`` with its ends when something was learned.
        """
        evaluator = self.evaluator(formula)
        numbers = evaluator(percent)
        half = _half_width(numbers)
        found = {
            "ph": numbers.ph,
            "ph_low": numbers.ph - half,
            "ph_high": numbers.ph + half,
            "preservation": numbers.working.doses.sum(axis=-1),
            "cost": numbers.cost_per_kg,
            "water": numbers.water,
        }
        learned = {} if self.learned is None else self.learned.bands(formula, percent)
        for name, key in (("viscosity_mPas", "viscosity"), ("pH", "ph")):
            if name in learned:
                found[key], found[f"{key}_low"], found[f"{key}_high"] = learned[name]
        if "pH" in learned:
            found["preservation"] = evaluator.working(percent, found["ph"]).doses.sum(axis=-1)
        return found


def forecast(
    formula: Formula,
    mats: Any = None,
    *,
    brief: Brief | None = None,
    bench: Any = None,
    learned: Learned | None = None,
    measured_ph: float | None = None,
) -> Forecast:
    """What to expect of a formula and what could go wrong.

    Parameters
    ----------
    formula : Formula
        The recipe.
    mats : Materials, optional
        What is known of its materials; unknown ones are named and widen the intervals.
    brief : Brief, optional
        Sets limits, thresholds and windows.
    bench : Bench, optional
        Its readings narrow the intervals, once there are enough to learn from.
    learned : Learned, optional
        What was learned already, to save doing it again.
    measured_ph : float, optional
        A reading of this very recipe; findings and preservation go by it.

    Raises
    ------
    MeasurementError
        A pH outside 0 to 14.

    Returns
    -------
    Forecast

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> toner = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Lactic acid 80 %,0.5
    ... A,Sodium lactate 60 %,1''')
    >>> print(forecast(toner, Materials.starter()).ph)
    pH 3.86 (3.82 to 3.89), calculated
    """
    formula = formula_of(formula, "Forecast")
    if learned is None and bench is not None:
        learned = learned_from(bench, formula, mats)
    return Forecaster(mats, brief, learned)(formula, measured_ph)


def _half_width(numbers: Numbers) -> Array:
    return ph_half_width(
        numbers.ph_half_width, numbers.buffer, numbers.oil, numbers.unknown, numbers.apparent
    )


def _ph(numbers: Numbers, learned: Mapping[str, tuple[Array, Array, Array]]) -> Estimate:
    if "pH" in learned:
        middle, low, high = (float(a[0]) for a in learned["pH"])
        return Estimate(
            quantity="pH", value=middle, low=low, high=high, basis="learned",
            words="the chemistry of the water phase, corrected by the readings of this bench",
            source=ACID_SOURCE,
        )  # fmt: skip
    value = float(numbers.ph)
    if not math.isfinite(value):
        little = float(numbers.water) < LITTLE_WATER
        why = "too little water for a pH" if little else "nothing in it that sets the pH"
        return Estimate(quantity="pH", value=None, basis="unknown", words=why)
    half = float(_half_width(numbers))
    emulsion = float(numbers.oil) > 1.0
    words = "acids, bases and salts in the water phase"
    words += "; an emulsion that was never measured" if emulsion else ""
    words += "; the polymer's acid constant is apparent" if float(numbers.apparent) > 0 else ""
    words += "; materials that are not known widen it" if float(numbers.unknown) > 0 else ""
    if float(numbers.ionic_strength) > 0.5:
        words += "; so much salt that the activity model is stretched"
    return Estimate(
        quantity="pH", value=value, low=value - half, high=value + half, words=words,
        source=ACID_SOURCE,
    )  # fmt: skip


def _measured(ph: float) -> Estimate:
    if not 0 <= ph <= 14:
        raise MeasurementError(
            where="Measured pH",
            found=f"pH {ph:g}",
            allowed="0 to 14",
            cause="A decimal point may be missing",
            do=f"Write {ph / 10:g} if that was meant" if 0 < ph / 10 <= 14 else "Read it again",
        )
    return Estimate(
        quantity="pH", value=ph, low=ph - 0.05, high=ph + 0.05, basis="measured",
        words="as read; ±0.05 is the repeatability of a hand meter",
        source="common practice",
    )  # fmt: skip


def _viscosity(learned: Mapping[str, tuple[Array, Array, Array]]) -> Estimate:
    if "viscosity_mPas" not in learned:
        return Estimate(
            quantity="viscosity", value=None, unit="mPa*s", basis="unknown",
            words="it is learned from trials: measure a few",
        )  # fmt: skip
    middle, low, high = (float(a[0]) for a in learned["viscosity_mPas"])
    return Estimate(
        quantity="viscosity", value=middle, low=low, high=high, unit="mPa*s", basis="learned",
        words="for a new batch of this recipe, measured as the trials were",
        source="Bayesian linear model on the logarithm, weak priors by function",
    )  # fmt: skip


def _preservation(evaluator: Evaluator, percent: Array, numbers: Numbers, ph: Estimate) -> Estimate:
    names = numbers.working.names
    if not names:
        return Estimate(
            quantity="working preservative", value=0.0, unit="× the lowest usual dose",
            words="no preservative that labkit knows" if float(numbers.water) > 1 else "no water",
        )  # fmt: skip
    if ph.known and ph.low is not None and ph.high is not None and ph.value is not None:
        levels = [min(max(x, 0.0), 14.0) for x in (ph.value, ph.low, ph.high)]
        doses = evaluator.working(np.tile(percent, (3, 1)), np.array(levels)).doses.sum(axis=-1)
        value, ends = float(doses[0]), (float(doses[2]), float(doses[1]))
    else:
        value = float(numbers.working.doses.sum())
        ends = (value, value)
    acids = [p.inci for _, p in evaluator.preservatives if p.pka is not None]
    words = f"{_how_well(value)}; {', '.join(names)}"
    words += f"; un-ionised share of {', '.join(acids)} at this pH" if acids else ""
    return Estimate(
        quantity="working preservative", value=value, low=min(ends), high=max(ends),
        unit="× the lowest usual dose", words=f"{words}. A challenge test decides",
        source="; ".join(dict.fromkeys(_preservation_sources(evaluator))),
    )  # fmt: skip


def _preservation_sources(evaluator: Evaluator) -> Iterator[str]:
    for _, known in evaluator.preservatives:
        yield known.source
        if known.pka is not None:
            yield f"pKa {known.pka:g} of {known.inci}: {known.pka_source}"


def _how_well(doses: float) -> str:
    if doses >= 1.0:
        return "works: as much as the lowest usual dose, or more"
    return "weak: below the lowest usual dose" if doses >= 0.5 else "hardly works"


def _share(quantity: str, value: Array, words: str) -> Estimate:
    return Estimate(quantity=quantity, value=float(value), unit="%", words=words)


def _oil_to_emulsifier(numbers: Numbers) -> Estimate:
    emulsifier = float(numbers.emulsifier)
    value = float(numbers.oil) / emulsifier if emulsifier > 0 else None
    words = "oil phase over emulsifiers" if value is not None else "no emulsifier"
    return Estimate(quantity="oil to emulsifier", value=value, unit=": 1", words=words)


def _hlb(evaluator: Evaluator, numbers: Numbers) -> Estimate:
    left_out = [
        m.name
        for m in evaluator.materials
        if m is not None and "emulsifier" in m.functions and m.charge != "nonionic"
    ]
    words = "nonionic emulsifiers only"
    words += f"; left out because they carry a charge: {', '.join(left_out)}" if left_out else ""
    value = float(numbers.hlb)
    known = math.isfinite(value)
    return Estimate(
        quantity="HLB", value=value if known else None, low=value - 1 if known else None,
        high=value + 1 if known else None, words=words,
        source="mean by weight (Griffin 1954); ±1 between makers and tables, common practice",
        basis="calculated" if known else "unknown",
    )  # fmt: skip


def _required(evaluator: Evaluator, percent: Array, numbers: Numbers) -> Estimate:
    low, high = float(numbers.required_low), float(numbers.required_high)
    if not math.isfinite(low):
        return Estimate(
            quantity="required HLB", value=None, basis="unknown",
            words="no required HLB is known for the oils in it",
        )  # fmt: skip
    oils = [o for o in oils_of(evaluator, percent) if o.low is not None]
    words = "; ".join(o.words for o in oils)
    sources = dict.fromkeys(o.source for o in oils if o.source)
    return Estimate(
        quantity="required HLB", value=(low + high) / 2, low=low, high=high, words=words,
        source="; ".join(sources),
    )  # fmt: skip


def _cost(evaluator: Evaluator, numbers: Numbers, brief: Brief | None) -> Estimate:
    prices = [m.price for m in evaluator.materials if m is not None and m.price is not None]
    if not prices:
        return Estimate(
            quantity="cost", value=None, basis="unknown", words="no material has a price"
        )
    per_kg, currency = float(numbers.cost_per_kg), prices[0].currency
    words = f"{per_kg:.2f} {currency} per kg of material"
    unit, value = f"{currency}/kg", per_kg
    if brief is not None and brief.fill:
        value = per_kg * parse(brief.fill, "mass").to("kg")
        unit = f"{currency} per {brief.fill}"
    if (missing := float(numbers.unpriced)) > 0:
        words += f"; {missing:.2f} % of the recipe has no price"
    return Estimate(quantity="cost", value=value, unit=unit, words=words, basis="from supplier")


def _density(numbers: Numbers) -> Estimate:
    value = float(numbers.density)
    if not math.isfinite(value):
        return Estimate(
            quantity="density", value=None, unit="g/mL", basis="unknown",
            words="over 5 % of the recipe has no density",
        )  # fmt: skip
    return Estimate(
        quantity="density", value=value, low=value - 0.02, high=value + 0.02, unit="g/mL",
        words="ideal volumes, without air", source="common practice",
    )  # fmt: skip


def _unknown(evaluator: Evaluator) -> tuple[str, ...]:
    pairs: Sequence[tuple[Any, float]] = list(
        zip(evaluator.formula.lines, evaluator.unknown.tolist(), strict=True)
    )
    return tuple(line.material for line, strange in pairs if strange)
