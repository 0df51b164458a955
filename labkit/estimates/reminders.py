"""What only the bench can see: reminders for the weigh sheet."""

from __future__ import annotations

from datetime import date

from labkit.estimates.carrying import Carrying
from labkit.estimates.check import Checker
from labkit.estimates.finding import Finding, Findings
from labkit.estimates.rules import bench_reminders
from labkit.estimates.state import Board
from labkit.formula import Formula
from labkit.formula.brief import Brief
from labkit.materials import Materials

__all__ = ["reminders"]


def reminders(
    formula: Formula,
    mats: Materials | None = None,
    brief: Brief | None = None,
    *,
    day: date | None = None,
) -> Findings:
    """What to keep an eye on while making this formula.

    Parameters
    ----------
    formula, mats, brief, day
        As in :func:`labkit.estimates.check.check`.

    Returns
    -------
    Findings
        Their ``what`` starts with what to avoid; a severity says how bad it would be.

    Examples
    --------
    >>> gel = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Carbomer,0.4''')
    >>> print(reminders(gel, Materials.starter())[0].what)
    High shear after neutralising: permanent thinning (Carbomer).
    """
    checker = Checker(formula, mats, brief, day=day)
    found = []
    contents, board = checker.contents, Board(len(formula.lines))
    carrying = Carrying(contents, board)
    asked = bench_reminders(contents, checker.brief, checker.form, board, carrying)
    state = board.state(checker.percent, None)
    for rule, holds, shown in asked:
        if not bool(holds(state)):
            continue
        lines = contents.lines_with(shown, state.percent)
        names = contents.line_names(lines)
        where = f" ({', '.join(names)})" if names else ""
        avoid = (rule.bench or "")[:1].upper() + (rule.bench or "")[1:]
        found.append(
            Finding(
                code=rule.id,
                severity=rule.severity,
                what=f"{avoid}: {rule.happens}{where}.",
                lines=lines,
                names=names,
                why=rule.why,
                do=rule.do,
                source=rule.source,
            )
        )
    return Findings(found)
