"""The command line: thin doors onto the rooms below."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from labkit.cli import checking, history, papers, server, starting, teaching
from labkit.errors import LabkitError

__all__ = ["main", "parser"]

ROOMS = (starting, checking, papers, history, server, teaching)
"""Each adds its commands; a command returns its exit code."""


def parser() -> argparse.ArgumentParser:
    """All commands with their help."""
    top = argparse.ArgumentParser(
        prog="labkit",
        description="A lab notebook for skin- and hair-care formulas. "
        "Numbers and sources, never a verdict: law, supplier documents, a challenge test and a "
        "qualified safety assessor decide.",
        epilog="Exit codes: 0 done, 1 a check found something, 2 it could not be done.",
    )
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for room in ROOMS:
        room.add_commands(commands)
    return top


def main(words: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    words : sequence of str, optional
        The words after ``labkit``; those of the process without any.

    Returns
    -------
    int
        Exit code: 0 done, 1 a check found something, 2 it could not be done.
    """
    asked = parser().parse_args(words)
    try:
        code: int = asked.run(asked)
    except LabkitError as refusal:
        print(refusal, file=sys.stderr)
        return 2
    except BrokenPipeError:
        return 2
    except OSError as trouble:
        print(f"{trouble.filename or 'File'}: {trouble.strerror or trouble}.", file=sys.stderr)
        return 2
    return code
