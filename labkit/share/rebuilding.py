"""Formula, materials and brief of a trial, built again from its records alone."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from labkit.bench import Trial
from labkit.bench.frames import Corrections, readings
from labkit.bench.history import History
from labkit.errors import LabkitError, ShareError
from labkit.formula import Brief, Formula
from labkit.materials import Constituent, Material, Materials
from labkit.materials.model import Partition, Price, SourceRef

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["AsOf", "Rebuilt", "material_from_values", "rebuild"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuilt:
    """A trial as it can be made and calculated again.

    ``priced`` says whether the prices of the day are known, ``unknown`` which materials
    were not kept with the trial.
    """

    label: str
    formula: Formula
    mats: Materials
    brief: Brief | None
    priced: bool
    unknown: tuple[str, ...]

    def __str__(self) -> str:
        known = f"{len(self.mats)} materials as used"
        lacking = f"; not kept: {', '.join(self.unknown)}" if self.unknown else ""
        return (
            f"{self.label}: {self.formula.name}, {len(self.formula.lines)} lines, {known}{lacking}"
        )


def rebuild(history: History, trial: Any) -> Rebuilt:
    """The formula, materials as used, and brief of a trial, from its records.

    Parameters
    ----------
    history : Bench or shared history
        Where the trial is.
    trial : trial, label or id
        Which one.

    Returns
    -------
    Rebuilt

    Raises
    ------
    RecordError
        The recipe is private and closed.
    ShareError
        A material or the brief was written in a way that this labkit cannot read.
    """
    found = history.trial(trial)
    formula = found.formula
    prices = {int(p["line"]): p for p in found.prices or ()}
    mats: dict[str, Material] = {}
    for position, name in sorted(found.materials.items()):
        material = material_from_values(history.store.get(name).body["material"])
        price = prices.get(position)
        if price is not None:
            paid = Price(
                per_kg=float(price["per_kg"]), currency=price["currency"], pack=price.get("pack")
            )
            material = dataclasses.replace(material, price=paid)
        mats.setdefault(material.key, material)
    return Rebuilt(
        label=found.label,
        formula=formula,
        mats=Materials(mats.values()),
        brief=_brief(found),
        priced=found.prices is not None,
        unknown=tuple(
            line.material for i, line in enumerate(formula.lines) if i not in found.materials
        ),
    )


def _brief(trial: Trial) -> Brief | None:
    if trial.brief is None:
        return None
    try:
        return Brief.from_dict(dict(trial.brief))
    except (LabkitError, TypeError, KeyError) as error:
        raise _unreadable(f"Brief of trial {trial.label}", str(error)) from error


def material_from_values(values: Mapping[str, Any]) -> Material:
    """A material as it was kept with a trial.

    Raises
    ------
    ShareError
        It was written in a way that this labkit cannot read.

    Examples
    --------
    >>> material_from_values({"key": "glycerin", "name": "Glycerin", "inci": "Glycerin",
    ...     "use_high": "20.0", "groups": ["humectant"]}).use_high
    20.0
    """
    try:
        given = {k: _READ[k](v) if k in _READ else v for k, v in values.items() if k in _FIELDS}
        return Material(**given)
    except (LabkitError, TypeError, KeyError, ValueError) as error:
        raise _unreadable(f"Material {str(values.get('name', '?'))[:60]}", str(error)) from error


_FIELDS = {f.name for f in dataclasses.fields(Material)} - {"price"}


def _number(value: Any) -> float:
    return float(value)


def _texts(value: Any) -> tuple[str, ...]:
    return tuple(map(str, value))


def _tags(value: Any) -> frozenset[str]:
    return frozenset(map(str, value))


def _band(value: Any) -> tuple[float, float, float]:
    low, typical, high = map(float, value)
    return low, typical, high


def _pairs(value: Any) -> tuple[tuple[str, float], ...]:
    return tuple((str(name), float(share)) for name, share in value)


def _constituents(value: Any) -> tuple[Constituent, ...]:
    return tuple(Constituent(**_numbered(one, ("low", "high"))) for one in value)


def _partition(value: Any) -> tuple[Partition, ...]:
    return tuple(Partition(**_numbered(one, ("value", "temperature_c"))) for one in value)


def _numbered(one: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    return {k: float(v) if k in names else v for k, v in one.items()}


def _facts(value: Any) -> dict[str, SourceRef]:
    pairs = (
        value.items() if isinstance(value, Mapping) else ((e["name"], e["value"]) for e in value)
    )
    return {str(name): SourceRef(**ref) for name, ref in pairs}


_NUMBERS = ("strength", "use_low", "use_high", "ph_low", "ph_high", "heat_limit_c", "density_g_ml")
_READ: dict[str, Callable[[Any], Any]] = {
    **dict.fromkeys(_NUMBERS, _number),
    **dict.fromkeys(("functions", "hazards"), _texts),
    **dict.fromkeys(("groups", "allergy", "origin"), _tags),
    **dict.fromkeys(("hlb", "required_hlb"), _band),
    **dict.fromkeys(("acid_base", "recipe"), _pairs),
    **dict.fromkeys(("made_on", "expires"), date.fromisoformat),
    "constituents": _constituents,
    "partition": _partition,
    "facts": _facts,
}


class AsOf:
    """A history as it stood just before a moment: later readings and corrections left away.

    It has what learning asks a bench for: ``trial`` and ``readings``.
    """

    def __init__(self, history: History, moment: str) -> None:
        self._history, self._moment = history, moment

    def trial(self, which: Any) -> Trial:
        """A trial by its id."""
        return self._history.trial(which)

    def readings(self) -> pd.DataFrame:
        """The readings that were there, as they read then."""
        import pandas as pd

        corrections = Corrections(self._history.store)
        corrections.void = {
            name: by for name, by in corrections.void.items() if by.created < self._moment
        }
        corrections.amendments = {
            name: [one for one in several if one.created < self._moment]
            for name, several in corrections.amendments.items()
        }
        frame = readings(self._history.store, corrections)
        then = pd.Timestamp(self._moment)
        return frame[frame["created"] < then].reset_index(drop=True)


def _unreadable(where: str, detail: str) -> ShareError:
    return ShareError(
        where=where,
        found="it cannot be read back",
        allowed="Values as labkit keeps them with a trial",
        cause="It was written by another version of labkit, or by hand",
        do="Update labkit, or look at the record itself",
        detail=detail,
    )
