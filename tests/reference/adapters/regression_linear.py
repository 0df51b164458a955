"""Certified linear regressions; curve fits are answered by another adapter."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np

from labkit.learning.regression import LinearFit, linear_fit
from tests.reference.tolerance import (
    Result,
    Row,
    band,
    data,
    exact_number,
    groups,
    near,
    not_covered,
    verdict,
)

TABLES = ("regression_certified",)
COLUMNS = frozenset({"case", "record", "item", "value", "std_error", "model", "x1", "y"})
CURVES = ("exp", "log", "cos", "sin", "atan", "/", "**(")
NAMES = {"intercept": 0, "slope": 1}


def check(rows: list[Row]) -> Iterable[Result]:
    """One result a row of a linear model."""
    for (_,), group in groups(rows, "case"):
        model = next((r["model"] for r in group if r.get("model")), "")
        runs = [r for r in group if r["record"] == "data"]
        certified = [r for r in group if r["record"] == "certified"]
        if not model or any(word in model for word in CURVES) or not runs:
            yield from (not_covered(r, "a curve, not a linear model") for r in group)
            continue
        fit, first = _fit(model, runs)
        yield from (data(r) for r in runs)
        for row in certified:
            yield _answer(row, fit, first)


def _fit(model: str, runs: list[Row]) -> tuple[LinearFit, int]:
    y = np.array([float(r["y"]) for r in runs])
    names = [k for k in runs[0] if re.fullmatch(r"x\d+", k) and runs[0][k]]
    columns = np.array([[float(r[k]) for k in names] for r in runs])
    powers = [int(k) for k in re.findall(r"x\s*(?:\^|\*\*)\s*(\d+)", model)]
    if powers:  # a polynomial of one factor, every power up to the highest named
        columns = columns[:, :1] ** np.arange(1, max(powers) + 1)
    first = 0 if "b0" in model else 1
    if first == 0:
        columns = np.column_stack([np.ones(len(y)), columns])
    return linear_fit(columns, y, exact=True), first


def _answer(row: Row, fit: LinearFit, first: int) -> Result:
    known = {
        "residual_sd": fit.residual_sd,
        "residual_ss": fit.residual_ss,
        "r2": fit.r2,
        "F": fit.f_ratio,
    }
    item = row["item"]
    if item in known:
        return near(row, known[item])
    at = NAMES.get(item, int(item[1:]) - first if re.fullmatch(r"b\d+", item) else -1)
    if not 0 <= at < fit.coefficients.size:
        return not_covered(row, "an item that labkit does not give")
    value = near(row, float(fit.coefficients[at]))
    error = exact_number(row.get("std_error"))
    if value.status != "passed" or error is None:
        return value
    got = float(fit.std_errors[at])
    good = band(row, row["std_error"].strip()).holds(got, error)
    return verdict(row, good, f"standard error {row['std_error']}", f"{got:.15g}")
