"""Whoever runs the server prepares it once and gives out logins."""

from __future__ import annotations

import json
import re
import stat
from pathlib import Path

import psycopg
import pytest

from labkit.bench import Bench, server
from labkit.cli import main
from labkit.errors import StoreError
from labkit.formula import Formula
from tests.postgres import Server

from .conftest import School

pytestmark = pytest.mark.postgres


def test_a_server_is_prepared_once_and_renewed_without_loss(school: School, cream: Formula) -> None:
    with school.open("first") as bench:
        trial = bench.record(cream)
        again = server.init(school.admin)
        assert (again.created, again.renewed) == (False, True)
        assert school.pg.password not in again.address
        assert bench.trial(trial.id).label == trial.label
        assert bench.verify().ok


def test_a_studio_shares_one_bench_and_each_has_a_name(pg: Server, cream: Formula) -> None:
    address = pg.address("studio")
    server.init(address)
    one = server.add_person(address, "ida", name="Ida", bench="studio")
    two = server.add_person(address, "ole", bench="studio")
    with (
        Bench.open(pg.address("studio", "ida", str(one.password))) as ida,
        Bench.open(pg.address("studio", "ole", str(two.password))) as ole,
    ):
        with Bench.open(pg.address("studio", "ida", str(one.password)), person="Ida") as same:
            assert same.store.author == ida.store.author
        first = ida.record(cream)
        second = ole.record(cream.move("glycerin", "6 %"), parent=first)
        assert [t.label for t in ida.heads()] == [second.label] == ["T2"]
        assert set(ida.trials()["author"]) == {ida.store.author, ole.store.author}
        assert ida.store.author != ole.store.author
        ida.store.author = ole.store.author
        with pytest.raises(StoreError, match="the database did not allow it"):
            ida.record(cream)
    assert [b.bench for b in server.benches(pg.address("studio", "ida", str(one.password)))] == [
        "studio"
    ]


def test_an_administrator_who_may_make_databases_and_logins_is_enough(
    pg: Server, cream: Formula
) -> None:
    with psycopg.connect(pg.address("postgres").replace("+psycopg", ""), autocommit=True) as chief:
        chief.execute("CREATE ROLE keeper LOGIN CREATEDB CREATEROLE PASSWORD 'key'")
    address = pg.address("kept", "keeper", "key")
    assert server.init(address).created
    assert server.init(address).renewed
    made = server.add_class(address, "spring", teacher="mara", learners=["nils"])
    with Bench.open(pg.address("kept", "nils", str(made[1].password))) as nils:
        nils.record(cream)
        nils.reindex()
        assert nils.verify().ok
    with psycopg.connect(address.replace("+psycopg", "")) as keeper:
        assert keeper.execute("SELECT count(*) FROM record").fetchone() == (0,)


def test_learners_who_come_later_are_added_and_the_others_stay(school: School) -> None:
    more = server.add_class(
        school.admin,
        school.logins["class"],
        teacher=school.logins["teacher"],
        learners=[school.logins["first"], "later"],
    )
    assert [one.password is None for one in more] == [True, True, False]
    seen = {b.bench: b.role for b in server.benches(school.address("teacher"))}
    assert seen["later"] == "teach"
    assert seen[school.logins["class"]] == "write"
    with school.open("first"):
        pass


def test_a_class_is_seated_whole_or_not_at_all(school: School) -> None:
    with pytest.raises(StoreError, match="used on this server for something else"):
        server.add_class(school.admin, "winter", teacher="eva", learners=["uli", "chief"])
    with pytest.raises(StoreError, match="no person of this server has this login"):
        server.new_password(school.admin, "uli")
    with pytest.raises(StoreError, match="stands there twice"):
        server.add_class(school.admin, "winter", teacher="eva", learners=["uli", "uli"])
    with pytest.raises(StoreError, match="there is a bench of this name already"):
        server.add_class(
            school.admin, school.logins["first"], teacher=school.logins["teacher"], learners=["uli"]
        )


def test_a_new_password_opens_and_the_old_one_no_more(school: School) -> None:
    login = school.logins["second"]
    old = school.address("second")
    fresh = server.new_password(school.admin, login)
    with Bench.open(school.pg.address(school.database, login, str(fresh.password))):
        pass
    with pytest.raises(StoreError, match="does not let this login in"):
        Bench.open(old)
    school.passwords[login] = str(fresh.password)


def test_no_password_stands_in_the_log_of_the_server(school: School) -> None:
    with psycopg.connect(school.admin.replace("+psycopg", ""), autocommit=True) as chief:
        chief.execute("ALTER SYSTEM SET log_statement = 'all'")
        chief.execute("SELECT pg_reload_conf()")
        made = server.add_person(school.admin, "quiet")
        chief.execute("ALTER SYSTEM RESET log_statement")
        chief.execute("SELECT pg_reload_conf()")
    log = (school.pg.folder / "log").read_text(encoding="utf-8", errors="replace")
    assert 'CREATE ROLE "quiet"' in log
    assert str(made.password) not in log


@pytest.mark.parametrize("login", ["", "Lena", "lena meier", "pg_lena", "x" * 32, 'a"; DROP', "ü"])
def test_a_login_of_other_signs_is_refused_in_words(school: School, login: str) -> None:
    with pytest.raises(StoreError, match="Small letters a to z"):
        server.add_person(school.admin, login)


def test_a_database_with_other_things_in_it_is_left_as_it_is(pg: Server, cream: Formula) -> None:
    with psycopg.connect(pg.address("postgres").replace("+psycopg", ""), autocommit=True) as chief:
        chief.execute("CREATE DATABASE shop")
        chief.execute("CREATE DATABASE one")
    with psycopg.connect(pg.address("shop").replace("+psycopg", "")) as shop:
        shop.execute("CREATE TABLE goods (id int)")
    with pytest.raises(StoreError, match="it holds tables of another program"):
        server.init(pg.address("shop"))
    with Bench.open(pg.address("one")) as bench:
        bench.record(cream)
    with pytest.raises(StoreError, match="it holds the bench of one person"):
        server.init(pg.address("one"))
    with pytest.raises(StoreError, match="was not prepared for several people"):
        server.add_person(pg.address("one"), "nina")


def test_a_person_cannot_give_out_logins(school: School) -> None:
    with pytest.raises(StoreError, match="the database did not allow it"):
        server.add_person(school.address("first"), "friend")
    with pytest.raises(StoreError, match="already"):
        server.add_person(school.admin, school.logins["first"])


# the command -------------------------------------------------------------------------


def test_the_command_seats_a_class_and_keeps_passwords_in_a_file_of_ones_own(
    pg: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str], cream: Formula
) -> None:
    address, kept = pg.address("evening"), tmp_path / "passwords.csv"
    assert main(["server", "init", address]) == 0
    assert "Database evening: made ready" in capsys.readouterr().out
    names = tmp_path / "learners.txt"
    names.write_text("pia\nleo\n\n", encoding="utf-8")
    words = ["server", "add-class", address, "evening_class", "--teacher", "rosa"]
    assert main([*words, "--learners", str(names), "--passwords", str(kept)]) == 0
    said = capsys.readouterr().out
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    lines = kept.read_text(encoding="utf-8").splitlines()
    assert [line.split(",")[0] for line in lines] == ["login", "rosa", "pia", "leo"]
    passwords = [line.split(",")[1] for line in lines[1:]]
    assert not any(password in said for password in passwords)
    assert main([*words, "--learner", "max", "--passwords", str(kept)]) == 2
    assert "a file of this name already" in capsys.readouterr().err
    with Bench.open(pg.address("evening", "pia", passwords[1])) as bench:
        bench.record(cream)


def test_the_command_tells_passwords_once_or_as_json(
    school: School, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["server", "add-person", school.admin, "vera", "--name", "Vera"]) == 0
    said = capsys.readouterr().out
    assert re.search(r"vera +([a-z0-9]{4}-){3}[a-z0-9]{4} ", said)
    assert "told once" in said
    assert school.pg.password not in said
    assert main(["server", "new-password", school.admin, "vera", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    address = school.pg.address(school.database, "vera", told[0]["password"])
    assert main(["server", "benches", address]) == 0
    assert "vera" in capsys.readouterr().out
    assert main(["server", "benches", address, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)[0]["role"] == "write"
    assert main(["server", "init", school.admin, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["renewed"] is True


def test_the_command_tells_what_is_wrong_and_leaves_no_empty_file(
    school: School, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "p.csv"
    words = ["server", "add-class", school.admin, "big", "--teacher", "t", "--count"]
    assert main([*words, "0", "--passwords", str(kept)]) == 2
    assert "1 to 500 learners" in capsys.readouterr().err
    assert not kept.exists()
    assert main([*words, "2"]) == 0
    assert "big_02" in capsys.readouterr().out
    assert main(["server", "init", "postgresql+psycopg://x@127.0.0.1:1/y"]) == 2
    assert "does not answer" in capsys.readouterr().err
