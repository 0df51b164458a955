"""Comparing a report with the parse that is expected of a sheet."""

from __future__ import annotations

from typing import Any

_NOT_COMPARED = {"say", "must_not", "about_sheet", "file"}


def differences(expected: Any, found: Any, place: str = "") -> list[str]:
    """Every field of ``expected`` that ``found`` lacks or states otherwise."""
    if isinstance(expected, dict):
        if not isinstance(found, dict):
            return [f"{place}: {found!r} in place of fields"]
        result = []
        for key, value in expected.items():
            if key in _NOT_COMPARED or (key == "about" and isinstance(value, str)):
                continue
            if key == "findings":
                result += finding_differences(value, found.get("findings", []))
            elif key not in found:
                result.append(f"{place}.{key}: missing, expected {value!r}")
            else:
                result += differences(value, found[key], f"{place}.{key}")
        return result
    if isinstance(expected, list):
        if not isinstance(found, list) or len(found) != len(expected):
            return [f"{place}: expected {expected!r}, found {found!r}"]
        pairs = zip(expected, found, strict=True)
        return [x for i, (a, b) in enumerate(pairs) for x in differences(a, b, f"{place}[{i}]")]
    same = expected == found and type(expected) is type(found)
    return [] if same else [f"{place}: expected {expected!r}, found {found!r}"]


def finding_differences(expected: list[dict[str, Any]], found: list[dict[str, Any]]) -> list[str]:
    """Findings that are missing, and questions that nobody expects."""
    wanted = {(x["row"], x["code"], x["severity"]) for x in expected}
    given = {(x["row"], x["code"], x["severity"]) for x in found}
    extra = {x for x in given - wanted if x[2] == "ask"}
    return [f"finding missing: {x}" for x in sorted(wanted - given, key=str)] + [
        f"question too many: {x}" for x in sorted(extra, key=str)
    ]
