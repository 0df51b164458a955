"""What can be measured at a small bench, each as a quantity of its own.

A drain time is not a viscosity and a strip is not a meter: nothing is converted
from one quantity to another. Ranges are what an instrument can show; a value
outside is a slip of the pen.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from labkit.errors import MeasurementError

__all__ = ["SCALES", "THICKNESS", "Scale", "find_scale"]

THICKNESS = ("runs", "pours", "drops", "mounds", "peaks")
"""The five words of thickness, from thin to thick, as it leaves a spoon."""
CENTRIFUGE = ("no change", "trace", "layer", "separated")
"""What is seen after spinning, from best to worst."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A quantity: the unit it is kept in, the kind of unit it takes, and its range."""

    name: str
    sort: str = "number"
    kind: str | None = None
    unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    words: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    wants: tuple[str, ...] = ()


def _number(
    name: str,
    kind: str,
    unit: str,
    low: str | None = "0",
    high: str | None = None,
    also: tuple[str, ...] = (),
) -> Scale:
    return Scale(
        name=name,
        kind=kind,
        unit=unit,
        low=None if low is None else Decimal(low),
        high=None if high is None else Decimal(high),
        also=also,
    )


_ALL = (
    _number("pH", "pH", "pH", "0", "14", ("ph meter", "ph value")),
    Scale(
        name="pH strip",
        sort="strip",
        kind="pH",
        unit="pH",
        low=Decimal(0),
        high=Decimal(14),
        also=("strip", "ph paper", "indicator strip"),
    ),
    _number("viscosity", "viscosity", "mPa*s", "0.01", "100000000", ("visc", "eta")),
    _number("drain time", "time", "s", "0.01", "36000", ("drain", "cup", "cup drain")),
    _number("spread", "length", "mm", "0.1", "1000", ("spread diameter",)),
    Scale(name="thickness", sort="word", unit="word", words=THICKNESS, also=("thickness word",)),
    _number("density", "density", "g/mL", "0.05", "25", ("specific gravity",)),
    Scale(name="appearance", sort="text", unit="text", also=("look", "looks")),
    Scale(name="smell", sort="text", unit="text", also=("odour", "odor", "scent")),
    Scale(name="feel", sort="text", unit="text", also=("skin feel", "touch")),
    Scale(name="colour", sort="colour", unit="L*a*b*", also=("color",)),
    _number("droplet size", "length", "µm", "0", "10000", ("droplets", "droplet diameter")),
    Scale(name="centrifuge", sort="word", unit="word", words=CENTRIFUGE, also=("spin",)),
    _number("weight loss", "share", "%", "-100", "100", ("mass loss", "evaporation")),
    _number("counts", "count", "CFU/g", "0", None, ("count", "plate count", "colony count")),
    Scale(
        name="panel score", sort="score", unit="score", also=("panel", "score"), wants=("scale",)
    ),
    _number("yield stress", "stress", "Pa", "0", "1000000"),
    _number("foam height", "length", "mm", "0", "2000", ("foam",)),
    _number("temperature", "temperature", "°C", "-80", "250"),
    _number("mass", "mass", "g", "0", "1000000", ("weight",)),
    _number("solids", "share", "%", "0", "100", ("dry residue",)),
)
SCALES = MappingProxyType({scale.name: scale for scale in _ALL})
"""Every quantity by its name."""

_SPELLINGS = {word.casefold(): scale for scale in _ALL for word in (scale.name, *scale.also)}


def find_scale(quantity: str) -> Scale | None:
    """The scale of a quantity by any of its names; None for a quantity of one's own.

    Raises
    ------
    MeasurementError
        A name that is almost one of ours: a slip of the keyboard would start a new curve.

    Examples
    --------
    >>> find_scale("PH").name, find_scale("drain").unit, find_scale("slip angle")
    ('pH', 's', None)
    """
    word = " ".join(quantity.split()).casefold()
    if scale := _SPELLINGS.get(word):
        return scale
    near = difflib.get_close_matches(word, _SPELLINGS, n=1, cutoff=0.78)
    if near or not word:
        name = _SPELLINGS[near[0]].name if near else "pH"
        raise MeasurementError(
            where="Measurement",
            found=f"the quantity '{quantity[:40]}'",
            allowed=", ".join(SCALES) + ", or a name of your own with a unit",
            cause="A slip of the keyboard would start a curve of its own",
            do=f"Did you mean '{name}'? Nothing was saved",
            quantity=quantity,
        )
    return None
