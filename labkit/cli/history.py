"""``labkit export``, ``verify``, ``recalculate``, ``merge``: a history handed over and taken in."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from labkit.bench import Bench
from labkit.bench.verify import Verification
from labkit.share.exporting import export, preview
from labkit.share.gathering import LEFT_OUT, WORDS
from labkit.share.merging import merge
from labkit.share.recalculating import recalculate
from labkit.share.verifying import SharedVerification, verify

__all__ = ["add_commands"]


def add_commands(commands: Any) -> None:
    """``export``, ``verify``, ``recalculate`` and ``merge``."""
    out = commands.add_parser("export", help="write a history as one file for a stranger")
    out.add_argument("file", type=Path, help="the file to write, such as history.eln")
    _bench(out)
    out.add_argument(
        "--open",
        nargs="*",
        default=[],
        choices=sorted(WORDS),
        metavar="WHAT",
        help=f"private things to hand over after all: {', '.join(LEFT_OUT)}",
    )
    out.add_argument("--without-photos", action="store_true", help="leave the photos behind")
    out.add_argument("--trials", nargs="*", metavar="TRIAL", help="only these trials, by label")
    out.add_argument("--licence", help="such as CC-BY-4.0; none: all rights stay with you")
    out.add_argument("--title", help="what the history is called")
    out.add_argument("--preview", action="store_true", help="show it, write nothing")
    out.set_defaults(run=run_export)
    check = commands.add_parser("verify", help="was anything changed? exit 1 if so")
    check.add_argument("file", type=Path, help="a shared history, a folder of it, or a bench file")
    check.add_argument("--expect", metavar="NUMBER", help="the check number you were told")
    check.set_defaults(run=run_verify)
    again = commands.add_parser(
        "recalculate", help="do the forecasts come out again? exit 1 if not"
    )
    again.add_argument("file", type=Path, help="a shared history, a folder of it, or a bench file")
    again.set_defaults(run=run_recalculate)
    take = commands.add_parser("merge", help="bring a history into a bench; exit 1 if some waits")
    take.add_argument("file", type=Path, help="a shared history, or a folder of it")
    _bench(take)
    take.add_argument("--alias", help="what the other bench is called here")
    take.set_defaults(run=run_merge)
    for command in (out, check, again, take):
        command.add_argument("--json", action="store_true", help="write JSON")


def _bench(command: argparse.ArgumentParser) -> None:
    command.add_argument("--bench", default=".", help="bench file, its folder, or a server")


def run_export(asked: argparse.Namespace) -> int:
    """Write a history, or show what would be in it."""
    left = [word for word in LEFT_OUT if word not in asked.open]
    left += ["photos"] if asked.without_photos else []
    with Bench.open(asked.bench, read_only="://" not in asked.bench) as bench:
        if asked.preview:
            seen = preview(bench, left, asked.trials, title=asked.title or asked.file.stem)
            told = {"files": list(seen.files), "left_out": dict(seen.left_out), "text": seen.text}
            _say(asked, told, seen.text)
            return 0
        written = export(
            bench, asked.file, left, asked.trials, title=asked.title, licence=asked.licence
        )
    checked = verify(written)
    assert isinstance(checked, SharedVerification)
    size = f"{written.stat().st_size / 1e6:.1f} MB"
    _say(asked, checked.as_dict() | {"file": str(written)}, f"{written}, {size}\n{checked}")
    return 0 if checked.ok else 1


def run_verify(asked: argparse.Namespace) -> int:
    """Check a history."""
    found = verify(asked.file, expect=asked.expect)
    _say(asked, _verified(found), str(found))
    return 0 if found.ok else 1


def _verified(found: SharedVerification | Verification) -> dict[str, Any]:
    if isinstance(found, SharedVerification):
        return found.as_dict()
    return {
        "ok": found.ok,
        "records": found.records,
        "problems": [{"record": p.record, "what": p.what} for p in found.problems],
    }


def run_recalculate(asked: argparse.Namespace) -> int:
    """Calculate the stored forecasts again."""
    found = recalculate(asked.file)
    _say(asked, found.as_dict(), str(found))
    return 0 if found.ok else 1


def run_merge(asked: argparse.Namespace) -> int:
    """Bring a history into a bench."""
    with Bench.open(asked.bench) as bench:
        found = merge(bench, asked.file, asked.alias)
    _say(asked, found.as_dict(), str(found))
    return 1 if found.held else 0


def _say(asked: argparse.Namespace, told: dict[str, Any], words: str) -> None:
    print(json.dumps(told, ensure_ascii=False, indent=1) if asked.json else words)
