"""People, their logins and the benches they sit at, as rows of the server."""

from __future__ import annotations

import secrets
import uuid
from typing import Any

from sqlalchemy import Connection, CursorResult, text

from labkit.bench.connecting import ServedBench
from labkit.errors import StoreError

__all__ = [
    "bench_named",
    "join",
    "name_of",
    "role_there",
    "run",
    "seat",
    "seated",
    "set_password",
    "some_password",
    "taken_seat",
    "wait_for_turn",
]

_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"


def run(raw: Connection, step: str, *values: object) -> CursorResult[Any]:
    """One statement sent as it stands."""
    return raw.exec_driver_sql(step, values or None)


def role_there(raw: Connection, role: str) -> bool:
    """Whether the server has a role of this name."""
    return run(raw, "SELECT 1 FROM pg_roles WHERE rolname = %s", role).fetchone() is not None


def seated(raw: Connection, login: str) -> str | None:
    """The home bench of a login that is known here."""
    row = run(raw, "SELECT home FROM seat WHERE login = %s", login).fetchone()
    return row and str(row[0])


def seat(raw: Connection, people: str, login: str, name: str, bench: str) -> str:
    """Make the login, the person and their seat at a bench; the new password."""
    if role_there(raw, login):
        raise StoreError(
            where=f"Login {login}",
            found="this login is used on this server for something else",
            allowed="A login that is still free on the whole server",
            cause="It belongs to another database, or to whoever runs the server",
            do="Choose another login; nothing was changed",
        )
    password, person = some_password(), str(uuid.uuid4())
    set_password(raw, "CREATE", login, password)
    run(raw, f'GRANT {people} TO "{login}"')
    insert = "INSERT INTO person (id, display_name) VALUES (%s, %s)"
    run(raw, insert, person, name or None)
    home = bench_named(raw, bench)
    insert = "INSERT INTO seat (login, person, home) VALUES (%s, %s, %s)"
    run(raw, insert, login, person, home)
    join(raw, login, home, "write")
    return password


def some_password() -> str:
    """Sixteen letters and digits that cannot be mistaken for each other."""
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(4))


def set_password(raw: Connection, verb: str, login: str, password: str) -> None:
    """The server and its log only ever see the scrambled password."""
    driver: Any = raw.connection.driver_connection
    words = password.encode(), login.encode(), b"scram-sha-256"
    scrambled = driver.pgconn.encrypt_password(*words).decode()
    run(raw, f"{verb} ROLE \"{login}\" LOGIN PASSWORD '{scrambled}'")


def bench_named(raw: Connection, name: str, owned_by: str = "") -> str:
    """The workspace of a bench by its name; a new one where there is none."""
    query = "SELECT workspace FROM bench_list WHERE name = %s"
    if row := run(raw, query, name).fetchone():
        workspace = str(row[0])
        query = "SELECT 1 FROM member WHERE login = %s AND workspace = %s AND role = 'write'"
        if owned_by and run(raw, query, owned_by, workspace).fetchone() is None:
            raise StoreError(
                where=f"Class {name}",
                found="there is a bench of this name already",
                allowed="A name of its own for each class",
                cause="It is the bench of somebody else, or of another teacher's class",
                do="Choose another name for the class; nothing was changed",
            )
        return workspace
    workspace = str(uuid.uuid4())
    run(raw, "INSERT INTO bench_list (workspace, name) VALUES (%s, %s)", workspace, name)
    return workspace


def join(raw: Connection, login: str, workspace: str, role: str) -> None:
    """A place at a bench for a login; nothing where it has one."""
    run(
        raw,
        "INSERT INTO member (login, workspace, role) VALUES (%s, %s, %s) ON CONFLICT DO NOTHING",
        login,
        workspace,
        role,
    )


def name_of(raw: Connection, workspace: str) -> str:
    """What the bench of a workspace is called."""
    row = run(raw, "SELECT name FROM bench_list WHERE workspace = %s", workspace).fetchone()
    assert row is not None
    return str(row[0])


def taken_seat(connection: Connection, served: ServedBench) -> tuple[str, str] | None:
    """Workspace and person of this login; None where a server has no seats.

    Raises
    ------
    StoreError
        The login has no such bench; the same words whether it is there or not.
    """
    if not connection.scalar(text("SELECT to_regprocedure('public.labkit_sit(text)') IS NOT NULL")):
        return None
    query = text("SELECT workspace, person FROM labkit_sit(:bench)")
    row = connection.execute(query, {"bench": served.bench}).one_or_none()
    if row is None:
        raise StoreError(
            where=str(served),
            found="this login has no such bench",
            allowed="Your own bench, or one you were given a seat at: labkit server benches",
            cause="The name behind bench= was mistyped, or the login is of another kind",
            do="Leave bench= away for your own bench, or ask whoever runs the server",
        )
    return row.workspace, row.person


def wait_for_turn(connection: Connection, workspace: str) -> None:
    """One writer at a time in one bench, until the transaction ends."""
    query = "SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))"
    connection.exec_driver_sql(query, (f"labkit {workspace}",))
