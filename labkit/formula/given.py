"""What a person hands over as a formula: a formula, or the trial that holds one."""

from __future__ import annotations

from typing import Any

from labkit.errors import FormulaError
from labkit.formula.model import Formula

__all__ = ["formula_of"]


def formula_of(given: Any, where: str) -> Formula:
    """The formula of what was given: itself, or that of a trial.

    Parameters
    ----------
    given : Formula or Trial
        Anything else is refused in words.
    where : str
        What it was given to.

    Raises
    ------
    FormulaError
        A report of a recipe whose formula was not made yet, a name, nothing.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5")
    >>> formula_of(gel, "Forecast") is gel
    True
    """
    if isinstance(given, Formula):
        return given
    held = getattr(given, "formula", None)
    if isinstance(held, Formula):
        return held
    read = callable(held)
    raise FormulaError(
        where=where,
        found="a recipe that was read, and no formula yet" if read else _called(given),
        allowed="A formula, or a recorded trial",
        cause="The report was given in place of its formula"
        if read
        else "A label, a table or an empty variable was given",
        do="Write report.formula(), which asks what is still open"
        if read
        else "Give the formula itself, such as bench.trial('HC-01').formula",
    )


def _called(given: Any) -> str:
    if given is None:
        return "nothing was given"
    return f"the text '{given[:40]}'" if isinstance(given, str) else "something else"
