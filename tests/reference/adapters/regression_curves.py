"""regression_certified, the curved part: the row's own equation and both of its starts."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np

from labkit.science.fitting import Fit, fit_curve
from tests.reference.tolerance import Result, Row, data, groups, near, not_covered

TABLES = ("regression_certified",)
COLUMNS = frozenset({"case", "record", "item", "std_error", "model", "start1", "start2"})

FUNCTIONS: dict[str, Any] = {
    "exp": np.exp,
    "log": np.log,
    "sqrt": np.sqrt,
    "sin": np.sin,
    "cos": np.cos,
    "arctan": np.arctan,
    "pi": np.pi,
}
NODES = (
    ast.Expression,
    ast.BinOp,
    ast.UnaryOp,
    ast.Call,
    ast.Name,
    ast.Load,
    ast.Constant,
    ast.operator,
    ast.unaryop,
)


def check(rows: list[Row]) -> Iterable[Result]:
    for _, group in groups(rows, "case"):
        certified = [row for row in group if row["record"] == "certified"]
        points = [row for row in group if row["record"] != "certified"]
        if not any(row["start1"] for row in certified):
            yield from (not_covered(row, "a linear fit: see the other adapter") for row in group)
            continue
        yield from map(data, points)
        yield from _curved(certified, points)


def _curved(certified: list[Row], points: list[Row]) -> Iterable[Result]:
    names = [row["item"] for row in certified if row["start1"]]
    text = next(row["model"] for row in certified if row["model"])
    x, y = (np.array([float(row[key]) for row in points]) for key in ("x1", "y"))
    model = _compiled(text, names)
    fits = [
        fit_curve(model, x, y, [float(row[key]) for row in certified if row[key]], names, 20)
        for key in ("start1", "start2")
    ]
    for row in certified:
        results = [result for fit in fits for result in _compare(row, fit)]
        worst = next((result for result in results if result.status != "passed"), None)
        yield worst or results[0]


def _compare(row: Row, fit: Fit) -> Iterable[Result]:
    item = row["item"]
    if item in fit.names:
        at = fit.names.index(item)
        yield near(row, float(fit.values[at]))
        if row["std_error"]:
            yield near(row, float(fit.standard_errors[at]), row["std_error"])
    elif item == "residual_ss":
        yield near(row, fit.residual_ss)
    elif item == "residual_sd":
        yield near(row, fit.residual_sd)
    else:
        yield not_covered(row, f"no {item} of a curved fit")


def _compiled(text: str, names: list[str]) -> Callable[..., Any]:
    """The printed equation "y = f(x) + e" as a function, arithmetic only."""
    body = text.split("=", 1)[1].replace("[", "(").replace("]", ")").replace("^", "**")
    body = re.sub(r"\+\s*e\s*$", "", body).strip()
    tree = ast.parse(body, mode="eval")
    for node in ast.walk(tree):
        if not isinstance(node, NODES):
            raise TypeError(f"{type(node).__name__} in {text!r}")
    code = compile(tree, "<model>", "eval")

    def model(x: Any, *values: Any) -> Any:
        return eval(
            code, {"__builtins__": {}}, FUNCTIONS | dict(zip(names, values, strict=True)) | {"x": x}
        )

    return model
