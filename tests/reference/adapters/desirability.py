"""Desirability functions, and the tire tread data with its optimum."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache

import numpy as np

from labkit.learning.regression import linear_fit
from labkit.plan.desirability import Desire, overall
from tests.reference.tolerance import (
    Result,
    Row,
    data,
    groups,
    half_last_digit,
    near,
    not_covered,
    verdict,
)

TABLES = ("desirability",)
COLUMNS = frozenset({"case", "item", "value", "x1", "x2", "x3", "y1", "y2"})

KINDS = {"larger": "larger", "smaller": "smaller", "target": "target", "nominal": "target"}
# the four wishes as the note of the data states them
WISHES = (
    Desire(kind="larger", low=120, high=170),
    Desire(kind="larger", low=1000, high=1300),
    Desire(kind="target", low=400, high=600, target=500),
    Desire(kind="target", low=60, high=75, target=67.5),
)
TERMS = ("1", "x1", "x2", "x3", "x1^2", "x2^2", "x3^2", "x1*x2", "x1*x3", "x2*x3")
PUBLISHED = (-0.05, 0.145, -0.868)
REACH = 1.633  # the axial points of the design


def check(rows: list[Row]) -> Iterable[Result]:
    """One result a row."""
    runs = [r for r in rows if r["case"].endswith("_data")]
    for (case,), group in groups(rows, "case"):
        kind = next((k for word, k in KINDS.items() if word in case), None)
        if case.endswith("_data"):
            yield from (data(r) for r in group)
        elif case.startswith("d_") and kind:
            yield from (_single(r, kind) for r in group)
        elif not runs:
            yield from (not_covered(r, "its data are not in the file") for r in group)
        else:
            yield from _tread(case, group, runs)


def _single(row: Row, kind: str) -> Result:
    given = {k: float(v) for k, v in re.findall(r"(\w+)=(-?[\d.]+)", row["item"])}
    target = given.get("T")
    wish = Desire(
        kind=kind,
        low=given["A"],
        high=given["B"],
        target=target,
        power=given.get("s", given.get("s1", 1.0)),
        power_high=given.get("s2", given.get("s", 1.0)),
    )
    return near(row, float(wish(given["y"])))


def _terms(x: np.ndarray) -> np.ndarray:
    a, b, c = x.T
    one = np.ones_like(a)
    return np.stack([one, a, b, c, a * a, b * b, c * c, a * b, a * c, b * c], axis=1)


def _fits(runs: list[Row]) -> np.ndarray:
    x = np.array([[float(r[k]) for k in ("x1", "x2", "x3")] for r in runs])
    y = np.array([[float(r[k]) for k in ("y1", "y2", "y3", "y4")] for r in runs])
    return np.stack([linear_fit(_terms(x), y[:, k], TERMS).coefficients for k in range(4)])


def _desires(x: np.ndarray, beta: np.ndarray) -> np.ndarray:
    y = _terms(np.atleast_2d(x)) @ beta.T
    return np.stack([np.asarray(w(y[:, k])) for k, w in enumerate(WISHES)], axis=1)


def _best(beta: np.ndarray) -> tuple[float, np.ndarray]:
    """Highest overall desirability by a grid that is narrowed again and again."""
    centre, half = np.zeros(3), REACH
    for _ in range(26):
        axis = np.linspace(-half, half, 15)
        grid = centre + np.stack(np.meshgrid(axis, axis, axis), axis=-1).reshape(-1, 3)
        grid = np.clip(grid, -REACH, REACH)
        values = np.asarray(overall(_desires(grid, beta)))
        centre = grid[int(np.argmax(values))]
        half *= 0.6
    return float(values.max()), centre


@cache
def _solved(key: bytes) -> tuple[float, tuple[float, ...]]:
    value, at = _best(np.frombuffer(key).reshape(4, 10))
    return value, tuple(at.tolist())


def _tread(case: str, group: list[Row], runs: list[Row]) -> Iterator[Result]:
    beta = _fits(runs)
    there = (_terms(np.array([PUBLISHED])) @ beta.T)[0]
    known = {f"y{k + 1} {t}": float(beta[k, j]) for k in range(4) for j, t in enumerate(TERMS)}
    known |= {f"y{k + 1} there": float(there[k]) for k in range(4)}
    for row in group:
        item = row["item"]
        point = re.match(r"D at \(([-\d., ]+)\)", item)
        if item in known:
            yield near(row, known[item])
        elif point:
            at = np.array([float(v) for v in point.group(1).split(",")])
            yield near(row, float(np.asarray(overall(_desires(at, beta)))[0]))
        elif item.startswith("own maximum"):
            yield _maximum(row, beta)
        else:
            yield not_covered(row, "an item that labkit does not give")


def _maximum(row: Row, beta: np.ndarray) -> Result:
    """Where the maximum lies, to the printed digits; D is flat there, so x to 0.005."""
    value, at = _solved(beta.tobytes())
    if "max D" in row["item"]:
        got, room = value, half_last_digit(row["value"])
    else:
        got, room = at[int(row["item"][-1]) - 1], 0.005
    good = abs(got - float(row["value"])) <= room
    return verdict(row, good, row["value"], f"{got:.6g}", f"± {room:g}")
