"""What you write down: formulas, the moves that change them, the brief."""

from labkit.formula.brief import Brief
from labkit.formula.compare import Comparison, Difference
from labkit.formula.given import formula_of
from labkit.formula.lines import Line, Phase
from labkit.formula.model import Formula
from labkit.formula.moves import Move

__all__ = ["Brief", "Comparison", "Difference", "Formula", "Line", "Move", "Phase", "formula_of"]
