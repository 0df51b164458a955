"""Grades the learner on the simulated benches: leave the future out, score what comes next.

``python -m tests.learning.grade --series 200`` prints the report. Only the past of each trial is
used; the next four trials are scored. Seeds of the report differ from those used for tuning.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from labkit.learning.learner import fit
from tests.learning.palette import FUNCTIONS
from tests.learning.simulator import REPORT_SEEDS, WORLDS, series

AHEAD = 4
COUNTS = (3, 4, 6, 8, 12, 20)


@dataclass(frozen=True, slots=True)
class Score:
    """How the bands did at one number of trials."""

    world: str
    quantity: str
    trials: int
    predictions: int
    rmse: float
    median_error: float
    covered80: float
    covered95: float
    width80: float
    interval_score95: float
    last_rmse: float
    last_median: float

    @property
    def gain(self) -> float:
        """Share of the last-value RMSE that was removed."""
        return 1 - self.rmse / self.last_rmse


def nearest_ancestor(frame: Any, at: int, n: int) -> int:
    """Row of the youngest ancestor of row ``at`` among the first ``n``."""
    while at >= n:
        at = int(frame["parent"].iloc[at]) - 1
    return at


def errors(frame: Any, n: int, functions: dict[str, str] | None, mats: Any) -> Any:
    """Rows of (error, in80, in95, width80, interval score, last error) for viscosity and pH."""
    learner = fit(frame.iloc[:n], mats=mats, functions=functions)
    ahead = frame.iloc[n : n + AHEAD]
    predicted = learner.predict(ahead)
    out = {}
    for name in ("viscosity_mPas", "pH"):
        change = np.log10 if name == "viscosity_mPas" else (lambda v: v)
        band = {k: change(v.to_numpy()) for k, v in predicted[name].items()}
        y = change(frame[name].to_numpy())
        past = np.array([y[nearest_ancestor(frame, i, n)] for i in range(n, n + len(ahead))])
        y = y[n : n + len(ahead)]
        miss = np.maximum(band["low95"] - y, 0) + np.maximum(y - band["high95"], 0)
        out[name] = np.stack(
            [
                band["median"] - y,
                (band["low80"] <= y) & (y <= band["high80"]),
                (band["low95"] <= y) & (y <= band["high95"]),
                band["high80"] - band["low80"],
                band["high95"] - band["low95"] + 40 * miss,
                past - y,
            ],
            axis=1,
        )
    return out


def grade(
    world: str,
    seeds: Iterable[int],
    counts: Sequence[int] = COUNTS,
    named: bool | str = True,
    mats: Any = None,
) -> list[Score]:
    """Score viscosity and pH over many benches.

    ``named`` gives the function words; False leaves them to the materials list, "vague" calls
    every material by a word the learner does not know.
    """
    rows: dict[tuple[str, int], list[Any]] = {}
    for seed in seeds:
        frame = series(seed, world, max(counts) + AHEAD)
        words = {n: "?" if named == "vague" else w for n, w in FUNCTIONS.items() if n in frame}
        functions = words if named else None
        for n in counts:
            for name, part in errors(frame, n, functions, mats).items():
                rows.setdefault((name, n), []).append(part)
    return [_score(world, name, n, np.concatenate(parts)) for (name, n), parts in rows.items()]


def _score(world: str, name: str, n: int, part: Any) -> Score:
    error, in80, in95, width, interval, last = part.T
    return Score(
        world,
        name,
        n,
        len(part),
        float(np.sqrt(np.mean(error**2))),
        float(np.median(np.abs(error))),
        100 * float(np.mean(in80)),
        100 * float(np.mean(in95)),
        float(np.median(width)),
        float(np.mean(interval)),
        float(np.sqrt(np.mean(last**2))),
        float(np.median(np.abs(last))),
    )


def report(scores: Sequence[Score]) -> str:
    """A table in words and figures."""
    head = "world    quantity        n  RMSE  median  in 80 %  in 95 %  width80  score95  last RMSE"
    lines = [head]
    for s in sorted(scores, key=lambda s: (s.quantity != "viscosity_mPas", s.world, s.trials)):
        lines.append(
            f"{s.world:8} {s.quantity:14} {s.trials:2d}  {s.rmse:.3f} {s.median_error:.3f}   "
            f"{s.covered80:5.1f}    {s.covered95:5.1f}    {s.width80:.2f}     "
            f"{s.interval_score95:.2f}     {s.last_rmse:.2f}/{s.last_median:.2f}"
        )
    return "\n".join(lines)


TABLE = Path(__file__).parents[2] / "datasets" / "learning_report.csv"
COLUMNS = (
    "world", "quantity", "trials", "predictions", "rmse", "median_error", "covered80",
    "covered95", "width80", "interval_score95", "last_rmse",
)  # fmt: skip


def rows_of(scores: Sequence[Score]) -> list[list[str]]:
    """The scores as they stand in the shipped table: three decimals, no more."""
    told = []
    for s in scores:
        values = [getattr(s, name) for name in COLUMNS]
        told.append([f"{v:.3f}" if isinstance(v, float) else str(v) for v in values])
    return told


def write_table(scores: Sequence[Score], series_count: int) -> None:
    """The shipped table of the report; its notebook reads it."""
    place = f"python -m tests.learning.grade --series {series_count} --table"
    with TABLE.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow([*COLUMNS, "source_id", "source_kind", "place"])
        writer.writerows([*row, "labkit-simulator", "computed", place] for row in rows_of(scores))


def main() -> None:
    """Print the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=200)
    parser.add_argument("--world", choices=[*WORLDS, "all"], default="all")
    parser.add_argument("--named", choices=["given", "list", "vague"], default="given")
    parser.add_argument("--table", action="store_true", help="also write the shipped table")
    given = parser.parse_args()
    worlds = list(WORLDS) if given.world == "all" else [given.world]
    named: bool | str = {"given": True, "list": False, "vague": "vague"}[given.named]
    seeds = REPORT_SEEDS[: given.series]
    scores: list[Score] = []
    for world in worlds:
        found = grade(world, seeds, named=named)
        scores += found
        print(report(found), flush=True)
    if given.table:
        write_table(scores, given.series)


if __name__ == "__main__":
    main()
