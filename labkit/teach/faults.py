"""Exercises of the fifth lesson: recipes with a planted fault, steam, and what fell."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from labkit.estimates.check import check
from labkit.formula import Brief, Formula
from labkit.formula.grid import show
from labkit.materials import Materials
from labkit.science import batch
from labkit.teach.questions import NameQuestion, NumberQuestion, Slip
from labkit.teach.variants import Draw

__all__ = ["FAULTS", "Fault", "missing_share", "planted_fault", "restore_what_fell", "steam"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A recipe that looks well and is not; the check on paper says which lines and why."""

    name: str
    recipe: str
    ph: float
    leave_on: bool

    @property
    def formula(self) -> Formula:
        """The recipe as it is handed to a learner."""
        return Formula.parse(f"phase,material,percent\n{self.recipe}", name=self.name)

    @property
    def brief(self) -> Brief:
        """What it is meant to be."""
        return Brief(product=self.name, leave_on=self.leave_on, market=("EU",))


FAULTS = (
    Fault(
        name="Conditioner, first idea",
        recipe="A,Aqua,q.s.\nA,Glycerin,3\nB,Cetearyl alcohol,5\nB,Behentrimonium chloride,2\n"
        "C,Sodium laureth sulfate,8\nC,Phenoxyethanol,0.8",
        ph=4.5,
        leave_on=False,
    ),
    Fault(
        name="Gel cream, first idea",
        recipe="A,Aqua,q.s.\nA,Glycerin,4\nA,Xanthan gum,0.6\nB,Sunflower oil,6\n"
        "C,Sodium benzoate,0.5",
        ph=6.6,
        leave_on=True,
    ),
    Fault(
        name="Body milk, first idea",
        recipe="A,Aqua,q.s.\nA,Glycerin,4\nB,Cetearyl alcohol,3\nB,Polysorbate 60,2\n"
        "B,Mineral oil,8\nC,Phenoxyethanol,1.6",
        ph=5.2,
        leave_on=True,
    ),
    Fault(
        name="Hair mask, first idea",
        recipe="A,Aqua,q.s.\nA,Glycerin,3\nB,Cetearyl alcohol,5\nB,Glyceryl stearate SE,3\n"
        "B,Behentrimonium chloride,2\nC,Phenoxyethanol,0.8",
        ph=5.5,
        leave_on=False,
    ),
)
"""Invented recipes, each with one stop in it."""


@lru_cache(maxsize=16)
def _found(fault: Fault) -> tuple[frozenset[str], str]:
    stop = check(fault.formula, Materials.starter(), fault.brief, ph=fault.ph).stops[0]
    return frozenset(stop.names), f"{stop.what} {stop.why}".strip()


def planted_fault(draw: Draw) -> NameQuestion:
    """Which lines of a recipe make it fail."""
    fault = draw.of(FAULTS)
    names, why = _found(fault)
    lines = tuple(line.material for line in fault.formula.lines)
    listed = "; ".join(f"{x.phase} {x.material} {show(x.percent)} %" for x in fault.formula.lines)
    several = "two lines together" if len(names) > 1 else "one line"
    return NameQuestion(
        key="fault",
        text=f"{fault.name}, pH {fault.ph}, "
        f"{'stays on the skin' if fault.leave_on else 'is rinsed off'}: {listed}. "
        f"It stops on paper because of {several}. Which?",
        choices=lines,
        answer=names,
        way=why,
        reasons={
            name: f"{name} is not what stops it here. Look at charges, at the pH each line "
            "works in, and at ceilings."
            for name in lines
            if name not in names
        },
    )


def missing_share(draw: Draw) -> NumberQuestion:
    """What a recipe lacks to a hundred."""
    gap = draw.of((0.3, 0.5, 0.6, 0.8, 1.2))
    lines = (draw.step(4, 8, 0.5), draw.step(10, 18, 1), 0.9)
    water = 100 - sum(lines) - gap
    listed = " + ".join(f"{x:g}" for x in (water, *lines))
    return NumberQuestion(
        key="total",
        text=f"A typed recipe reads {listed}. What does it lack to 100 %?",
        unit="%",
        answer=gap,
        absolute=0.02,
        relative=0.0,
        way=f"100 - ({listed}) = {gap:g} %",
        slips=(
            Slip(
                name="the total",
                value=100 - gap,
                reason="That is what the lines add up to. How far is it to 100?",
            ),
            Slip(
                name="sign",
                value=-gap,
                reason="The lines are short of 100, not over: the missing share is above zero.",
            ),
        ),
    )


def steam(draw: Draw) -> NumberQuestion:
    """Water to put back after heating."""
    vessel, made = draw.step(180, 260, 0.4), draw.of((150, 200, 250))
    lost = draw.step(3.2, 9.6, 0.4)
    gross = round(vessel + made - lost, 2)
    answer = batch.water_lost(vessel, made, gross)
    return NumberQuestion(
        key="steam",
        text=f"The empty beaker weighs {vessel:g} g, {made} g went in, and after heating beaker "
        f"and batch weigh {gross:g} g. How much hot water goes back?",
        unit="g",
        answer=answer,
        absolute=0.03,
        way=f"{made} - ({gross:g} - {vessel:g}) = {answer:.2f} g",
        slips=(
            Slip(
                name="no tare",
                value=abs(gross - made),
                reason="The beaker was not taken off: weigh it empty, before anything goes in.",
            ),
            Slip(
                name="what is left",
                value=gross - vessel,
                reason="That is what is still in the beaker. How much is missing?",
            ),
        ),
    )


def restore_what_fell(draw: Draw) -> NumberQuestion:
    """Preservative to add after a cream was thinned with water."""
    mass, water, share = draw.of((96, 196, 240)), draw.of((4, 8, 10)), draw.of((0.8, 0.9, 1.0))
    after = float(batch.after_addition([share, 100 - share], [0.0, water], mass)[0])
    answer = float(batch.to_reach(mass + water, after, share))
    return NumberQuestion(
        key="restore",
        text=f"{water} g water thinned {mass} g of cream with {share} % preservative. How many "
        f"grams of preservative bring it back to {share} %?",
        unit="g",
        answer=answer,
        absolute=0.0006,
        relative=0.012,
        way=f"It fell to {after:.4f} %; ({mass} + {water}) x ({share} - {after:.4f}) / "
        f"(100 - {share}) = {answer:.3f} g",
        slips=(
            Slip(
                name="whole dose again",
                value=share * (mass + water) / 100,
                reason="That is the whole dose. Most of it is in there still: "
                "only what the water asks for is missing.",
            ),
            Slip(
                name="difference in percent",
                value=share - after,
                reason="That is the fall in percent. Turn it into grams of this batch.",
            ),
        ),
    )
