"""The colour in the beaker and the colour in the jar, side by side."""

from __future__ import annotations

import re
from html import escape
from pathlib import Path
from typing import Any

import numpy as np

from labkit.charts.saving import save_text
from labkit.charts.svg import Svg
from labkit.errors import ScienceError
from labkit.evaluate import Evaluator, compile_formula
from labkit.formula import Formula, formula_of
from labkit.science.colour import SCATTERING_PER_CM, emulsion_colour

__all__ = ["Swatches", "colour_swatches"]

HEX = re.compile(r"#?([0-9a-fA-F]{6})")
WORDS = "An impression on a screen, not a colour measurement."
MUCH_OIL = 1.0
"""% w/w of oil and emulsifier below which a product does not scatter (common practice)."""


class Swatches:
    """Two swatches: ``beaker`` and ``jar`` are screen colours such as ``"#3a7bd5"``."""

    def __init__(self, beaker: str, jar: str, title: str, note: str) -> None:
        self.beaker, self.jar, self.title, self.note = beaker, jar, title, note

    @property
    def svg(self) -> str:
        """The swatches as SVG text."""
        picture = Svg(420, 160, f"{self.title}. {WORDS}")
        for x, ink, words in (
            (10, self.beaker, "water phase, beaker"),
            (215, self.jar, "emulsion, jar"),
        ):
            picture.rect(x - 1, 9, 197, 117, "currentColor", 0.35)
            picture.rect(x, 10, 195, 115, ink, 1, f"{words}: {ink}")
            picture.text(x, 144, f"{words}  {ink}", 11.5)
        return picture.text_of()

    def html(self) -> str:
        """The swatches with their assumptions, as HTML without scripts."""
        return (
            f'<figure style="margin:0">{self.svg}'
            f"<figcaption><b>{escape(WORDS)}</b> {escape(self.note)}</figcaption></figure>"
        )

    def save(self, path: str | Path) -> Path:
        """Write the swatches to an SVG file."""
        return save_text(self.svg, path)

    def __repr__(self) -> str:
        return f"<Swatches {self.title!r}: beaker {self.beaker}, jar {self.jar}>"

    def _repr_html_(self) -> str:
        return self.html()


def colour_swatches(
    formula: Formula,
    mats: Any,
    water_phase: str,
    *,
    path_cm: float = 5.0,
    scattering_per_cm: float = SCATTERING_PER_CM,
) -> Swatches:
    """Why the white emulsion looks paler than its dyed water phase.

    Parameters
    ----------
    formula : Formula
        Sets the share of water phase in the emulsion.
    mats : Materials
    water_phase : str
        Screen colour of the dyed water phase, seen from above on a white ground, such as
        ``"#3a7bd5"``.
    path_cm : float
        Its depth in the beaker [cm].
    scattering_per_cm : float
        Two-flux scattering of the emulsion [1/cm]; 30 is a white lotion.

    Returns
    -------
    Swatches

    Raises
    ------
    ScienceError
        A colour that is none, a depth or a scattering that cannot be, a formula without
        an oil phase.

    Notes
    -----
    Two-flux model of Kubelka and Munk, assumptions in `labkit.science.colour.emulsion_colour`.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> lotion = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... B,Sunflower oil,15
    ... B,Polysorbate 60,3''')
    >>> swatches = colour_swatches(lotion, Materials.starter(), "#2060c0")
    >>> swatches.beaker, swatches.jar > swatches.beaker
    ('#2060c0', True)
    """
    formula = formula_of(formula, "Swatches")
    told = HEX.fullmatch(water_phase.strip())
    if told is None:
        raise ScienceError(
            where="Colour of the water phase",
            found=repr(water_phase),
            allowed="A screen colour such as #3a7bd5",
            cause="A word, or too few digits",
            do="Pick it from a photo of the beaker on white paper",
        )
    share = _water_share(compile_formula(formula, mats))
    light = np.array([int(told[1][i : i + 2], 16) for i in (0, 2, 4)]) / 255.0
    seen = emulsion_colour(light, path_cm, share, scattering_per_cm)
    note = (
        f"Two-flux model (Kubelka and Munk): {path_cm:g} cm deep over a white ground; "
        f"{100 * share:.0f} % water phase by volume; scattering {scattering_per_cm:g} 1/cm; "
        "the dye stays in the water and keeps its colour."
    )
    title = f"Colour of {formula.name}"
    return Swatches(f"#{told[1].lower()}", _hex(seen), title, note)


def _water_share(evaluator: Evaluator) -> float:
    """Volume of water phase in the emulsion; the oils at their density."""
    numbers = evaluator()
    oily = float(numbers.oil) + float(numbers.emulsifier)
    if oily < MUCH_OIL:
        raise ScienceError(
            where=evaluator.formula.name,
            found=f"{oily:.2g} % of oil and emulsifier",
            allowed="An emulsion, with an oil phase that scatters",
            cause="A clear product keeps the colour of its water phase, only seen at less depth",
            do="Look at it in the jar it goes into",
        )
    oil = oily / evaluator.oil_density
    water = 100.0 - oily
    return water / (water + oil)


def _hex(colour: Any) -> str:
    return "#" + "".join(f"{round(255 * float(v)):02x}" for v in np.clip(colour, 0, 1))
