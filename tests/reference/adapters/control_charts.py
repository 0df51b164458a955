"""Control charts: constants, individuals, subgroups, gauge studies.

The table prints its constants to six digits, and its d3 by a coarser integration: for n = 2 it
gives 0.852498 where the closed form sqrt(2 - 4/pi) is 0.852502. Constants, and limits made from
d3, are therefore compared to 1e-5 relative; ``test_control`` holds d2 and d3 to the closed forms.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

import numpy as np

from labkit.learning.control import chart_constants, individuals, xbar_r, xbar_s
from labkit.learning.repeatability import gauge_study
from tests.reference.tolerance import (
    Result,
    Row,
    data,
    groups,
    near,
    not_covered,
    number,
    verdict,
)

TABLES = ("control_charts",)
COLUMNS = frozenset({"case", "n", "item", "value", "note"})

SIX_DIGITS = 1e-5
FROM_D3 = ("UCL R", "LCL R")
CONSTANTS = {
    "d2": "d2",
    "d3": "d3",
    "c4": "c4",
    "A2": "a2",
    "A3": "a3",
    "D3": "range_low",
    "D4": "range_high",
    "B3": "s_low",
    "B4": "s_high",
}
READING = re.compile(r"sample (\d+) reading (\d+)$")
GAUGE = re.compile(r"appraiser (\w+) trial (\d+) part (\d+)$")
SINGLE = re.compile(r"x(\d+)$")


def check(rows: list[Row]) -> Iterable[Result]:
    """One result a row."""
    gauges: dict[str, object] = {}
    for (case,), group in groups(rows, "case"):
        if case == "constants":
            yield from _constants(group)
        elif any(GAUGE.match(r["item"]) for r in group):
            yield from _gauge(case, group, gauges)
        elif any(READING.match(r["item"]) for r in group):
            yield from _subgroups(group)
        elif any(SINGLE.match(r["item"]) for r in group):
            yield from _individuals(group)
        elif case.removesuffix("_anova") in gauges:
            yield from _answers(group, _anova(gauges[case.removesuffix("_anova")]))
        else:
            yield from (not_covered(r, "no readings in the table for this case") for r in group)


def _constants(group: list[Row]) -> Iterator[Result]:
    for row in group:
        name = CONSTANTS.get(row["item"])
        if name:
            yield _six_digits(row, getattr(chart_constants(int(float(row["n"]))), name))
        else:
            yield not_covered(row, "a constant that no chart here uses")


def _six_digits(row: Row, got: float) -> Result:
    expected = float(row["value"])
    good = abs(got - expected) <= SIX_DIGITS * max(abs(expected), 0.5)
    return verdict(row, good, row["value"], f"{got:.10g}", f"± {SIX_DIGITS:g} relative")


def _answers(group: list[Row], known: dict[str, float]) -> Iterator[Result]:
    for row in group:
        item = row["item"]
        if SINGLE.match(item) or READING.match(item) or GAUGE.match(item):
            yield data(row)
        elif item in FROM_D3 and item in known:
            yield _six_digits(row, known[item])
        elif item in known:
            yield near(row, known[item])
        else:
            yield not_covered(row, "an item that labkit does not give")


def _individuals(group: list[Row]) -> Iterator[Result]:
    values = [float(r["value"]) for r in group if SINGLE.match(r["item"])]
    printed = next((number(r["note"].split("=")[1]) for r in group if "d2" in r["note"]), None)
    chart = individuals(values, d2=printed)
    known = {
        "mean": chart.values.centre,
        "mean moving range": chart.ranges.centre,
        "UCL x": chart.values.upper,
        "LCL x": chart.values.lower,
        "sigma": chart.sigma,
        "UCL moving range": chart.ranges.upper,
    }
    for row in group:
        factor = re.fullmatch(r"UCL moving range \(([\d.]+) x\)", row["item"])
        if factor:  # the row states the rounded factor it was computed with
            known[row["item"]] = float(factor.group(1)) * chart.ranges.centre
    yield from _answers(group, known)


def _subgroups(group: list[Row]) -> Iterator[Result]:
    samples: dict[int, list[float]] = {}
    for row in group:
        found = READING.match(row["item"])
        if found:
            samples.setdefault(int(found.group(1)), []).append(float(row["value"]))
    table = np.array(list(samples.values()))
    r, s, two = xbar_r(table), xbar_s(table), xbar_r(table, sigmas=2.0)
    ranged = any("range" in row["item"] or row["item"].endswith(" R") for row in group)
    main = r if ranged else s
    yield from _answers(
        group,
        {
            "grand mean": main.means.centre,
            "mean range": r.spread.centre,
            "mean s": s.spread.centre,
            "sigma from range": r.sigma,
            "sigma from s": s.sigma,
            "UCL xbar": main.means.upper,
            "LCL xbar": main.means.lower,
            "UCL xbar 2 sigma": two.means.upper,
            "LCL xbar 2 sigma": two.means.lower,
            "UCL R": r.spread.upper,
            "LCL R": r.spread.lower,
            "UCL s": s.spread.upper,
            "LCL s": s.spread.lower,
        },
    )


def _gauge(case: str, group: list[Row], gauges: dict[str, object]) -> Iterator[Result]:
    cells: dict[tuple[str, int, int], float] = {}
    for row in group:
        found = GAUGE.match(row["item"])
        if found:
            cells[found.group(1), int(found.group(2)), int(found.group(3))] = float(row["value"])
    who, trials, parts = (sorted({k[i] for k in cells}, key=str) for i in range(3))
    table = [[[cells[w, t, p] for p in sorted(parts)] for t in sorted(trials)] for w in who]
    study = gauge_study(table)
    gauges[case] = study
    known = {
        "mean range": study.mean_range,
        "Xdiff": study.operator_difference,
        "Rp": study.part_range,
        "EV repeatability": study.ev,
        "AV reproducibility": study.av,
        "GRR": study.grr,
        "PV": study.pv,
        "TV": study.tv,
        "%GRR of TV": study.grr_percent,
        "ndc 1.41 PV/GRR": study.ndc,
    }
    yield from _answers(group, known | _anova(study))


def _anova(study: object) -> dict[str, float]:
    return {
        "SS part": study.ss_part,  # type: ignore[attr-defined]
        "SS appraiser": study.ss_operator,  # type: ignore[attr-defined]
        "SS interaction": study.ss_interaction,  # type: ignore[attr-defined]
        "SS repeatability": study.ss_repeat,  # type: ignore[attr-defined]
        "MS repeatability": study.ms_repeat,  # type: ignore[attr-defined]
        "pooled repeatability variance (no interaction)": study.pooled_repeat,  # type: ignore[attr-defined]
    }
