"""hlb_worked: structure, blends, required HLB, pairs and their refusals."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

from labkit.science import hlb
from tests.reference.tolerance import Result, Row, match, near, not_covered, refused

TABLES = ("hlb_worked",)
COLUMNS = frozenset({"case_id", "method", "inputs_json", "expected", "published_value"})

Inputs = dict[str, Any]


def check(rows: list[Row]) -> Iterable[Result]:
    for row in rows:
        call = METHODS.get(row["method"])
        if call is None:
            yield not_covered(row, f"no call for {row['method']}")
            continue
        inputs = json.loads(row["inputs_json"])
        if row["expected"].startswith("REFUSE"):
            yield refused(row, partial(call, inputs), _words(row))
        elif row["expected"].startswith("{"):
            yield match(row, call(inputs))
        else:
            yield near(row, float(call(inputs)), row["expected"])


def _words(row: Row) -> str:
    """What the refusal must say, where the row names a plain cause."""
    said = row["expected"].partition(":")[2].strip()
    return said.split("lies")[0].strip() if "lies" in said else said


def _weighted(parts: list[list[Any]]) -> float:
    return float(hlb.blend([amount for _, amount, _ in parts], [value for _, _, value in parts]))


def _pair_share(inputs: Inputs) -> dict[str, float]:
    share = float(hlb.pair_share(inputs["target"], inputs["high"][1], inputs["low"][1]))
    return {"high_share_pct": 100.0 * share, "low_share_pct": 100.0 * (1.0 - share)}


def _pair_amounts(inputs: Inputs) -> dict[str, float]:
    high, low = hlb.pair_amounts(
        inputs["target"], inputs["high"][1], inputs["low"][1], inputs["total_pct"]
    )
    return {"high_pct": float(high), "low_pct": float(low)}


def _both(inputs: Inputs) -> dict[str, float]:
    required = _weighted(inputs["oils_pct_rhlb"])
    wanted = inputs | {"target": required}
    return {"required_hlb": required} | _pair_share(wanted) | _pair_amounts(wanted)


METHODS: dict[str, Callable[[Inputs], Any]] = {
    "griffin_ester": lambda i: hlb.ester(i["S"], i["A"]),
    "griffin_E_over_5": lambda i: hlb.ethoxylate(
        i["eo_units"], i["rest_molar_mass"], i.get("eo_unit_mass", hlb.EO_UNIT_MASS)
    ),
    "davies": lambda i: hlb.davies(i["hydrophilic_groups"], i["lipophilic_carbon_groups"]),
    "required_hlb_blend": lambda i: _weighted(i["oils_pct_rhlb"]),
    "blend_hlb": lambda i: _weighted(i["parts"]),
    "emulsifier_pair_fraction": _pair_share,
    "emulsifier_pair_amounts": _pair_amounts,
    "required_hlb_blend_then_pair": _both,
}
