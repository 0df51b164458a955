"""A formula and its materials turned into arrays for the science, one or a million at once."""

from labkit.evaluate.compiling import compile_formula
from labkit.evaluate.emulsifiers import asks_for_hlb, counts_in_hlb, emulsifies
from labkit.evaluate.evaluator import Evaluator, Numbers, Working
from labkit.evaluate.oils import Oil, oils_of
from labkit.evaluate.preservatives import Preservative, preservative

__all__ = [
    "Evaluator",
    "Numbers",
    "Oil",
    "Preservative",
    "Working",
    "asks_for_hlb",
    "compile_formula",
    "counts_in_hlb",
    "emulsifies",
    "oils_of",
    "preservative",
]
