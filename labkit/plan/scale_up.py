"""From 100 g to 2 kg: what does not grow with the grams, as a checklist for a new trial."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from html import escape
from typing import Any

import numpy as np
import numpy.typing as npt

from labkit.bench.views import Trial
from labkit.errors import BriefError, FormulaError
from labkit.formula import Formula
from labkit.materials import Materials
from labkit.quantities import parse as parse_quantity
from labkit.science.bounds import Numbers, given, plain
from labkit.science.weighing import to_make

__all__ = ["ScaleUp", "scale_up", "time_ratio", "tip_speed"]

MEMORY = "scaling relations of geometrically similar vessels, from memory"
PRACTICE = "common practice"
LOSS = (3.0, 8.0)
"""Left on vessel, mixer and funnel at 100 to 500 g [%], common practice."""
LEAST_FILL = 40.0
"""Of the vessel, so that a mixing head stays covered [%]; common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One point of the checklist: what, why, and where it is from."""

    topic: str
    words: str
    source: str

    def __str__(self) -> str:
        return f"{self.topic}: {self.words} ({self.source})"


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class ScaleUp:
    """A formula at another size.

    Attributes
    ----------
    formula : Formula
        The same percentages.
    from_g, to_g : Decimal
    items : tuple of Item
        To go through before the first kettle.
    note : str
        For the record of the new trial.
    """

    formula: Formula
    from_g: Decimal
    to_g: Decimal
    items: tuple[Item, ...]

    @property
    def note(self) -> str:
        """What the new trial is recorded with."""
        return (
            f"scale-up from {self.from_g.normalize():f} g to {self.to_g.normalize():f} g: the same "
            "recipe, a new trial"
        )

    def grams(self, balance: Any = "0.1 g") -> tuple[Decimal, ...]:
        """Grams of each line at the new size, exact in sum."""
        return self.formula.grams(f"{self.to_g} g", balance)

    def __str__(self) -> str:
        return "\n".join([self.note, *(f"[ ] {item}" for item in self.items)])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        items = "".join(
            f"<li><b>{escape(x.topic)}</b>: {escape(x.words)} "
            f"<small>{escape(x.source)}</small></li>"
            for x in self.items
        )
        return f"<p>{escape(self.note)}</p><ul>{items}</ul>"


def time_ratio(from_g: npt.ArrayLike, to_g: npt.ArrayLike) -> Numbers:
    """How much longer a larger batch heats and cools in a vessel of the same shape.

    Parameters
    ----------
    from_g, to_g : float or array-like, shape S
        [g]

    Returns
    -------
    float or ndarray, shape S
        [-]

    Raises
    ------
    ScienceError
        A mass that is not positive.

    Notes
    -----
    Heat goes with the surface, content with the volume: the ratio grows with the cube root
    of the mass, at the same stirring, wall and bath (from memory). A jacket or an immersion
    heater changes it.

    Examples
    --------
    >>> round(time_ratio(100.0, 2000.0), 2)
    2.71
    """
    small = given(from_g, "Batch", "g", above=0.0)
    return plain(np.cbrt(given(to_g, "Batch", "g", above=0.0) / small))


def tip_speed(diameter_mm: npt.ArrayLike, speed_rpm: npt.ArrayLike) -> Numbers:
    """Speed of a stirrer's tip.

    Parameters
    ----------
    diameter_mm : float or array-like, shape S
        Of the stirrer or rotor [mm].
    speed_rpm : float or array-like, shape S
        [rpm]

    Returns
    -------
    float or ndarray, shape S
        [m/s]

    Raises
    ------
    ScienceError
        A number that cannot be.

    Notes
    -----
    pi D n. Equal tip speed keeps about the same shear at the tip.

    Examples
    --------
    >>> round(tip_speed(30.0, 3000.0), 2)
    4.71
    """
    d = given(diameter_mm, "Diameter", "mm", above=0.0) / 1000.0
    return plain(np.pi * d * given(speed_rpm, "Speed", "rpm", 0.0) / 60.0)


def scale_up(
    about: Formula | Trial,
    to: Any,
    *,
    from_: Any = "100 g",
    mats: Materials | None = None,
    vessel: Any = None,
    rotor_mm: tuple[float, float] | None = None,
    speed_rpm: float | None = None,
    heat_min: float | None = None,
    cool_min: float | None = None,
) -> ScaleUp:
    """What to think of before a formula is made at another size.

    Parameters
    ----------
    about : Formula or Trial
    to, from_ : str
        The new batch and the one that is known.
    mats : Materials, optional
        The starter set if left out.
    vessel : str, optional
        What the new vessel holds, as mass, such as ``"3 kg"``.
    rotor_mm : (float, float), optional
        Diameter of the mixing head, then and now.
    speed_rpm : float, optional
        At which the known batch was sheared.
    heat_min, cool_min : float, optional
        Minutes that the known batch took.

    Returns
    -------
    ScaleUp
        A checklist, each point with where it is from; ``.note`` marks the new trial.

    Raises
    ------
    BriefError
        A vessel too small, or a size that is the same.
    FormulaError
        No mass.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5", name="Gel")
    >>> plan = scale_up(gel, "2 kg", heat_min=12)
    >>> print(plan.items[0])
    heating: 12 min become about 33 min at the same bath and stirring; heat the water before the \
wax sets at the wall (scaling relations of geometrically similar vessels, from memory)
    """
    formula = about.formula if isinstance(about, Trial) else about
    small = parse_quantity(from_, "mass", where=f"{formula.name}, known batch").exact("g")
    large = parse_quantity(to, "mass", where=f"{formula.name}, new batch").exact("g")
    if small <= 0 or large <= 0:
        raise FormulaError(
            where=f"{formula.name}, scaling up",
            found=f"{small} g to {large} g",
            allowed="Two masses above 0 g",
            cause="A size was left out",
            do="Write to='2 kg'",
        )
    if small == large:
        raise BriefError(
            where=f"{formula.name}, scaling up",
            found=f"{large} g in both",
            allowed="Another size than the known one",
            cause="The sizes are the same",
            do="Give from_= and to=",
        )
    items = [
        *_times(small, large, heat_min, cool_min),
        *_shear(rotor_mm, speed_rpm),
        *_vessel(formula, large, vessel),
        *_loss(large),
        *_materials(formula, mats or Materials.starter()),
        *ALWAYS,
    ]
    return ScaleUp(formula=formula, from_g=small, to_g=large, items=tuple(items))


def _times(
    small: Decimal, large: Decimal, heat: float | None, cool: float | None
) -> Iterator[Item]:
    ratio = float(time_ratio(float(small), float(large)))
    for topic, minutes, words in (
        ("heating", heat, "heat the water before the wax sets at the wall"),
        (
            "cooling",
            cool,
            "it stays hot longer: what suffers from heat waits, steam goes on",
        ),
    ):
        known = (
            f"about {ratio:.1f} times as long"
            if minutes is None
            else f"{minutes:g} min become about {minutes * ratio:.0f} min"
        )
        yield Item(
            topic=topic, words=f"{known} at the same bath and stirring; {words}", source=MEMORY
        )
    yield Item(
        topic="holding",
        words="the hold begins when the middle of the batch is warm, not the wall",
        source=PRACTICE,
    )


def _shear(rotor: tuple[float, float] | None, speed: float | None) -> Iterator[Item]:
    words = "less shear for each gram: droplets grow and the cream thins unless sheared longer"
    yield Item(topic="shear", words=words, source=PRACTICE)
    if rotor is not None and speed is not None:
        tip = float(tip_speed(rotor[0], speed))
        now = speed * rotor[0] / rotor[1]
        yield Item(
            topic="speed",
            words=f"{speed:g} rpm on {rotor[0]:g} mm is {tip:.1f} m/s at the tip; the same on "
            f"{rotor[1]:g} mm is {now:.0f} rpm. Passes through the head count too: compare "
            "droplets by photo",
            source=MEMORY,
        )


def _vessel(formula: Formula, large: Decimal, vessel: Any) -> Iterator[Item]:
    if vessel is None:
        yield Item(
            topic="vessel",
            words=f"fill {LEAST_FILL:g} to 80 % of it: the head must stay under the surface, and "
            "room must stay for the oil phase and for foam",
            source=PRACTICE,
        )
        return
    holds = parse_quantity(vessel, "mass", where=f"{formula.name}, vessel").exact("g")
    fill = float(large / holds * 100) if holds > 0 else float("inf")
    if fill > 100:
        raise BriefError(
            where=f"{formula.name}, scaling up",
            found=f"{large} g in a vessel of {holds} g",
            allowed="A vessel larger than the batch",
            cause="The sizes are exchanged, or a unit is another",
            do="Take a larger vessel, or make two batches: two trials",
        )
    words = f"filled to {fill:.0f} %"
    if fill < LEAST_FILL:
        words += f": under {LEAST_FILL:g} %, the head draws air; take a smaller vessel"
    elif fill > 80:
        words += ": over 80 %, little room for the oil phase, stirring and foam"
    yield Item(topic="vessel", words=words, source=PRACTICE)


def _loss(large: Decimal) -> Iterator[Item]:
    low, high = (float(to_make(float(large), loss)) for loss in LOSS)
    yield Item(
        topic="loss",
        words=f"to fill {large.normalize():f} g make {low:.0f} to {high:.0f} g; the share that "
        "sticks falls with size, the grams rise: weigh in and out",
        source=PRACTICE,
    )


def _materials(formula: Formula, mats: Materials) -> Iterator[Item]:
    found = [(x, mats.resolve(x.key or x.material)) for x in formula.lines]
    gums = [x.material for x, m in found if m is not None and m.charge_class == "polymer"]
    tender = [
        x.material
        for x, m in found
        if m is not None and m.heat_limit_c is not None and m.heat_limit_c <= 60
    ]
    wax = [
        x.material
        for x, m in found
        if m is not None and m.phase == "oil" and "thickener" in " ".join(m.functions)
    ]
    if gums:
        words = f"{', '.join(gums)}: sift or pre-wet in portions, swelling takes longer"
        yield Item(topic="gums", words=words, source=PRACTICE)
    if tender:
        words = f"{', '.join(tender)}: wait until the middle is cool, measure there"
        yield Item(topic="late additions", words=words, source=PRACTICE)
    if wax:
        words = f"{', '.join(wax)}: stir through the set point, which now takes longer"
        yield Item(topic="set point", words=words, source=PRACTICE)


ALWAYS = (
    Item(
        topic="steam",
        words="weigh the vessel, or mark the level; the open surface for each gram is smaller, the "
        "time longer: do not carry the old top-up over",
        source=PRACTICE,
    ),
    Item(
        topic="pH",
        words="titrate a 10 g sample of this batch, dose three quarters, read, finish",
        source=PRACTICE,
    ),
    Item(
        topic="mixing in",
        words="preservative and fragrance 10 min and more: sample top and bottom, they must read "
        "alike",
        source=PRACTICE,
    ),
    Item(
        topic="readings",
        words="pH and viscosity after 24 h beside the small batch, before anything is filled",
        source=PRACTICE,
    ),
    Item(
        topic="new trial",
        words="stability and the challenge test of the small batch do not speak for this one: the "
        "assessor decides what is repeated",
        source=PRACTICE,
    ),
)
