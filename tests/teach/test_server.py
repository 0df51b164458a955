"""A class on a real PostgreSQL: desks with logins of their own, gathered and shown live."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

import labkit as lk
from labkit.bench import server
from labkit.teach import Classroom, Desk, master
from tests.postgres import Server, running, wanted
from tests.teach.simulating import GEL, work

pytestmark = pytest.mark.postgres


@pytest.fixture(scope="module")
def pg() -> Iterator[Server]:
    with running(wanted()) as started:
        yield started


def test_desks_on_a_server_come_in_and_the_wall_follows(pg: Server, tmp_path) -> None:
    logins = [f"learner_{i}" for i in range(6)]
    server.init(pg.address("school"))
    given = server.add_class(pg.address("school"), "gels", teacher="teacher", learners=logins)
    words = {one.login: str(one.password) for one in given}

    def address(who: str, bench: str = "") -> str:
        return pg.address("school", who, words[who]) + (f"?bench={bench}" if bench else "")

    with Classroom.open(address("teacher", "gels")) as room:
        room.set_up(master(GEL, {"Xanthan gum": ("0.3 %", "0.8 %")}), title="Gels", measures=["pH"])
        wall = lk.teach.Projector(address("teacher", "gels"))
        assert "0 desks have handed in" in wall.html
        for number, login in enumerate(logins[:5]):
            with Desk.open(address(login), handout=address(login, "gels")) as one:
                work(one, number, off=0.9 if number == 2 else 0)
                assert len(one.bench.trials()) == 2, "the master and the own one, no other"
        found = room.gather([address("teacher", login) for login in logins])
        assert found.files == len(found.desks) == 5
        assert [(f.desk, f.sort) for f in found.flags if f.sort == "left out"] == [
            (logins[5], "left out")
        ]
        assert [f.sort for f in found.flags if f.desk in room.desks()] == ["far"]
        assert "5 desks have handed in" in wall.html
        assert room.bench.verify().ok
        with Desk.open(address(logins[0]), handout=address(logins[0], "gels")) as again:
            assert len(again.bench.trials()) == 2, "a later hand-out brings nobody else's trial"
