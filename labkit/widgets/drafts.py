"""Drafts: the last settled states of a sheet, kept outside the history.

One small file for each sheet that is open, beside the bench or in the user's state
folder. A draft that was not recorded is offered when the same formula is opened
again, also after a crash. Drafts are a convenience: where the disk refuses them the
sheet goes on without, and says so.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from labkit.errors import LabkitError
from labkit.formula import Formula

__all__ = ["MOST_STATES", "Draft", "Drafts", "draft_folder"]

MOST_STATES = 20
"""Settled states that one sheet keeps."""
MOST_FILES = 40
"""Drafts that one folder keeps; the oldest go first."""


def draft_folder(bench_file: Path | None = None) -> Path:
    """Where drafts lie: beside the bench file, else in the user's state folder."""
    if bench_file is not None:
        return bench_file.parent / ".labkit-drafts"
    import platformdirs

    return Path(platformdirs.user_state_dir("labkit")) / "drafts"


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A settled state that was not recorded."""

    key: str
    at: str
    words: str
    formula: Formula

    @property
    def offer(self) -> str:
        """The draft as it is offered: "14:32, Glycerin to 6.00 %"."""
        when = datetime.fromisoformat(self.at).strftime("%d %b %H:%M")
        return f"{when} · {self.words}"


class Drafts:
    """The drafts of one open sheet.

    Parameters
    ----------
    folder : Path
        See :func:`draft_folder`.
    opened : Formula
        As the sheet was opened; drafts are offered to sheets that open the same.
    session : str
        A name of its own for this sheet.
    """

    def __init__(self, folder: Path, opened: Formula, session: str) -> None:
        self.folder, self.session = folder, session
        start = f"{opened.name}\n{opened.fingerprint}".encode()
        self.prefix = hashlib.sha256(start).hexdigest()[:16]
        self.problem = ""

    @property
    def path(self) -> Path:
        """The file of this sheet."""
        return self.folder / f"{self.prefix}-{self.session}.json"

    def keep(self, formula: Formula, words: str, now: datetime) -> None:
        """Keep a settled state; only the last ones stay."""
        states = self._states(self.path)
        states.append(
            {
                "at": now.isoformat(timespec="milliseconds"),
                "words": words,
                "formula": formula.as_dict(),
            }
        )
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            fresh = self.path.with_suffix(f".{os.getpid()}.new")
            fresh.write_text(json.dumps(states[-MOST_STATES:], ensure_ascii=False), "utf-8")
            fresh.replace(self.path)
            self._prune()
            self.problem = ""
        except OSError as error:
            self.problem = f"Drafts are not kept: {error.strerror or 'the disk refused'}"

    def clear(self) -> None:
        """Drop this sheet's drafts: its formula was recorded or thrown away."""
        self._drop(self.path)

    def offered(self) -> list[Draft]:
        """The last state of each earlier sheet that opened the same formula, newest first."""
        found = []
        for path in self._files():
            states = self._states(path) if path.name.startswith(self.prefix) else []
            if states and path != self.path and (draft := _read(path.stem, states[-1])):
                found.append(draft)
        return sorted(found, key=lambda d: d.at, reverse=True)

    def states(self, key: str) -> list[Draft]:
        """Every kept state of one draft, oldest first."""
        kept = self._states(self.folder / f"{Path(key).name}.json")
        return [draft for state in kept if (draft := _read(key, state))]

    def discard(self, key: str) -> None:
        """Throw an offered draft away."""
        self._drop(self.folder / f"{Path(key).name}.json")

    def _files(self) -> Iterator[Path]:
        try:
            yield from sorted(self.folder.glob("*.json"))
        except OSError:
            return

    def _states(self, path: Path) -> list[dict[str, Any]]:
        try:
            states = json.loads(path.read_text("utf-8"))
        except (OSError, ValueError):
            return []
        return states if isinstance(states, list) else []

    def _drop(self, path: Path) -> None:
        try:
            path.unlink(missing_ok=True)
        except OSError as error:
            self.problem = f"A draft could not be removed: {error.strerror or 'the disk refused'}"

    def _prune(self) -> None:
        files = sorted(self.folder.glob("*.json"), key=lambda p: p.stat().st_mtime)
        for path in files[:-MOST_FILES]:
            path.unlink(missing_ok=True)


def _read(key: str, state: Any) -> Draft | None:
    try:
        return Draft(
            key=key,
            at=state["at"],
            words=state["words"],
            formula=Formula.from_dict(state["formula"]),
        )
    except (LabkitError, KeyError, TypeError, ValueError, ArithmeticError):
        return None
