"""The readable copies beside the records: readings as a table, and what the software was."""

from __future__ import annotations

import csv
import io
import math
import re
from importlib import metadata
from typing import Any

import orjson

from labkit.bench.history import History
from labkit.reading.cells import neutralise

__all__ = ["READING_FIELDS", "datapackage_json", "readings_csv", "requirements_txt"]

READING_FIELDS = (
    ("label", "string", "what the trial is called"),
    ("quantity", "string", "what was measured"),
    ("value", "number", "in the unit of the column unit; empty for a word or a bound"),
    ("low", "number", "lower end of a reading between two marks"),
    ("high", "number", "upper end of a reading between two marks"),
    ("bound", "string", "< or > where the instrument showed no more"),
    ("unit", "string", "unit of value, low and high"),
    ("text", "string", "the reading as it was typed"),
    ("replicate", "integer", "number of the replicate, from 0"),
    ("conditions", "string", "how it was measured, in words"),
    ("temperature_c", "number", "temperature of the sample [°C]"),
    ("dilution", "string", "neat, or how it was diluted"),
    ("spindle", "string", "spindle of the viscometer"),
    ("speed_rpm", "number", "speed of the spindle [1/min]"),
    ("torque_percent", "number", "torque [% of the range]"),
    ("instrument", "string", "which instrument"),
    ("method", "string", "which method"),
    ("at_h", "number", "time since making [h]"),
    ("note", "string", "what else was seen"),
    ("withdrawn", "string", "why it no longer counts"),
    ("trial", "string", "name of the trial's record"),
    ("id", "string", "name of the reading's record"),
)
"""Columns of ``readings.csv``: name, type, meaning."""
_TITLE = re.compile(r"[A-Za-z0-9._-]+")


def readings_csv(history: History) -> bytes:
    """Every reading as it stands today, one row a replicate; text cells cannot run in a sheet."""
    frame = history.readings(withdrawn=True)
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow([name for name, _, _ in READING_FIELDS])
    columns = [(frame[name].tolist(), kind) for name, kind, _ in READING_FIELDS]
    for row in range(len(frame)):
        writer.writerow([_cell(values[row], kind) for values, kind in columns])
    return file.getvalue().encode()


def _cell(value: Any, kind: str) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if kind == "integer":
        return str(int(value))
    return repr(float(value)) if kind == "number" else neutralise(str(value))


def datapackage_json(name: str) -> bytes:
    """The description of ``readings.csv`` (Frictionless Tabular Data Package)."""
    told = {
        "profile": "tabular-data-package",
        "name": "-".join(_TITLE.findall(name.lower())) or "history",
        "title": f"Readings of {name}",
        "resources": [
            {
                "name": "readings",
                "path": "readings.csv",
                "profile": "tabular-data-resource",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": {
                    "fields": [
                        {"name": field, "type": kind, "description": words}
                        for field, kind, words in READING_FIELDS
                    ],
                    "missingValues": [""],
                },
            }
        ],
    }
    return orjson.dumps(told, option=orjson.OPT_INDENT_2) + b"\n"


def requirements_txt() -> bytes:
    """The versions with which this was exported, for an environment in which to recalculate."""
    wanted = [
        re.split(r"[ ;<>=!~\[]", line, maxsplit=1)[0]
        for line in metadata.requires("labkit") or ()
        if "extra ==" not in line
    ]
    lines = [f"{name}=={metadata.version(name)}" for name in sorted({"labkit", *wanted})]
    return ("\n".join(lines) + "\n").encode()
