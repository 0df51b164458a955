"""A database server for a studio or a class: prepared once, then one login per person.

What people may do is laid down in the database (:mod:`labkit.bench.rowrules`), so
it holds whatever a notebook asks of it. The functions here are for whoever runs
the server.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import URL, Connection

from labkit.bench import layout
from labkit.bench.connecting import server_address, server_engine, told
from labkit.bench.rowrules import guards, row_rules, seat_tables
from labkit.bench.seats import (
    bench_named,
    join,
    name_of,
    role_there,
    run,
    seat,
    seated,
    set_password,
    some_password,
)
from labkit.errors import StoreError

__all__ = [
    "Access",
    "BenchSeat",
    "Prepared",
    "add_class",
    "add_person",
    "benches",
    "init",
    "new_password",
]

_LOGIN = re.compile(r"(?!pg_)[a-z][a-z0-9_]{0,30}")
_MAINTENANCE = "postgres"


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A database that is ready for people."""

    database: str
    address: str
    created: bool
    renewed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """How one person gets in. The password is told once and kept nowhere; None: it stays."""

    login: str
    bench: str
    address: str
    role: str
    password: str | None = None

    def __repr__(self) -> str:
        return f"<Access {self.login}: {self.role} at {self.bench}>"


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSeat:
    """A bench that a login may open, and what it may do there: write, teach or read."""

    bench: str
    role: str
    address: str
    home: bool


def init(address: str) -> Prepared:
    """Make a database ready for a studio or a class; a second time, renew its rules.

    Parameters
    ----------
    address : str
        ``postgresql+psycopg://admin@host/studio``, or only the name of a database on
        this computer. The login must be allowed to make databases and logins. A
        database that is not there yet is made.

    Raises
    ------
    StoreError
        No server, no right to do it, or a database with other things in it.
    """
    url = server_address(address)
    database = _checked(str(url.database or ""), "Database")
    created = _make_database(url, database)
    with _admin(url) as raw:
        owner, people = _roles(raw, database)
        renewed = _has(raw, "seat")
        if not renewed and _has(raw, "meta"):
            raise _taken(database, "the bench of one person")
        if not created and not renewed and _tables(raw):
            raise _taken(database, "tables of another program")
        _open_house(raw, database, owner, people)
        run(raw, f"SET ROLE {owner}")
        if not renewed:
            _lay_out(raw)
        for step in (*guards(), *seat_tables(), *row_rules(owner, people)):
            run(raw, step)
        run(raw, "RESET ROLE")
    return Prepared(database=database, address=_shown(url), created=created, renewed=renewed)


def add_person(
    address: str, login: str, *, name: str = "", bench: str = "", host: str = ""
) -> Access:
    """Give a person a login of their own.

    Parameters
    ----------
    address : str
        As for :func:`init`.
    login : str
        Small letters, digits and underscores.
    name : str
        What those who share a bench with them read; records carry only a random id.
    bench : str
        The bench to sit at, shared by all who are given it; without it a bench of
        their own, called like the login.
    host : str
        How people reach the server, where that differs from ``address``.

    Raises
    ------
    StoreError
        The login is taken, or the server was not prepared.
    """
    url = server_address(address)
    _checked(login, "Login")
    bench = _checked(bench or login, "Bench")
    with _prepared(url) as (raw, people):
        if seated(raw, login):
            raise StoreError(
                where=f"Login {login}",
                found="this person has a login here already",
                allowed="A login that is still free",
                cause="It was added before",
                do="Choose another login; a lost password: labkit server new-password",
            )
        password = seat(raw, people, login, name, bench)
    return _access(url, login, bench, "write", password, host)


def add_class(
    address: str, name: str, *, teacher: str, learners: Sequence[str], host: str = ""
) -> tuple[Access, ...]:
    """Seat a class: every learner has a bench of their own, which the teacher reads and marks.

    The class has a bench of its own too, called ``name``: the teacher writes there
    (master formulas), the learners read it and merge from it. All of it is done, or
    nothing. Those who have a login keep it, and learners may be added later.

    Parameters
    ----------
    address : str
        As for :func:`init`.
    name : str
        Of the class and its bench.
    teacher : str
        Login of the teacher.
    learners : sequence of str
        Their logins.
    host : str
        How people reach the server, where that differs from ``address``.

    Returns
    -------
    tuple of Access
        The teacher first; a password for each login that is new.
    """
    url = server_address(address)
    for login in (teacher, *learners):
        _checked(login, "Login")
    _checked(name, "Class")
    _all_different(name, teacher, learners)
    made = []
    with _prepared(url) as (raw, people):
        word = None if seated(raw, teacher) else seat(raw, people, teacher, "", teacher)
        made.append(_access(url, teacher, teacher, "write", word, host))
        shared = bench_named(raw, name, owned_by=teacher)
        join(raw, teacher, shared, "write")
        for login in learners:
            known = seated(raw, login)
            word = None if known else seat(raw, people, login, "", login)
            home = known or bench_named(raw, login)
            join(raw, teacher, home, "teach")
            join(raw, login, shared, "read")
            made.append(_access(url, login, name_of(raw, home), "write", word, host))
    return tuple(made)


def new_password(address: str, login: str, *, host: str = "") -> Access:
    """Give a person who lost theirs a new password.

    Raises
    ------
    StoreError
        There is no such login on this server.
    """
    url = server_address(address)
    with _prepared(url) as (raw, _):
        home = seated(raw, _checked(login, "Login"))
        if home is None:
            raise StoreError(
                where=f"Login {login}",
                found="no person of this server has this login",
                allowed="A login that was added here",
                cause="It was mistyped, or belongs to another database",
                do="Check the login, or add it with labkit server add-person",
            )
        password = some_password()
        set_password(raw, "ALTER", login, password)
        bench = name_of(raw, home)
    return _access(url, login, bench, "write", password, host)


def benches(address: str) -> tuple[BenchSeat, ...]:
    """The benches that the login of an address may open, its own first.

    Parameters
    ----------
    address : str
        With the login of a person.
    """
    url = server_address(address)
    with _admin(url) as raw:
        _must_be_prepared(raw, url)
        rows = run(raw, "SELECT bench, role, home FROM labkit_benches()").all()
    return tuple(
        BenchSeat(
            bench=bench,
            role=role,
            home=home,
            address=_shown(url if home else url.update_query_dict({"bench": bench})),
        )
        for bench, role, home in map(tuple, rows)
    )


# the database ---------------------------------------------------------------------


@contextlib.contextmanager
def _admin(url: URL, *, alone: bool = False) -> Iterator[Connection]:
    """One transaction; ``alone`` runs each statement by itself, as CREATE DATABASE must."""
    engine = server_engine(url, alone=True)
    if alone:
        engine = engine.execution_options(isolation_level="AUTOCOMMIT")
    with told(_shown(url)), engine.begin() as connection:
        yield connection.execution_options(no_parameters=True)


@contextlib.contextmanager
def _prepared(url: URL) -> Iterator[tuple[Connection, str]]:
    with _admin(url) as raw:
        _must_be_prepared(raw, url)
        run(raw, "SELECT pg_advisory_xact_lock(hashtextextended('labkit server', 0))")
        yield raw, _roles(raw, str(url.database))[1]


def _must_be_prepared(raw: Connection, url: URL) -> None:
    if not _has(raw, "seat"):
        raise StoreError(
            where=_shown(url),
            found="this database was not prepared for several people",
            allowed="A database made ready with labkit server init",
            cause="The name of the database was mistyped, or init was not run yet",
            do="Run labkit server init with the same address",
        )


def _make_database(url: URL, database: str) -> bool:
    with _admin(url.set(database=_MAINTENANCE), alone=True) as raw:
        query = "SELECT 1 FROM pg_database WHERE datname = %s"
        if run(raw, query, database).fetchone():
            return False
        make = f'CREATE DATABASE "{database}" TEMPLATE template0 ENCODING'
        run(raw, f"{make} 'UTF8' LC_COLLATE 'C' LC_CTYPE 'C'")
    return True


def _roles(raw: Connection, database: str) -> tuple[str, str]:
    """The owner and the people of a database, as roles without a login; quoted."""
    names = []
    for part in ("owner", "people"):
        role = f'"{database}_{part}"'
        if not role_there(raw, f"{database}_{part}"):
            run(raw, f"CREATE ROLE {role} NOLOGIN")
        names.append(role)
    return names[0], names[1]


def _open_house(raw: Connection, database: str, owner: str, people: str) -> None:
    for step in (
        f"GRANT {owner} TO CURRENT_USER",
        f'REVOKE ALL ON DATABASE "{database}" FROM PUBLIC',
        f'GRANT CONNECT ON DATABASE "{database}" TO {people}',
        "REVOKE ALL ON SCHEMA public FROM PUBLIC",
        f"GRANT USAGE ON SCHEMA public TO {people}",
        f"GRANT USAGE, CREATE ON SCHEMA public TO {owner}",
    ):
        if step.startswith("GRANT") and "CURRENT_USER" in step and _superuser(raw):
            continue
        run(raw, step)


def _superuser(raw: Connection) -> bool:
    row = run(raw, "SELECT rolsuper FROM pg_roles WHERE rolname = current_user").fetchone()
    return bool(row and row[0])


def _lay_out(raw: Connection) -> None:
    layout.metadata.create_all(raw)
    run(raw, "INSERT INTO meta (key, value) VALUES ('format', %s)", str(layout.FORMAT))


def _has(raw: Connection, table: str) -> bool:
    row = run(raw, "SELECT to_regclass(%s)", f"public.{table}").fetchone()
    return bool(row and row[0])


def _tables(raw: Connection) -> int:
    query = "SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace"
    row = run(raw, query).fetchone()
    return int(row[0]) if row else 0


# answers ------------------------------------------------------------------------


def _access(url: URL, login: str, bench: str, role: str, password: str | None, host: str) -> Access:
    """The address as a person types it: over the network, with their login."""
    socket = url.query.get("host")
    reached = host or url.host or (str(socket) if socket and "/" not in str(socket) else "")
    given = URL.create(
        "postgresql+psycopg",
        username=login,
        host=reached or "localhost",
        port=url.port or _port(url),
        database=url.database,
    )
    address = given.render_as_string(hide_password=False)
    return Access(login=login, bench=bench, role=role, address=address, password=password)


def _port(url: URL) -> int | None:
    port = url.query.get("port")
    return int(port) if isinstance(port, str) and port.isdecimal() else None


def _shown(url: URL) -> str:
    hidden = url.difference_update_query(["password"]) if "password" in url.query else url
    return hidden.set(password=None).render_as_string()


def _checked(word: str, what: str) -> str:
    if _LOGIN.fullmatch(word):
        return word
    raise StoreError(
        where=what,
        found=f"'{word[:40]}'",
        allowed="Small letters a to z, digits and underscores, at most 31, a letter first",
        cause="A full name or an e-mail address was given, or nothing",
        do="Shorten it, as in lena or studio_2; nothing was changed",
    )


def _all_different(name: str, teacher: str, learners: Sequence[str]) -> None:
    names = [name, teacher, *learners]
    if twice := sorted({word for word in names if names.count(word) > 1}):
        raise StoreError(
            where=f"Class {name}",
            found=f"{', '.join(twice)} stands there twice",
            allowed="A login of its own for the teacher and each learner, and none like the class",
            cause="A line of the list was copied",
            do="Correct the list; nothing was changed",
        )


def _taken(database: str, by: str) -> StoreError:
    return StoreError(
        where=f"Database {database}",
        found=f"it holds {by}",
        allowed="A new name, or a database prepared by labkit server init",
        cause="The name was used before for something else",
        do="Choose another name; this database was left as it is",
    )
