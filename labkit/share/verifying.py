"""Does a shared history hold? In plain words, naming the record."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from html import escape
from importlib import metadata
from pathlib import Path
from typing import Any

from sqlalchemy import select

from labkit.bench import Bench, Problem, Record, Verification, layout
from labkit.bench.history import History
from labkit.bench.verify import Progress
from labkit.share.opening import SharedHistory
from labkit.share.package import (
    Checked,
    Package,
    check_package,
    digest_of,
    files_named,
    kept_back,
    photo_type,
    read_history,
)
from labkit.share.tabular import readings_csv

__all__ = ["SharedVerification", "verify", "verify_package"]

REPORT_TRIALS = 300
"""The most trials for which the report is made anew to be compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedVerification:
    """What holds and what does not, of a history that was handed over.

    ``history`` counts and names the records; ``notes`` say what was kept back or not
    compared. It says that the history is as it was written, not that a product is any good.
    """

    name: str
    history: Verification
    notes: tuple[str, ...]
    digest: str

    @property
    def ok(self) -> bool:
        """Does everything hold?"""
        return self.history.ok

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What does not hold, each with its record."""
        return self.history.problems

    def __str__(self) -> str:
        lines = [f"{self.name}: {'holds' if self.ok else 'does not hold'}", str(self.history)]
        lines += self.notes
        lines.append(f"Check number of the whole: {self.digest}")
        lines.append(
            "This says whether anything was changed or is missing, not whether numbers come "
            "out again (lk.share.recalculate says that), nor whether a product is any good."
        )
        return "\n".join(lines)

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {
            "name": self.name,
            "ok": self.ok,
            "records": self.history.records,
            "files": self.history.files,
            "seals": self.history.seals,
            "closed": self.history.closed,
            "newer": self.history.newer,
            "problems": [{"record": p.record, "what": p.what} for p in self.problems],
            "notes": list(self.notes),
            "check_number": self.digest,
        }

    def _repr_html_(self) -> str:
        mark = "✓ holds" if self.ok else "✗ does not hold"
        return f"<b>{mark}</b><pre>{escape(str(self))}</pre>"


def verify(
    what: History | str | os.PathLike[str],
    *,
    expect: str | None = None,
    progress: Progress | None = None,
) -> SharedVerification | Verification:
    """Check a shared history, a folder of record files, or a bench.

    Parameters
    ----------
    what : path or bench
        A file that labkit exported (``.eln``), a folder, a bench file, or an open bench.
    expect : str, optional
        The check number as it came by another way, such as a printed report: a history
        that was shortened or written anew as a whole does not have it.
    progress : callable, optional
        Called with (records done, records in all), for a bench.

    Returns
    -------
    SharedVerification or Verification
        ``ok``, ``problems``, and plain words when printed.

    Raises
    ------
    ShareError
        The file is no history, is damaged, or was made to do harm.

    Examples
    --------
    >>> from labkit.bench.demo import demo_bench
    >>> with demo_bench(product="Dune") as bench:
    ...     verify(bench).ok
    True
    """
    if isinstance(what, SharedHistory):
        return verify_package(what.package, expect)
    if isinstance(what, History):
        return _of_bench(what, expect, progress)
    file = Path(what).expanduser()
    if file.suffix == ".db" or (file / "bench.db").is_file():
        with Bench.open(file, read_only=True) as bench:
            return _of_bench(bench, expect, progress)
    return verify_package(read_history(file), expect)


def _of_bench(bench: History, expect: str | None, progress: Progress | None) -> Verification:
    found = bench.verify(progress)
    if expect is None:
        return found
    table = layout.record
    with bench.store.reading() as connection:
        names = connection.execute(select(table.c.hash).where(bench.store.here(table))).scalars()
        told = tuple(_unexpected(digest_of(names), expect))
    return replace(found, problems=(*found.problems, *told))


def verify_package(package: Package, expect: str | None = None) -> SharedVerification:
    """Check everything in a package that was read."""
    checked = check_package(package)
    problems = list(checked.problems)
    problems += _incomplete(checked)
    problems += _files(package, checked)
    problems += _seals(package, checked)
    problems += _lists(package)
    digest = digest_of(package.records)
    problems += _counted(package, digest, expect)
    notes: list[str] = []
    if not problems:
        problems, notes = _copies(package, checked)
    labels = {
        name: f"Trial {record.body.get('label', '')}"
        for name, record in checked.records.items()
        if record.kind == "trial"
    }
    known = list(checked.records.values())
    return SharedVerification(
        name=package.name,
        history=Verification(
            records=len(package.records),
            files=len(package.files),
            seals=sum(1 for record in known if record.kind == "seal"),
            closed=sum(_closed(record, package) for record in known),
            newer=sum(1 for record in known if not record.known),
            problems=tuple(
                Problem(record=p.record, what=p.what, label=labels.get(p.record, ""))
                for p in problems
            ),
        ),
        notes=(*_told(package), *notes),
        digest=digest,
    )


def _closed(record: Record, package: Package) -> int:
    shown = {one.pointer for one in package.openings.get(record.id, ())}
    return sum(1 for pointer in record.body.get("private", ()) if pointer not in shown)


def _incomplete(checked: Checked) -> Iterator[Problem]:
    for name, lacks in sorted(checked.held.items()):
        others = ", ".join(lacks[:3]) + (" …" if len(lacks) > 3 else "")
        yield Problem(record=name, what=f"it rests on a record that is missing ({others})")


def _files(package: Package, checked: Checked) -> Iterator[Problem]:
    for sha, (_, content) in package.files.items():
        if hashlib.sha256(content).hexdigest() != sha:
            yield Problem(record=sha, what="the photo or file of this name was changed")
    for record in checked.records.values():
        for sha, sort in files_named(record):
            if sha not in package.files:
                if f"{sort}s" not in package.left_out:
                    yield Problem(record=record.id, what=f"its {sort} is missing ({sha})")
            elif sort == "photo" and photo_type(package.files[sha][1]) is None:
                yield Problem(record=record.id, what="what it names as a photo is none")


def _seals(package: Package, checked: Checked) -> Iterator[Problem]:
    for seal in (r for r in checked.records.values() if r.kind == "seal" and r.known):
        listed = package.files.get(str(seal.body["digest"]), ("", b""))[1]
        names = listed.decode("ascii", "replace").split()
        if len(names) != seal.body["count"]:
            yield Problem(
                record=seal.id,
                what=f"it counts {seal.body['count']} records, its list {len(names)}",
            )
        for name in names:
            if name not in package.records:
                yield Problem(
                    record=name,
                    what="it was here when the history was sealed, and is missing now: the "
                    f"history was shortened ({name})",
                )


def _lists(package: Package) -> Iterator[Problem]:
    """The list of sums against the files."""
    for path, told in package.listed.items():
        found = package.sums.get(path)
        name = path.removeprefix("records/").removesuffix(".json")
        if found is None:
            yield Problem(record=name, what=f"{path} is in the list SHA256SUMS and is missing")
        elif found != told:
            yield Problem(record=name, what=f"{path} differs from the list SHA256SUMS")


def _counted(package: Package, digest: str, expect: str | None) -> Iterator[Problem]:
    told = package.about.get("digest")
    if isinstance(told, str) and told != digest:
        count = package.about.get("records")
        yield Problem(
            record="history.json",
            what=f"{count} records were exported, {len(package.records)} are here, or others",
        )
    if expect is not None:
        yield from _unexpected(digest, expect)


def _unexpected(digest: str, expect: str) -> Iterator[Problem]:
    if expect.strip().casefold() != digest:
        yield Problem(
            record="check number",
            what=f"it is {digest}, expected was {expect.strip()[:80]}: records were added, "
            "left out or replaced since that number was told",
        )


def _copies(package: Package, checked: Checked) -> tuple[list[Problem], list[str]]:
    """The readable copies against the records they were made from."""
    problems: list[Problem] = []
    notes: list[str] = []
    if not package.texts:
        return problems, notes
    software = package.about.get("software")
    same = isinstance(software, Mapping) and software.get("labkit") == metadata.version("labkit")
    if not same:
        return problems, ["report.html and readings.csv were written by another labkit version: "
                          "not compared with the records"]  # fmt: skip
    with SharedHistory(package, checked) as history:
        if package.texts.get("readings.csv") != readings_csv(history):
            problems.append(Problem(record="readings.csv", what="it is not what the records say"))
        trials = sum(1 for record in checked.records.values() if record.kind == "trial")
        if trials > REPORT_TRIALS:
            notes.append("report.html was not compared with the records: too many trials")
        elif (told := package.texts.get("report.html", b"")) != (own := history.report.encode()):
            if _words(told) != _words(own):
                problems.append(
                    Problem(record="report.html", what="it is not what the records say")
                )
            notes.append("report.html looks otherwise than this labkit makes it: only its words "
                         "were compared with the records")  # fmt: skip
    return problems, notes


def _words(page: bytes) -> str:
    """The words of a page, without its look."""
    inside = page.decode("utf-8", "replace").partition("<main")[2].partition("</main>")[0]
    return " ".join(re.sub(r"<[^>]*>", " ", inside).split())


def _told(package: Package) -> Iterator[str]:
    if package.left_out:
        yield f"Kept back by whoever shared it: {kept_back(package.left_out)}."
    if package.partial:
        yield "A selection: other trials of that bench were not shared."
