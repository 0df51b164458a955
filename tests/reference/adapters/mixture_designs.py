"""Mixture designs: lattices, centroids, extreme vertices; data of worked mixtures."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np

from labkit.plan.designs import extreme_vertices, simplex_centroid, simplex_lattice
from tests.reference.tolerance import Result, Row, data, groups, not_covered, verdict

TABLES = ("mixture_designs",)
COLUMNS = frozenset({"case", "run", "x1", "x2", "x3", "response", "y"})
NEAR = 5e-9  # shares are printed with ten decimals


def shares(row: Row) -> list[float]:
    """The shares of a run."""
    return [float(row[k]) for k in sorted(row) if re.fullmatch(r"x\d+", k) and row[k] != ""]


def check(rows: list[Row]) -> Iterable[Result]:
    """Each run must be one of labkit's points, and none may be given twice."""
    for (case,), group in groups(rows, "case"):
        points = _points(case, group)
        if points is None and any(r.get("y") for r in group):
            yield from (data(r) for r in group)
            continue
        if points is None:
            yield from (not_covered(r, "a design that labkit does not make") for r in group)
            continue
        seen: set[int] = set()
        for row in group:
            away = np.abs(points - np.array(shares(row))).max(axis=1)
            at = int(np.argmin(away))
            good = bool(away[at] <= NEAR) and at not in seen
            seen.add(at)
            yield verdict(row, good, str(shares(row)), str(points[at].tolist()))


def _points(case: str, group: list[Row]) -> np.ndarray | None:
    lattice = re.fullmatch(r"simplex_lattice_(\d+)_(\d+)", case)
    centroid = re.fullmatch(r"simplex_centroid_(\d+)", case)
    if lattice:
        return simplex_lattice(int(lattice.group(1)), int(lattice.group(2)))
    if centroid:
        return simplex_centroid(int(centroid.group(1)))
    note = group[0].get("note", "")
    found = re.search(r"(\d+) vertices; lower ([\d. ]+); upper ([\d. ]+)", note)
    if not found:
        return None
    low, high = ([float(v) for v in found.group(k).split()] for k in (2, 3))
    points = extreme_vertices(low, high)
    return points if len(points) == int(found.group(1)) else points[:0]
