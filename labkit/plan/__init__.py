"""What to do next: effects so far, the next trial, sets of batches, several targets."""

from labkit.plan.challenge import ChallengeReading, read_challenge
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
from labkit.plan.scale_up import ScaleUp, scale_up
from labkit.plan.stability import Programme, accelerated, stability_programme
from labkit.plan.watching import (
    Drift,
    ageing,
    drift,
    due,
    keep_watch,
    observe,
    stability_results,
)

__all__ = [
    "TROUBLES",
    "Addition",
    "ChallengeReading",
    "Correction",
    "Desire",
    "Drift",
    "DyeDose",
    "Neutralising",
    "Pair",
    "Programme",
    "Proposal",
    "ScaleUp",
    "accelerated",
    "ageing",
    "batch_to_fill",
    "correct",
    "drift",
    "due",
    "dye",
    "effects",
    "emulsifier_pair",
    "keep_watch",
    "mixture",
    "neutralise",
    "next_trials",
    "observe",
    "read_challenge",
    "scale_up",
    "stability_programme",
    "stability_results",
    "stock_solution",
    "surface",
    "ternary_grid",
    "weigh_up",
]
