"""Thirty people at once, and a server that dies under eight."""

from __future__ import annotations

from collections.abc import Iterator

import psycopg
import pytest

from labkit.bench import Bench
from tests.postgres import Server, running, wanted

from .load import CREAM, chain, kill_server, seat, write_together

pytestmark = [pytest.mark.postgres, pytest.mark.slow]
WRITERS, APPENDS = 30, 5


@pytest.fixture
def own() -> Iterator[Server]:
    with running(wanted()) as started:
        yield started


def test_thirty_people_record_at_once_and_none_sees_another(own: Server) -> None:
    people = seat(own, WRITERS)
    run = write_together(people.addresses[1:], APPENDS, chain)
    assert run.faults == []
    assert len(run.times) == WRITERS * APPENDS
    ids: set[str] = set()
    for address in people.addresses[1:]:
        with Bench.open(address) as bench:
            frame = bench.trials()
            assert set(frame["label"]) == {f"T{n}" for n in range(1, APPENDS + 1)}
            assert set(frame["author"]) == {bench.store.author}
            assert len(bench.lineage(f"T{APPENDS}")) == APPENDS - 1
            assert bench.verify().ok
            ids |= set(frame["id"])
        with psycopg.connect(address.replace("+psycopg", "")) as raw:
            assert raw.execute("SELECT count(*) FROM record").fetchone() == (APPENDS,)
    assert len(ids) == WRITERS * APPENDS
    with psycopg.connect(people.addresses[0].replace("+psycopg", "")) as teacher:
        assert teacher.execute("SELECT count(*) FROM record").fetchone() == (WRITERS * APPENDS,)


def test_many_notebooks_of_one_login_never_use_a_label_twice(own: Server) -> None:
    people = seat(own, 1)
    run = write_together(people.addresses[1:] * 6, 8, chain)
    assert run.faults == []
    with Bench.open(people.addresses[1]) as bench:
        assert set(bench.trials()["label"]) == {f"T{n}" for n in range(1, 49)}
        assert len(bench.heads()) == 6
        assert bench.verify().ok


def test_a_server_that_dies_under_eight_writers_loses_nothing_that_was_told(own: Server) -> None:
    people = seat(own, 8)
    found = kill_server(own, people, 2)
    assert found.kills == 2
    assert found.acknowledged > 16
    assert (found.lost, found.damaged) == (0, 0), found
    with Bench.open(people.addresses[1]) as bench:
        bench.record(CREAM)


def test_a_writer_that_tells_too_early_is_caught_when_the_server_dies(own: Server) -> None:
    found = kill_server(own, seat(own, 8), 3, early=True)
    assert found.lost > 0
    assert found.damaged == 0
