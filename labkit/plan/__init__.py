"""What to do next: effects so far, the next trial, sets of batches, several targets."""

from labkit.plan.desirability import Desire, weigh_up
from labkit.plan.dyes import DyeDose, dye
from labkit.plan.effects import effects
from labkit.plan.emulsifiers import Pair, emulsifier_pair
from labkit.plan.mixture import mixture, surface, ternary_grid
from labkit.plan.neutralising import Neutralising, neutralise
from labkit.plan.next_trials import next_trials
from labkit.plan.proposals import Proposal

__all__ = [
    "Desire",
    "DyeDose",
    "Neutralising",
    "Pair",
    "Proposal",
    "dye",
    "effects",
    "emulsifier_pair",
    "mixture",
    "neutralise",
    "next_trials",
    "surface",
    "ternary_grid",
    "weigh_up",
]
