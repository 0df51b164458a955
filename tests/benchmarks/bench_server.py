"""Thirty writers on one PostgreSQL, beside the same rows without labkit; a server that dies.

    python -m tests.benchmarks.bench_server              # 30 writers, 5 kills
    python -m tests.benchmarks.bench_server 30 40 5      # writers, appends each, kills

The peer writes the same four rows for each trial with psycopg alone, into tables
without any rule or check. Goals on two idle cores: 300 appends/s, p99 1 s, nothing
lost, no row of another seen. A kill is not a power cut.
"""

from __future__ import annotations

import argparse
import os
import time

import psycopg

from labkit.bench import Bench
from tests.postgres import Server, running, wanted
from tests.server.load import Class, Run, chain, kill_server, seat, write_together

_WARM = 8
_TABLES = {
    "record": ("hash", "kind", "schema", "author", "created", "received", "body"),
    "edge": ("child", "parent", "role"),
    "trial_index": ("record", "origin", "label", "name", "note", "created", "author", "parents",
                    "lines"),
    "text_index": ("record", "subject", "words"),
}  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("writers", nargs="?", type=int, default=30)
    parser.add_argument("appends", nargs="?", type=int, default=40)
    parser.add_argument("kills", nargs="?", type=int, default=5)
    asked = parser.parse_args()
    with running(wanted()) as pg:
        people = seat(pg, asked.writers)
        print(f"load of this computer before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
        for number in range(3):
            print(f"labkit, run {number + 1}: {_labkit(people, asked.appends)}")
            print(f"psycopg alone, run {number + 1}: {_peer(pg, people, asked.appends)}")
        print(f"one writer: {write_together(people.addresses[1:2], 200, chain, before=_WARM)}")
        seen = _seen_of_others(people)
        print(f"rows seen across people: {seen}")
        found = kill_server(pg, seat(pg, 8, "kills"), asked.kills)
        print(f"server killed under 8 writers: {found}")
        control = kill_server(pg, seat(pg, 8, "control"), max(3, asked.kills // 2), early=True)
        print(f"control that tells too early: {control}")
    good = not seen and not found.lost and not found.damaged and control.lost > 0
    print("holds" if good else "DOES NOT HOLD")
    raise SystemExit(not good)


def _labkit(people: Class, appends: int) -> Run:
    return write_together(people.addresses[1:], appends, chain, before=_WARM)


def _peer(pg: Server, people: Class, appends: int) -> Run:
    """The same rows by psycopg alone, one durable transaction for each trial."""
    with psycopg.connect(pg.address("load").replace("+psycopg", ""), autocommit=True) as chief:
        for table in _TABLES:
            chief.execute(f"DROP TABLE IF EXISTS plain_{table}")
            chief.execute(f"CREATE TABLE plain_{table} (LIKE {table} INCLUDING DEFAULTS)")
            chief.execute(
                f"ALTER TABLE plain_{table} ADD COLUMN IF NOT EXISTS n bigserial PRIMARY KEY"
            )
            if table == "record":
                chief.execute("ALTER TABLE plain_record DROP COLUMN arrival")
            chief.execute(f"GRANT SELECT, INSERT ON plain_{table} TO load_people")
            chief.execute(f"GRANT USAGE ON SEQUENCE plain_{table}_n_seq TO load_people")
    return write_together(people.addresses[1:], appends, _plain, before=_WARM)


def _plain(bench: Bench, appends: int, times: list[float]) -> None:
    last = bench.trial(f"T{len(bench.trials())}").id
    steps = []
    with psycopg.connect(bench.store.engine.url.set(drivername="postgresql").render_as_string(
        hide_password=False)) as raw:  # fmt: skip
        for table, columns in _TABLES.items():
            names = ", ".join(columns)
            key = "hash" if table == "record" else columns[0]
            query = f"SELECT workspace, {names} FROM {table} WHERE {key} = %s"
            row = raw.execute(query, [last]).fetchone()
            marks = ", ".join(["%s"] * (len(columns) + 1))
            steps.append((f"INSERT INTO plain_{table} (workspace, {names}) VALUES ({marks})", row))
        raw.commit()
        for _ in range(appends):
            start = time.perf_counter()
            for step, row in steps:
                raw.execute(step, row)
            raw.commit()
            times.append(time.perf_counter() - start)


def _seen_of_others(people: Class) -> int:
    seen = 0
    for address in people.addresses[1:]:
        with Bench.open(address) as bench:
            own = bench.store.workspace
        with psycopg.connect(address.replace("+psycopg", "")) as raw:
            for table in _TABLES:
                query = f"SELECT count(*) FROM {table} WHERE workspace <> %s"
                row = raw.execute(query, [own]).fetchone()
                seen += row[0] if row else 0
    return seen


if __name__ == "__main__":
    main()
