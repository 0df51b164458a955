"""A shared history, opened to be read: nothing in it is run, nothing is written beside it."""

from __future__ import annotations

import shutil
import tempfile
import weakref
from html import escape
from pathlib import Path
from types import TracebackType
from typing import Any, Self, overload

from sqlalchemy import insert

from labkit.bench import layout
from labkit.bench.history import History
from labkit.bench.labels import ALIAS
from labkit.bench.store import Store
from labkit.errors import ShareError
from labkit.share.package import (
    Checked,
    Package,
    check_package,
    files_named,
    kept_back,
    photo_type,
    read_history,
)
from labkit.share.rebuilding import Rebuilt, rebuild
from labkit.share.report import report_html
from labkit.tables import shipped

__all__ = ["SharedHistory", "open_history", "opened", "published"]


class SharedHistory(History):
    """Somebody's history, to be looked at: trials, readings, family tree, comparisons.

    Everything that a bench can show it shows too; it cannot be added to. ``left_out`` says
    what was kept back, ``missing`` names records that it lacks; what rests on those is not
    shown.

    Examples
    --------
    >>> from labkit.share import export
    >>> from labkit.bench.demo import demo_bench
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder, demo_bench(product="Dune") as bench:
    ...     with open_history(export(bench, folder + "/dune.eln")) as shared:
    ...         print(shared.trial("GS-01").name, len(shared.trials()))
    Dune gel serum 9
    """

    def __init__(self, package: Package, checked: Checked) -> None:
        self.name, self.package = package.name, package
        self.left_out = dict(package.left_out)
        self.partial = package.partial
        self.missing = checked.missing
        self.held = dict(checked.held)
        folder = tempfile.mkdtemp(prefix="labkit-")
        self._end = weakref.finalize(self, shutil.rmtree, folder, ignore_errors=True)
        super().__init__(_filled(Path(folder), package, checked))

    @property
    def report(self) -> str:
        """The report as one page of HTML, made anew from the records."""
        return report_html(self, self.package, len(self.held))

    def rebuild(self, trial: Any) -> Rebuilt:
        """Formula, materials as used, and brief of a trial, from its records alone."""
        return rebuild(self, trial)

    def person(self, author: str) -> str:
        """The name behind a random id, where it was shared."""
        return self.package.persons.get(author, "")

    def close(self) -> None:
        """Let go of the working copy."""
        self.store.close()
        self._end()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def __str__(self) -> str:
        trials = self.store.count(layout.trial_index)
        lines = [f"{self.name}: {trials} trials, {len(self.package.records)} records, read only"]
        if self.left_out:
            lines.append(f"kept back: {kept_back(self.left_out)}")
        if self.partial:
            lines.append("a selection: other trials of that bench were not shared")
        if self.missing:
            lines.append(
                f"incomplete: {len(self.missing)} records are missing, {len(self.held)} that rest "
                f"on them are not shown: {', '.join(self.missing[:5])}"
            )
        return "\n".join(lines)

    def __repr__(self) -> str:
        return f"<SharedHistory {self}>"

    def _repr_html_(self) -> str:
        return f"<p>{escape(str(self)).replace(chr(10), '<br>')}</p>{super()._repr_html_()}"


def _filled(folder: Path, package: Package, checked: Checked) -> Store:
    store = Store(folder / "shared.db")
    store.workspace = checked.workspace
    sound = checked.records
    files = {sha: sort for record in sound.values() for sha, sort in files_named(record)}
    with store.writing() as writer:
        aliases = {k: v for k, v in package.aliases.items() if k != checked.workspace}
        if aliases:
            rows = [{"key": f"{ALIAS}{k}", "value": v} for k, v in aliases.items()]
            writer.connection.execute(insert(layout.meta), rows)
        if sound:
            openings = {k: v for k, v in package.openings.items() if k in sound}
            writer.take(list(sound.values()), openings)
        for sha, (media_type, content) in package.files.items():
            if sha in files and (files[sha] != "photo" or photo_type(content)):
                writer.keep_file(content, media_type, largest=None)
    return store


def opened(package: Package) -> SharedHistory:
    """A package as a history to be read, if every record in it holds.

    Raises
    ------
    ShareError
        A record differs from its name, or an opening from what was promised.
    """
    checked = check_package(package)
    if checked.problems:
        first = checked.problems[0]
        more = len(checked.problems) - 1
        raise ShareError(
            where=package.name,
            found=f"{first}" + (f" (and {more} more)" if more else ""),
            allowed="Every record as it was recorded",
            cause="Something was changed after it was recorded, or the copy is damaged",
            do="Look at lk.share.verify of this file, and get the history again; "
            "nothing was taken from it",
            problems=tuple(str(problem) for problem in checked.problems),
        )
    return SharedHistory(package, checked)


def open_history(path: str | Path) -> SharedHistory:
    """Open a shared history to read it; nothing in it is run.

    Parameters
    ----------
    path : path
        A file that labkit exported (``.eln``), or a folder of record files.

    Returns
    -------
    SharedHistory

    Raises
    ------
    ShareError
        No such history, made to do harm, damaged, or changed after it was recorded.
    """
    return opened(read_history(Path(path).expanduser()))


@overload
def published(name: None = None) -> list[str]: ...
@overload
def published(name: str) -> Path: ...
def published(name: str | None = None) -> Path | list[str]:
    """A demonstration history that comes with labkit; without a name, what there is.

    Examples
    --------
    >>> published()
    ['dune-gel-serum', 'harbour-hand-cream']
    """
    folder = shipped("shared")
    names = sorted(path.stem for path in folder.glob("*.eln"))
    if name is None:
        return names
    if name not in names:
        raise ShareError(
            where="Published histories",
            found=f"none is called '{name[:60]}'",
            allowed=", ".join(names),
            cause="The name was mistyped",
            do="Choose one of these; your own file is opened by its path",
        )
    return folder / f"{name}.eln"
