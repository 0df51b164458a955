"""One real PostgreSQL for the tests of this folder, and a class on it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from labkit.bench import Bench, server
from labkit.formula import Formula
from tests.postgres import Server, running, wanted

_NUMBER = itertools.count(1)
CREAM = """phase,material,percent
A,Aqua,q.s.
A,Glycerin,5
B,Cetearyl Alcohol,3"""


@dataclass(slots=True)
class School:
    """A class of two learners and their teacher; logins are shared by a whole server."""

    pg: Server
    database: str
    passwords: dict[str, str]
    logins: dict[str, str]

    def address(self, who: str) -> str:
        """How teacher, first or second gets in."""
        login = self.logins[who]
        return self.pg.address(self.database, login, self.passwords[login])

    def open(self, who: str, bench: str = "") -> Bench:
        """The own bench of a person, or that of another."""
        more = f"?bench={self.logins.get(bench, bench)}" if bench else ""
        return Bench.open(self.address(who) + more)

    @property
    def admin(self) -> str:
        """The address of whoever runs the server."""
        return self.pg.address(self.database)


@pytest.fixture(scope="session")
def pg() -> Iterator[Server]:
    with running(wanted()) as started:
        yield started


@pytest.fixture(scope="module")
def school(pg: Server) -> School:
    number = next(_NUMBER)
    made = {who: f"{who}_{number}" for who in ("teacher", "first", "second")}
    database = f"school_{number}"
    server.init(pg.address(database))
    accesses = server.add_class(
        pg.address(database),
        f"autumn_{number}",
        teacher=made["teacher"],
        learners=[made["first"], made["second"]],
    )
    passwords = {one.login: str(one.password) for one in accesses}
    return School(pg, database, passwords, made | {"class": f"autumn_{number}"})


@pytest.fixture
def cream() -> Formula:
    return Formula.parse(CREAM, name="hand cream")
