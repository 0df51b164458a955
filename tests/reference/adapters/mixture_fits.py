"""Scheffé fits of the worked mixtures, optimal designs, Box-Cox."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import product
from pathlib import Path

import numpy as np

from labkit.learning.regression import LinearFit, scheffe_design, scheffe_fit
from labkit.learning.repeatability import box_cox
from labkit.plan.designs import d_bound, d_criterion, optimal_design, simplex_lattice
from tests.reference.adapters.mixture_designs import shares
from tests.reference.run import load
from tests.reference.tolerance import (
    Result,
    Row,
    exact_number,
    groups,
    half_last_digit,
    near,
    not_covered,
    verdict,
)

TABLES = ("mixture_fits",)
COLUMNS = frozenset({"case", "model", "item", "value", "std_error", "note"})
DATA = Path(__file__).parents[1] / "mixture_designs.csv"
MODELS = ("special cubic", "quadratic", "linear")


def check(rows: list[Row]) -> Iterable[Result]:
    """One result a row; the data of a fit are in mixture_designs.csv."""
    for (case, model), group in groups(rows, "case", "model"):
        name = next((m for m in MODELS if m in model), None)
        runs = _runs(case)
        if case.startswith("d_opt"):
            yield from (_design(r) for r in group)
        elif case.startswith("boxcox") and _runs(case.removeprefix("boxcox_")):
            yield from _powers(group, _runs(case.removeprefix("boxcox_")))
        elif name and runs:
            x = np.array([shares(r) for r in runs])
            y = np.array([float(r["y"]) for r in runs])
            yield from _fitted(group, scheffe_fit(x, y, name))
        else:
            yield from (not_covered(r, "its data are not in the table") for r in group)


def _runs(case: str) -> list[dict[str, str]]:
    every = [r for r in load(DATA) if r["y"]]
    names = {r["case"] for r in every if case.startswith(r["case"]) or r["case"].startswith(case)}
    best = max(names, key=len, default="")
    return [r for r in every if r["case"] == best]


def _fitted(group: list[Row], fit: LinearFit) -> Iterator[Result]:
    known = {
        "residual_ss": fit.residual_ss,
        "residual_df": fit.residual_df,
        "residual_sd": fit.residual_sd,
        "r2_about_mean": fit.r2,
        "D=|X'X/n|^(1/p)": fit.d_criterion,
        "G_max_leverage": float(fit.leverage.max()),
    }
    errors = {t: e for t, _, e in fit.table()}
    known |= {t: c for t, c, _ in fit.table()}
    for row in group:
        item = row["item"]
        if item not in known:
            yield not_covered(row, "an item that labkit does not give")
            continue
        if row["value"] == "":  # no degree of freedom is left
            yield verdict(row, fit.residual_df == 0, "not known", f"{known[item]}")
            continue
        value = near(row, known[item])
        error = exact_number(row.get("std_error"))
        if value.status == "passed" and error is not None:
            good = abs(errors[item] - error) <= 1e-6 * error
            yield verdict(row, good, f"standard error {error:g}", f"{errors[item]:.10g}")
        else:
            yield value


def _design(row: Row) -> Result:
    mixture = re.fullmatch(r"d_opt_mixture_q(\d+)_n(\d+)", row["case"])
    if mixture:
        q, n = int(mixture.group(1)), int(mixture.group(2))
        degree = int((re.search(r",\s*(\d+)\} lattice", row["model"]) or [0, "2"])[1])
        rows = scheffe_design(simplex_lattice(q, degree))
        return near(row, d_criterion(rows[optimal_design(rows, n)]))
    grid = np.array([p[::-1] for p in product((-1, 0, 1), repeat=3)], float)
    a, b, c = grid.T
    full = np.stack([a**0, a, b, c, a * b, a * c, b * c, a * a, b * b, c * c], axis=1)
    if "approx" in row["case"]:
        got, room = d_bound(full), half_last_digit(row["value"].rstrip("0"))
        good = abs(got - float(row["value"])) <= room
        return verdict(row, good, row["value"], f"{got:.6g}", f"± {room:g}")
    if "rows 1,3,5" in row["model"]:
        return near(row, d_criterion(full[::2]))
    return not_covered(row, "a design described in prose")


def _powers(group: list[Row], runs: list[dict[str, str]]) -> Iterator[Result]:
    x = np.array([shares(r) for r in runs])
    found = box_cox([float(r["y"]) for r in runs], scheffe_design(x))
    known = {
        "lambda_hat": found.power,
        "lambda_lo95": found.low95,
        "lambda_hi95": found.high95,
    }
    for row in group:
        if row["item"] not in known:
            yield not_covered(row, "an item that labkit does not give")
            continue
        got, room = known[row["item"]], half_last_digit(row["value"])
        good = abs(got - float(row["value"])) <= room
        yield verdict(row, good, row["value"], f"{got:.6g}", f"± {room:g}")
