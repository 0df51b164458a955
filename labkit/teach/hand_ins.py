"""Hand-ins come in: each is checked by itself, all are merged at once, odd ones are named."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from labkit.bench import Bench
from labkit.bench.commitments import Opening
from labkit.bench.place import is_address
from labkit.errors import LabkitError, ShareError
from labkit.share.gathering import gather as package_of
from labkit.share.merging import merge
from labkit.share.package import Package, check_package, read_history
from labkit.teach.blanks import changed_locks
from labkit.teach.class_table import class_table, desks_of
from labkit.teach.terms import Terms
from labkit.teach.variants import pseudonym

__all__ = ["Flag", "Gathered", "Source", "flags_of", "gather"]

Source = str | os.PathLike[str] | Bench
"""Where a hand-in comes from: a file, a folder of files, or a desk on a server."""

OWN = (
    "it was made on a copy of the class's own bench, so no desk can be told; its records are "
    "kept. Ask them to open the hand-out with lk.teach.Desk.open(folder, handout=…)"
)
LATE = timedelta(minutes=10)
"""How far a clock may be off before it is said."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Flag:
    """Something odd: which desk (or file), of what sort, in words. Nothing is changed for it."""

    desk: str
    sort: str
    words: str

    def __str__(self) -> str:
        return f"{self.desk}: {self.sort}: {self.words}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """What came in: files taken, records new and known, and what is odd."""

    files: int
    new: int
    known: int
    desks: tuple[str, ...]
    flags: tuple[Flag, ...]

    def __str__(self) -> str:
        lines = [
            f"{_counted(self.files, 'file')} from {_counted(len(self.desks), 'desk')}: "
            f"{_counted(self.new, 'new record')}, "
            f"{self.known} already here"
        ]
        return "\n".join([*lines, *(str(flag) for flag in self.flags)])


def _counted(number: int, word: str) -> str:
    return f"{number} {word if number == 1 else word + 's'}"


def gather(
    bench: Bench,
    terms: Terms,
    what: Source | Iterable[Source],
    now: datetime,
) -> Gathered:
    """Bring hand-ins into the class's bench; the order in which they come does not matter.

    Parameters
    ----------
    bench : Bench
        The class's.
    terms : Terms
    what : path, address, bench, or several of them
        A folder of files (``.eln``), files, or desks on a server.
    now : datetime
        To tell clocks that run ahead.

    Raises
    ------
    ShareError
        No such folder, or nothing in it. A single bad file is flagged and left out.
    """
    packages, flags = _read(_sources(what), terms)
    flags += _said_again(packages)
    flags += [
        Flag(desk=one.name, sort="copied", words=OWN)
        for one in packages
        if one.desk == bench.store.workspace
    ]
    new = known = 0
    if packages:
        done = merge(bench, _united(bench, packages))
        new, known = done.new, done.known
    return Gathered(
        files=len(packages),
        new=new,
        known=known,
        desks=tuple(sorted(set(desks_of(bench, terms).values()))),
        flags=tuple(sorted({*flags, *flags_of(bench, terms, now)})),
    )


def _sources(what: Source | Iterable[Source]) -> list[Path | Bench | str]:
    if isinstance(what, Bench) or is_address(what):
        return [what]  # type: ignore[list-item]
    if isinstance(what, str | os.PathLike):
        folder = Path(what).expanduser()
        found = sorted(folder.glob("*.eln")) if folder.is_dir() else [folder]
        if not found or not folder.exists():
            raise ShareError(
                where=folder.name,
                found="no hand-ins" if folder.exists() else "no such folder",
                allowed="A folder with files that desks handed in (.eln)",
                cause="The files lie elsewhere, or nobody has handed in yet",
                do="Check the folder",
            )
        return list(found)
    return [
        one if isinstance(one, Bench) else str(one) if is_address(one) else Path(one).expanduser()
        for one in what
    ]


def _named(source: Path | Bench | str) -> str:
    """What a file or a desk on a server is called in a flag; no password, no folder."""
    if isinstance(source, Path):
        return source.name
    if isinstance(source, Bench):
        return pseudonym(source.store.workspace)
    address, _, bench = source.partition("?bench=")
    return bench or address.partition("//")[2].partition("@")[0].partition(":")[0] or "bench"


def _handed_over(source: Path | Bench | str) -> Package:
    if isinstance(source, Path):
        return read_history(source)
    if isinstance(source, Bench):
        return package_of(source, name="desk")
    with Bench.open(source) as bench:
        return package_of(bench, name="desk")


@dataclass(frozen=True, slots=True, kw_only=True)
class _HandIn:
    """A file that was checked: whose desk it is, and what it holds."""

    name: str
    desk: str
    package: Package

    @property
    def names(self) -> frozenset[str]:
        return frozenset(self.package.records)


def _read(sources: Sequence[Path | Bench | str], terms: Terms) -> tuple[list[_HandIn], list[Flag]]:
    packages: list[_HandIn] = []
    flags: list[Flag] = []
    for source in sources:
        name = _named(source)
        try:
            package = _handed_over(source)
            checked = check_package(package, {terms.master.id})
        except LabkitError as error:
            flags.append(Flag(desk=name, sort="left out", words=str(error)))
            continue
        if checked.problems:
            flags.append(Flag(desk=name, sort="left out", words=str(checked.problems[0])))
        elif terms.master.id not in package.records:
            words = "it does not start from this class's master; it was left out"
            flags.append(Flag(desk=name, sort="other class", words=words))
        else:
            made = _HandIn(name=name, desk=checked.workspace, package=package)
            packages.append(made)
    return packages, flags


def _said_again(packages: Sequence[_HandIn]) -> list[Flag]:
    """Files that say the same again, and files from copies of one desk that went apart."""
    found: list[Flag] = []
    by_desk: dict[str, list[_HandIn]] = {}
    for one in packages:
        by_desk.setdefault(one.desk, []).append(one)
    for workspace, several in by_desk.items():
        ordered = sorted(several, key=lambda x: (len(x.names), x.name))
        for i, one in enumerate(ordered[:-1]):
            sort, words = _beside(one, ordered[i + 1 :])
            found.append(Flag(desk=pseudonym(workspace), sort=sort, words=words))
    return found


def _beside(one: _HandIn, later: Sequence[_HandIn]) -> tuple[str, str]:
    if any(one.names == other.names for other in later):
        return "duplicate", f"{one.name} holds the same as another file"
    if any(one.names < other.names for other in later):
        return "duplicate", f"{one.name} is an earlier state of another file"
    return "copied", (
        f"{one.name}: another file of this desk has records that this one lacks, and the other "
        "way round; the desk was copied, both are kept"
    )


def _united(bench: Bench, packages: Sequence[_HandIn]) -> Package:
    records: dict[str, bytes] = {}
    openings: dict[str, tuple[Opening, ...]] = {}
    files: dict[str, tuple[str, bytes]] = {}
    for one in packages:
        records |= one.package.records
        openings |= one.package.openings
        files |= one.package.files
    about = {
        "workspace": bench.store.workspace,
        "aliases": {one.desk: pseudonym(one.desk) for one in packages},
    }
    return Package(name="hand-ins", records=records, openings=openings, files=files, about=about)


def flags_of(bench: Bench, terms: Terms, now: datetime) -> list[Flag]:
    """What is odd about what the desks recorded: clocks, units, locked lines, far readings."""
    desks = desks_of(bench, terms)
    flags = [*_clocks(bench, terms, desks, now), *_locks(bench, terms, desks)]
    table = class_table(bench, terms)
    for row in table[table["flag"] != ""].to_dict("records"):
        sort, _, words = str(row["flag"]).partition(": ")
        if not words:
            sort, words = "conditions", str(row["flag"])
        shown = f"trial {row['trial']}, {row['quantity']} {row['typed']} ({row['how']}): {words}"
        flags.append(Flag(desk=str(row["desk"]), sort=sort, words=shown))
    return flags


def _clocks(bench: Bench, terms: Terms, desks: dict[str, str], now: datetime) -> list[Flag]:
    start = datetime.fromisoformat(terms.created)
    flags = []
    for record in (*bench.records("trial"), *bench.records("measurement")):
        desk = desks.get(str(record.body["workspace"]))
        made = datetime.fromisoformat(record.created)
        if desk is None or start - LATE <= made <= now + LATE:
            continue
        when = "before the class was set up" if made < start else "later than now"
        words = f"its clock says {record.created[:16].replace('T', ' ')} UTC, {when}"
        flags.append(Flag(desk=desk, sort="clock", words=words))
    first: dict[str, Flag] = {}
    for flag in sorted(flags):
        first.setdefault(flag.desk, flag)
    return list(first.values())


def _locks(bench: Bench, terms: Terms, desks: dict[str, str]) -> list[Flag]:
    flags = []
    for name in bench.trials()["id"]:
        trial: Any = bench.trial(name)
        desk = desks.get(str(trial.record.body["workspace"]))
        if desk is None:
            continue
        changed = changed_locks(terms.master.formula, trial.formula)
        if changed:
            label = trial.label.split("@")[0]
            words = f"trial {label}: {'; '.join(changed)}"
            flags.append(Flag(desk=desk, sort="locked line", words=words))
    return flags
