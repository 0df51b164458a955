"""What to do next: effects so far, the next trial, sets of batches, several targets."""

from labkit.plan.correct import TROUBLES, correct
from labkit.plan.correction import Addition, Correction
from labkit.plan.desirability import Desire, weigh_up
from labkit.plan.dyes import DyeDose, dye
from labkit.plan.effects import effects
from labkit.plan.emulsifiers import Pair, emulsifier_pair
from labkit.plan.making_up import batch_to_fill, stock_solution
from labkit.plan.mixture import mixture, surface, ternary_grid
from labkit.plan.neutralising import Neutralising, neutralise
from labkit.plan.next_trials import next_trials
from labkit.plan.proposals import Proposal

__all__ = [
    "TROUBLES",
    "Addition",
    "Correction",
    "Desire",
    "DyeDose",
    "Neutralising",
    "Pair",
    "Proposal",
    "batch_to_fill",
    "correct",
    "dye",
    "effects",
    "emulsifier_pair",
    "mixture",
    "neutralise",
    "next_trials",
    "stock_solution",
    "surface",
    "ternary_grid",
    "weigh_up",
]
