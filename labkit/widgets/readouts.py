"""The sheet's read-outs: what a forecast says, in the order in which it is looked at.

Each read-out is a plain dictionary: ``id``, ``label``, ``value``, ``text`` (in place of
a value), ``unit``, ``digits``, ``low``, ``high``, ``words``, ``basis``, ``source``,
``severity``, ``detail``, ``steps`` (words for a value that is still moving),
``findings`` and ``fold`` (shown only when opened).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from labkit.estimates import Estimate, Finding, Findings, Forecaster
from labkit.estimates.estimate import digits
from labkit.estimates.forecast import Forecast
from labkit.formula import Formula
from labkit.formula.compare import Comparison
from labkit.formula.grid import show, units_of
from labkit.formula.moves import Give
from labkit.widgets.bands import Found, findings_along
from labkit.widgets.ranges import along
from labkit.widgets.state import SheetState

__all__ = ["Measured", "Readout", "range_dict", "readouts"]

Readout = dict[str, Any]
LABELS = {
    "ph": "pH",
    "viscosity": "viscosity",
    "preservation": "preservative",
    "water": "water",
    "oil_to_emulsifier": "oil to emulsifier",
    "cost": "cost",
    "hlb": "HLB",
    "required_hlb": "HLB the oils need",
    "density": "density",
}
SHOWN = ("ph", "viscosity", "preservation", "water", "oil_to_emulsifier")
FOLDED = ("hlb", "required_hlb", "density")
CURVES = ("ph", "preservation", "viscosity", "cost", "water")
WORKING = ((1.0, "works"), (0.5, "weak"), (0.0, "hardly works"))
"""A preservative's level over the lowest usual dose, in a word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """The last reading of a quantity on the trial that the sheet began from."""

    text: str
    how: str
    label: str

    @property
    def words(self) -> str:
        """As it stands beside the forecast."""
        how = f" ({self.how})" if self.how else ""
        return f"measured {self.text} on {self.label}{how}"


def readouts(
    state: SheetState,
    look: Forecast | None,
    measured: Mapping[str, Measured],
    outside: Sequence[str] | None = None,
    changes: Comparison | None = None,
) -> list[Readout]:
    """Every read-out of a sheet, first what is looked at first.

    Parameters
    ----------
    state : SheetState
        What stands on the sheet.
    look : Forecast or None
        None leaves only what the formula itself says.
    measured : mapping
        Last readings of the trial it began from, by read-out.
    outside : sequence of str, optional
        What goes further than the trials; None where nothing was learned from them.
    changes : Comparison, optional
        What differs from the marked formula.
    """
    found = [_total(state), _differs(state, changes)]
    if look is not None:
        found.append(_findings(look))
        found += [_estimate(name, look, measured.get(name)) for name in SHOWN]
    if outside is not None:
        found.append(_tried(outside))
    found.append(_weighings(state))
    if look is not None:
        found.append(_estimate("cost", look, None))
        found += [_estimate(name, look, None) | {"fold": True} for name in FOLDED]
        if look.unknown:
            found.append(_unknown(look))
    found += [_phase(state, key) for key in dict.fromkeys(x.phase for x in state.formula.lines)]
    return found


def _readout(name: str, label: str, **parts: Any) -> Readout:
    return {"id": name, "label": label, "value": None, "digits": 0, "unit": "", **parts}


def _total(state: SheetState) -> Readout:
    return _readout(
        "total",
        "total",
        text=show(state.formula.total),
        unit="%",
        detail="Shares are kept on a grid of 0.0001 % and always add up to exactly 100.",
        basis="calculated",
    )


def _differs(state: SheetState, changes: Comparison | None) -> Readout:
    found = list(changes or ())
    names = "; ".join(str(d) for d in found[:12])
    return _readout(
        "differs",
        f"differs from {state.marks_label}",
        value=len(found),
        text=str(len(found)),
        unit="lines" if len(found) != 1 else "line",
        detail=names or "No line differs.",
        basis="calculated",
    )


def _findings(look: Forecast) -> Readout:
    return _readout(
        "findings",
        "findings",
        value=len(look.findings),
        unit="to look at",
        **_counted(look.findings),
        findings=[_finding(f) for f in look.findings],
        detail=""
        if look.findings
        else "The rules know what they know; a challenge test and a qualified assessor decide.",
    )


def _counted(findings: Findings) -> dict[str, Any]:
    """How many there are to look at, and the gravest of them."""
    counts = {s: len(findings.of(s)) for s in ("stop", "check", "fyi")}
    words = ", ".join(f"{n} {s}" for s, n in counts.items() if n)
    return {
        "text": str(counts["stop"] + counts["check"]),
        "words": words or "nothing found by the rules that were asked",
        "severity": next((s for s in ("stop", "check") if counts[s]), ""),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    names = "severity", "what", "why", "do", "source", "code"
    told: dict[str, Any] = {name: getattr(finding, name) for name in names}
    if finding.move is not None:
        told |= {"move": finding.move.as_dict(), "move_words": finding.move.words}
    return told


def _estimate(name: str, look: Forecast, measured: Measured | None) -> Readout:
    estimate = look.estimates[name]
    scaled = _scaled(estimate)
    made = _readout(
        name,
        LABELS[name],
        value=scaled.value,
        low=scaled.low,
        high=scaled.high,
        unit=scaled.unit,
        digits=_places(scaled),
        words=" · ".join(x for x in (measured.words if measured else "", _short(scaled)) if x),
        basis=estimate.basis,
        detail=estimate.words,
        source=estimate.source,
    )
    if name == "preservation" and estimate.value is not None:
        made |= {
            "steps": WORKING,
            "unit": "× the lowest usual dose",
            "text": None if estimate.value > 0 else "none",
            "digits": 0 if estimate.value >= 3 else 1,
        }
    return made


def _short(estimate: Estimate) -> str:
    """Basis in a word, and why where there is no number."""
    if not estimate.known:
        return estimate.words
    if estimate.quantity == "cost":
        return estimate.words
    return "" if estimate.basis == "calculated" else estimate.basis


def _scaled(estimate: Estimate) -> Estimate:
    """A thick product in Pa·s, a thin one in mPa·s."""
    if estimate.unit != "mPa*s":
        return estimate
    values = [estimate.value, estimate.low, estimate.high]
    if estimate.value is None or estimate.value < 1000:
        return _with(estimate, values, "mPa·s")
    return _with(estimate, [None if v is None else v / 1000 for v in values], "Pa·s")


def _with(estimate: Estimate, values: Sequence[float | None], unit: str) -> Estimate:
    return Estimate(
        quantity=estimate.quantity,
        value=values[0],
        low=values[1],
        high=values[2],
        level=estimate.level,
        unit=unit,
        basis=estimate.basis,
        words=estimate.words,
        source=estimate.source,
    )


def _places(estimate: Estimate) -> int:
    """Decimals that the interval leaves meaningful."""
    if not estimate.known or estimate.value is None:
        return 0
    if estimate.quantity in {"cost", "water"}:
        return 2
    return len(digits(estimate.value, estimate.spread).partition(".")[2])


def _tried(outside: Sequence[str]) -> Readout:
    return _readout(
        "tried",
        "your trials",
        text="outside" if outside else "inside",
        words=", ".join(outside),
        severity="fyi" if outside else "",
        detail="Further than any measured trial of this family, by so much that the forecast "
        "rests on what such materials usually do. The light span on a slider is what was tried.",
        basis="learned",
    )


def _weighings(state: SheetState) -> Readout:
    """Weighings against the balance: below 20 steps marked, below 100 steps mentioned."""
    masses = list(zip(state.formula.lines, state.grams(), strict=True))
    tiny = [x.material for x, g in masses if 0 < g < 20 * state.balance_g]
    rough = len(state.too_small()) - len(tiny)
    step = state.balance_g
    return _readout(
        "grams",
        f"for {state.batch_g.normalize():f} g",
        value=len(tiny),
        text=str(len(tiny)),
        unit="too small to weigh",
        severity="check" if tiny else "",
        words="; ".join(
            part
            for part in (
                ", ".join(tiny[:4]) + (" …" if len(tiny) > 4 else ""),
                f"{rough} to no better than 1 %" if rough else "",
            )
            if part
        ),
        detail=f"On a balance that reads {step.normalize():f} g, a weighing below "
        f"{(step * 100).normalize():f} g is uncertain by more than 1 %, below "
        f"{(step * 20).normalize():f} g by more than 5 %. Make more, or weigh a dilution.",
        basis="calculated",
        source="common practice",
    )


def _unknown(look: Forecast) -> Readout:
    return _readout(
        "unknown",
        "materials not known",
        value=len(look.unknown),
        text=str(len(look.unknown)),
        words=", ".join(look.unknown),
        severity="fyi",
        detail="They are not counted in the chemistry. Add them to the materials.",
        fold=True,
    )


def _phase(state: SheetState, key: str) -> Readout:
    lines = [x for x in state.formula.lines if x.phase == key]
    share = sum((x.percent for x in lines), Decimal(0))
    return _readout(
        f"phase-{key}", f"phase {key}", text=show(share), unit="%", basis="calculated", fold=True,
        detail=f"{float(share * state.batch_g / 100):g} g of {state.batch_g.normalize():f} g.",
    )  # fmt: skip


def range_dict(
    formula: Formula,
    line: int,
    give: Give,
    forecaster: Forecaster | None,
    window: tuple[int, int] | None = None,
    points: int = 49,
) -> dict[str, Any]:
    """The read-outs along the whole reachable range of a line, ready to be sent.

    Parameters
    ----------
    formula : Formula
        Where the range begins.
    line : int
        The line that walks.
    give : str or tuple
        Which lines give way.
    forecaster : Forecaster or None
        None leaves the curves out.
    window : (int, int), optional
        The part on the slider, in grid units.
    points : int
        How many positions.

    Returns
    -------
    dict
        ``positions`` [grid units], ``low``, ``high``, ``curves`` with ``values``, ``low``,
        ``high`` (None where unknown), ``findings`` with where each begins and ends,
        ``counts`` with what the findings read-out says from a position on.
    """
    walk = along(formula, line, give, points, window)
    curves: list[dict[str, Any]] = []
    found = Found()
    if forecaster is not None:
        look = forecaster(formula)
        arrays = forecaster.along(formula, walk.rows / 10_000)
        here = int(np.searchsorted(walk.positions, units_of(formula.lines[line].percent)))
        curves = [c for name in CURVES if (c := _curve(name, arrays, look, here)) is not None]
        found = findings_along(formula, line, give, walk, forecaster, arrays, window)
    return {
        "positions": walk.positions.tolist(),
        "low": walk.low,
        "high": walk.high,
        "curves": curves,
        "findings": list(found.bands),
        "counts": [{"from": first} | _counted(there) for first, there in found.stretches],
    }


def _curve(
    name: str, arrays: Mapping[str, Any], look: Forecast, here: int
) -> dict[str, Any] | None:
    values = arrays.get(name)
    if values is None or not np.isfinite(values).any() or name not in look.estimates:
        return None
    told = _estimate(name, look, None)
    scaled = name in {"cost", "viscosity"}
    factor = _factor(told["value"], float(values[here])) if scaled else 1.0
    band = [arrays.get(f"{name}_{side}") for side in ("low", "high")]
    return {
        "id": name,
        "label": told["label"],
        "unit": "× lowest dose" if name == "preservation" else told["unit"],
        "digits": max(told["digits"], 1) if name == "ph" else told["digits"],
        "values": _plain(values, factor),
        "low": None if band[0] is None else _plain(band[0], factor),
        "high": None if band[1] is None else _plain(band[1], factor),
    }


def _factor(shown: float | None, here: float) -> float:
    """From the unit of the arrays to the unit of the read-out (a jar's fill, Pa·s)."""
    if shown is None or not here or not math.isfinite(here):
        return 1.0
    factor = shown / here
    return 1.0 if abs(factor - 1) < 1e-6 else factor


def _plain(values: Any, factor: float) -> list[float | None]:
    return [round(float(v) * factor, 6) if math.isfinite(v) else None for v in np.asarray(values)]
