"""``labkit server``: a database for a studio or a class, and the logins of its people."""

from __future__ import annotations

import argparse
import csv
import io
import json
import os
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from labkit.bench import server
from labkit.bench.server import Access
from labkit.errors import StoreError

__all__ = ["add_commands"]

_ADDRESS = "postgresql+psycopg://login@host/database, or the name of a database on this computer"


def add_commands(commands: Any) -> None:
    """``server`` with ``init``, ``add-person``, ``add-class``, ``new-password``, ``benches``."""
    told = "one history for a studio or a class, on a PostgreSQL server"
    top = commands.add_parser("server", help=told, description=told)
    steps = top.add_subparsers(dest="step", required=True, metavar="STEP")

    _step(steps, "init", "make a database ready, or renew its rules", run_init)

    person = _step(steps, "add-person", "give a person a login", run_person)
    person.add_argument("login", help="small letters, digits, underscores")
    person.add_argument("--name", default="", help="shown to those who share a bench")
    person.add_argument("--bench", default="", help="a bench to share; otherwise one of their own")

    several = _step(steps, "add-class", "give every learner a bench the teacher reads", run_class)
    several.add_argument("name", help="of the class; its own bench is called so too")
    several.add_argument("--teacher", required=True, help="login of the teacher")
    who = several.add_mutually_exclusive_group(required=True)
    who.add_argument("--learners", type=Path, help="a file with one login per line")
    who.add_argument("--learner", action="append", help="a login; may be given several times")
    who.add_argument("--count", type=int, help="that many learners, called NAME_01, NAME_02 …")

    renewed = _step(steps, "new-password", "a new password for a person", run_password)
    renewed.add_argument("login")
    for command in (person, several, renewed):
        command.add_argument("--host", default="", help="how people reach the server")
        told = "write logins and passwords to a new file only you can read, and print none"
        command.add_argument("--passwords", type=Path, metavar="FILE", help=told)

    _step(steps, "benches", "the benches that the login of an address may open", run_benches)


def _step(steps: Any, name: str, told: str, run: Any) -> argparse.ArgumentParser:
    command: argparse.ArgumentParser = steps.add_parser(name, help=told, description=told)
    command.add_argument("address", help=_ADDRESS)
    command.add_argument("--json", action="store_true", help="write JSON")
    command.set_defaults(run=run)
    return command


def run_init(asked: argparse.Namespace) -> int:
    """Make a database ready."""
    made = server.init(asked.address)
    if asked.json:
        _print(asdict(made))
        return 0
    did = "renewed its rules" if made.renewed else "made ready"
    print(f"Database {made.database}: {did}. Next:")
    print(f"  labkit server add-person {asked.address} LOGIN")
    print(f"  labkit server add-class {asked.address} CLASS --teacher LOGIN --learners FILE")
    return 0


def run_person(asked: argparse.Namespace) -> int:
    """Give a person a login."""
    with _Passwords(asked.passwords) as kept:
        one = server.add_person(
            asked.address, asked.login, name=asked.name, bench=asked.bench, host=asked.host
        )
        return _told([one], asked, kept)


def run_class(asked: argparse.Namespace) -> int:
    """Seat a class."""
    with _Passwords(asked.passwords) as kept:
        several = server.add_class(
            asked.address,
            asked.name,
            teacher=asked.teacher,
            learners=_learners(asked),
            host=asked.host,
        )
        return _told(several, asked, kept)


def run_password(asked: argparse.Namespace) -> int:
    """Give a person a new password."""
    with _Passwords(asked.passwords) as kept:
        return _told(
            [server.new_password(asked.address, asked.login, host=asked.host)], asked, kept
        )


def run_benches(asked: argparse.Namespace) -> int:
    """List what a login may open."""
    found = server.benches(asked.address)
    if asked.json:
        _print([asdict(one) for one in found])
    else:
        for one in found:
            print(f"{one.bench:<24} {one.role:<6} {one.address}")
    return 0


def _learners(asked: argparse.Namespace) -> list[str]:
    if asked.learner:
        return list(asked.learner)
    if asked.learners is not None:
        lines = asked.learners.read_text(encoding="utf-8-sig").splitlines()
        return [line.strip() for line in lines if line.strip()]
    if not 1 <= asked.count <= 500:
        raise StoreError(
            where="--count",
            found=str(asked.count),
            allowed="1 to 500 learners",
            cause="A digit too many, or a minus sign",
            do="Correct the number; nothing was changed",
        )
    return [f"{asked.name}_{number:02d}" for number in range(1, asked.count + 1)]


class _Passwords:
    """A new file that only its owner reads, opened before anything is changed."""

    def __init__(self, file: Path | None) -> None:
        self.file = file
        self._written = False

    def __enter__(self) -> _Passwords:
        if self.file is not None:
            try:
                os.close(os.open(self.file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
            except FileExistsError as error:
                raise StoreError(
                    where=str(self.file),
                    found="there is a file of this name already",
                    allowed="A new file for logins and passwords",
                    cause="It holds the passwords of an earlier step",
                    do="Choose another name; nothing was changed",
                ) from error
        return self

    def write(self, several: Iterable[Access]) -> None:
        """One line for each password."""
        assert self.file is not None
        text = io.StringIO()
        lines = csv.writer(text, lineterminator="\n")
        lines.writerow(("login", "password", "bench", "address"))
        lines.writerows((a.login, a.password, a.bench, a.address) for a in several if a.password)
        self.file.write_text(text.getvalue(), encoding="utf-8")
        self._written = True

    def __exit__(self, *_: object) -> None:
        if self.file is not None and not self._written:
            self.file.unlink(missing_ok=True)


def _told(several: Sequence[Access], asked: argparse.Namespace, kept: _Passwords) -> int:
    if kept.file is not None:
        kept.write(several)
    shown = [asdict(one) for one in several]
    for one in shown:
        if kept.file is not None:
            del one["password"]
    if asked.json:
        _print(shown)
        return 0
    for access in several:
        word = "" if kept.file is not None else access.password or "as before"
        print(f"{access.login:<24} {word:<20} {access.address}")
    if kept.file is not None:
        print(f"Logins and passwords: {kept.file} (only you can read it).")
    elif any(one.password for one in several):
        print("These passwords are told once and kept nowhere: hand each to its person now.")
    print(
        'In a notebook: lk.Bench.open("ADDRESS"); the password goes into ~/.pgpass or PGPASSWORD.'
    )
    return 0


def _print(value: Any) -> None:
    print(json.dumps(value, ensure_ascii=False, indent=1))
