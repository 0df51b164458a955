"""A laboratory's challenge test beside the trial: reductions, criteria, rebounds.

The numbers are read, nothing more: the laboratory and a safety assessor decide.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from labkit.bench import Bench, Record, Trial
from labkit.science.challenge import Reduction, log_reductions, overall, verdict

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ChallengeReading", "read_challenge"]

Counts = Mapping[str, Mapping[Any, float | str]]
DECIDES = (
    "Read from the counts. Whether the product is protected is for the laboratory and a "
    "qualified safety assessor to say."
)
ALLOWANCE = 0.5
"""A rise up to here counts as none where the standard says so [log]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChallengeReading:
    """What a table of counts says under one standard.

    Attributes
    ----------
    standard : str
    counts : mapping
        Organism → day → count as written, ``"<10"`` kept as it is.
    reductions : mapping
        Organism → day → `Reduction`; a count below detection gives a lower bound.
    verdicts : mapping of str to str
        Organism → criterion met: A, B, meets, fails or incomplete.
    overall, words : str
        The worst organism decides.
    rebounds : tuple of str
        Counts that rose from one day to a later one.
    """

    standard: str
    counts: Counts
    reductions: Mapping[str, Mapping[int, Reduction]]
    verdicts: Mapping[str, str]
    overall: str
    words: str
    rebounds: tuple[str, ...]

    def table(self) -> pd.DataFrame:
        """Columns organism, day, count (as written), reduction (log10, ``>`` for a bound)."""
        import pandas as pd

        rows = [
            (organism, int(day), str(count), _shown(self.reductions[organism].get(int(day))))
            for organism, counts in self.counts.items()
            for day, count in sorted(counts.items(), key=lambda item: int(item[0]))
        ]
        return pd.DataFrame(rows, columns=["organism", "day", "count", "reduction"])

    def record(self, bench: Bench, about: Trial, *, method: str = "", note: str = "") -> Record:
        """Keep counts and reading with the trial.

        Parameters
        ----------
        method : str
            Laboratory, report number and day, as it stands on the report.
        """
        body: dict[str, Any] = {
            "counts": [
                {"organism": organism, "day": str(int(day)), "count": str(count)}
                for organism, counts in self.counts.items()
                for day, count in sorted(counts.items(), key=lambda item: int(item[0]))
            ],
            "criteria": self.standard,
            "results": {
                "organisms": [
                    {"organism": name, "criterion": met} for name, met in self.verdicts.items()
                ],
                "overall": f"{self.overall}: {self.words}",
                "rebounds": list(self.rebounds),
            },
        }
        if method:
            body["method"] = method
        if note:
            body["note"] = note
        return bench.add("challenge", body, about=about)

    def __str__(self) -> str:
        told = [f"{self.standard}: {self.overall}, {self.words}."]
        for name, met in self.verdicts.items():
            days = ", ".join(f"day {d} {r}" for d, r in self.reductions[name].items())
            told.append(f"- {name}: {met} (log reduction {days})")
        return "\n".join([*told, *(f"- {x}" for x in self.rebounds), DECIDES])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        head, *rest = str(self).splitlines()
        items = "".join(f"<li>{escape(x.removeprefix('- '))}</li>" for x in rest)
        return f"<p><b>{escape(head)}</b></p><ul>{items}</ul>"


def read_challenge(counts: Counts, standard: str = "ISO 11930") -> ChallengeReading:
    """Read the counts of a challenge test under a standard.

    Parameters
    ----------
    counts : mapping of organism to mapping of day to count
        CFU per g or mL; ``"<10"`` below the limit of detection; day 0 is needed.
    standard : str
        ``"ISO 11930"``, ``"USP <51> category 2"`` or ``"Ph. Eur. 5.1.3 topical"``.

    Returns
    -------
    ChallengeReading
        ``.record(bench, trial)`` keeps it.

    Raises
    ------
    ScienceError
        No count at day 0, an organism or standard without criteria.

    Notes
    -----
    Criteria in ``datasets/challenge_criteria.csv``, with sources. A count below detection is
    a lower bound; the 0.5 log allowance is used only where the standard's text has it.

    Examples
    --------
    >>> print(read_challenge({"E. coli": {0: 1e6, 7: 200, 14: "<10", 28: "<10"}}).overall)
    A
    """
    reduced = {name: log_reductions(row) for name, row in counts.items()}
    verdicts = {name: verdict(standard, name, row) for name, row in reduced.items()}
    worst, words = overall(verdicts)
    return ChallengeReading(
        standard=standard,
        counts={name: dict(row) for name, row in counts.items()},
        reductions=reduced,
        verdicts=verdicts,
        overall=worst,
        words=words,
        rebounds=tuple(x for name, row in reduced.items() for x in _rebounds(name, row)),
    )


def _rebounds(organism: str, reductions: Mapping[int, Reduction]) -> list[str]:
    told = []
    days = sorted(reductions)
    for earlier, later in pairwise(days):
        before, now = reductions[earlier], reductions[later]
        rise = before.value - now.value
        if rise <= 1e-9 or now.at_least:
            continue
        least = "at least " if before.at_least else ""
        size = "beyond" if rise > ALLOWANCE + 1e-9 else "within"
        told.append(
            f"{organism}: counts rose by {least}{rise:.2f} log from day {earlier} to day {later}, "
            f"{size} the {ALLOWANCE} log that some texts allow"
        )
    return told


def _shown(reduction: Reduction | None) -> str:
    return "" if reduction is None else str(reduction)
