"""A formula and its materials turned into arrays for the science, one or a million at once."""

from labkit.evaluate.compiling import compile_formula
from labkit.evaluate.evaluator import Evaluator, Numbers, Working
from labkit.evaluate.oils import Oil, oils_of
from labkit.evaluate.preservatives import Preservative, preservative

__all__ = [
    "Evaluator",
    "Numbers",
    "Oil",
    "Preservative",
    "Working",
    "compile_formula",
    "oils_of",
    "preservative",
]
