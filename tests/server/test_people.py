"""What the database refuses, whatever a person writes past labkit.

Each case speaks to the database as a learner could: with their own login and any
SQL they like. srv-01, srv-02 and srv-04 are cases of the list of hostile inputs.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from psycopg import errors, sql

from labkit import share
from labkit.bench import Bench, Record
from labkit.bench.records import make
from labkit.bench.rowrules import GRANTED
from labkit.errors import RecordError, StoreError
from labkit.formula import Formula

from .conftest import School

pytestmark = pytest.mark.postgres
ABSENT = "0" * 64
WORKSPACED = [table for table in GRANTED if table != "meta"]
Raw = psycopg.Connection[Any]


@pytest.fixture
def raw(school: School) -> Iterator[Raw]:
    """The first learner's own connection, without labkit."""
    with psycopg.connect(school.address("first").replace("+psycopg", ""), autocommit=True) as one:
        yield one


@pytest.fixture
def first(school: School) -> Iterator[Bench]:
    with school.open("first") as bench:
        yield bench


@pytest.fixture
def second(school: School, cream: Formula) -> Iterator[Bench]:
    with school.open("second") as bench:
        trial = bench.record(cream, note="mine alone", private=["/note"])
        bench.measure(trial, "pH", 5.31)
        yield bench


def put(raw: Raw, bench: Bench, record: Record, **other: str) -> None:
    row = {
        "workspace": bench.store.workspace,
        "hash": record.id,
        "kind": record.kind,
        "schema": str(record.body["schema"]),
        "author": str(record.body.get("author", "")),
        "created": record.created,
        "received": record.created,
        "body": record.raw,
    } | other
    raw.execute(
        "INSERT INTO record (workspace, hash, kind, schema, author, created, received, body) VALUES"
        " (%(workspace)s, %(hash)s, %(kind)s, %(schema)s, %(author)s, %(created)s, %(received)s,"
        " %(body)s)",
        row,
    )


def note(workspace: str, author: str, about: str = ABSENT, text: str = "well done") -> Record:
    header = {"workspace": workspace, "author": author, "created": "2026-11-24T09:00:00Z"}
    return make("note", header | {"parents": [], "about": [about], "text": text})


def count(raw: Raw, table: str) -> int:
    query = sql.SQL("SELECT count(*) FROM {}").format(sql.Identifier(table))
    row = raw.execute(query).fetchone()
    assert row is not None
    return int(row[0])


# seeing -----------------------------------------------------------------------------


def test_srv_01_the_record_of_another_is_not_found_like_one_that_does_not_exist(
    first: Bench, second: Bench, raw: Raw
) -> None:
    theirs = second.trial("T1").id
    answers = []
    for name in (theirs, ABSENT):
        with pytest.raises(RecordError) as refused:
            first.store.get(name)
        answers.append(str(refused.value).replace(name[:12], "…"))
        assert first.store.records([name]) == []
        query = "SELECT * FROM record WHERE hash = %s"
        assert raw.execute(query, [name]).fetchall() == []
    assert answers[0] == answers[1]


@pytest.mark.parametrize("table", WORKSPACED)
def test_no_row_of_another_is_seen_in_any_table(
    school: School, first: Bench, second: Bench, raw: Raw, table: str
) -> None:
    second.photo("T1", _dot())
    of_others = sql.SQL("SELECT count(*) FROM {} WHERE workspace <> %s").format(
        sql.Identifier(table)
    )
    assert raw.execute(of_others, [first.store.workspace]).fetchone() == (0,)
    with psycopg.connect(school.admin.replace("+psycopg", "")) as chief:
        assert chief.execute(of_others, [first.store.workspace]).fetchone() != (0,)


def _dot() -> bytes:
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.new("L", (2, 2)).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize(
    "attempt",
    [
        "SET labkit.bench = '{workspace}'",
        "SET labkit.login = '{teacher}'",
        "SET application_name = '{teacher}'",
        'SET SESSION AUTHORIZATION "{teacher}"',
        'SET ROLE "{teacher}"',
        'SET ROLE "{database}_owner"',
        "SET row_security = off",
        "SET search_path = pg_temp, public",
        "SELECT labkit_sit('{second}')",
        "SELECT set_config('session_user', '{teacher}', false)",
        "CREATE TEMPORARY TABLE member AS SELECT '{first}' AS login, '{workspace}' AS workspace",
        "CREATE FUNCTION labkit_my(text[]) RETURNS SETOF text LANGUAGE sql AS 'SELECT 1'",
        "UPDATE member SET role = 'teach'",
        "INSERT INTO member VALUES ('{first}', '{workspace}', 'teach')",
        "DROP POLICY reads ON record",
        "ALTER TABLE record DISABLE ROW LEVEL SECURITY",
        'ALTER ROLE "{first}" BYPASSRLS',
        'GRANT "{database}_owner" TO "{first}"',
    ],
)
def test_srv_02_no_setting_and_no_trick_shows_more(
    school: School, second: Bench, raw: Raw, attempt: str
) -> None:
    before = count(raw, "record")
    known = school.logins | {"database": school.database, "workspace": second.store.workspace}
    try:
        raw.execute(attempt.format(**known))
    except psycopg.Error:
        raw.rollback()
    try:
        seen = count(raw, "record")
    except errors.InsufficientPrivilege:
        return
    assert seen == before
    query = "SELECT 1 FROM record WHERE workspace = %s"
    assert raw.execute(query, [second.store.workspace]).fetchall() == []


@pytest.mark.parametrize("table", ["seat", "member", "bench_list", "pg_authid"])
def test_the_list_of_people_is_not_theirs_to_read(raw: Raw, table: str) -> None:
    with pytest.raises(errors.InsufficientPrivilege):
        count(raw, table)


def test_a_learner_reads_the_names_of_their_teacher_and_no_other(
    school: School, first: Bench, raw: Raw
) -> None:
    with school.open("teacher") as teacher:
        seen = {row[0] for row in raw.execute("SELECT id FROM person")}
        assert seen == {first.store.author, teacher.store.author}


def test_the_bench_of_another_opens_like_one_that_does_not_exist(school: School) -> None:
    answers = []
    for name in (school.logins["second"], "nowhere"):
        with pytest.raises(StoreError, match="this login has no such bench") as refused:
            Bench.open(f"{school.address('first')}?bench={name}")
        answers.append(str(refused.value).replace(name, "…"))
    assert answers[0] == answers[1]


# adding -----------------------------------------------------------------------------


def test_srv_04_a_record_in_the_name_of_another_is_refused_by_the_database(
    first: Bench, second: Bench, raw: Raw
) -> None:
    theirs, own = second.store.author, first.store.workspace
    for origin in (own, second.store.workspace, str(uuid.uuid4())):
        with pytest.raises(errors.InsufficientPrivilege, match="row-level security"):
            put(raw, first, note(origin, theirs))
    with pytest.raises(errors.CheckViolation, match="differ from what it says"):
        put(raw, first, note(own, theirs), author=first.store.author)
    assert theirs not in set(first.trials()["author"])
    first.store.author = theirs
    with pytest.raises(StoreError, match="the database did not allow it"):
        first.add("sample", {"name": "jar", "sort": "bought"})


def test_the_name_of_the_teacher_cannot_be_borrowed_for_a_mark(
    school: School, first: Bench, raw: Raw, cream: Formula
) -> None:
    trial = first.record(cream)
    with school.open("teacher") as teacher:
        mark = note(first.store.workspace, teacher.store.author, trial.id, "pass")
    with pytest.raises(errors.InsufficientPrivilege):
        put(raw, first, mark)


def test_an_author_from_nowhere_is_refused_in_ones_own_bench(first: Bench, raw: Raw) -> None:
    with pytest.raises(errors.InsufficientPrivilege):
        put(raw, first, note(first.store.workspace, str(uuid.uuid4())))
    nameless = b'{"schema":"labkit/note/1"}'
    name, body = hashlib.sha256(nameless).hexdigest(), {"schema": "labkit/note/1"}
    with pytest.raises(errors.InsufficientPrivilege):
        put(raw, first, Record(name, "note", True, body, nameless))


@pytest.mark.parametrize("table", WORKSPACED)
def test_nothing_is_added_to_the_bench_of_another(
    first: Bench, second: Bench, raw: Raw, table: str
) -> None:
    columns = raw.execute(
        "SELECT column_name, data_type FROM information_schema.columns "
        "WHERE table_name = %s AND is_identity = 'NO'",
        [table],
    ).fetchall()
    fill: dict[str, object] = {"integer": 1, "bytea": b"x", "double precision": 1.0}
    row = {name: fill.get(sort, "x") for name, sort in columns}
    row["workspace"] = second.store.workspace
    if table == "record":
        with pytest.raises(errors.InsufficientPrivilege):
            put(raw, second, note(second.store.workspace, first.store.author))
        return
    step = sql.SQL("INSERT INTO {} ({}) VALUES ({})").format(
        sql.Identifier(table),
        sql.SQL(",").join(map(sql.Identifier, row)),
        sql.SQL(",").join(map(sql.Placeholder, row)),
    )
    with pytest.raises(errors.InsufficientPrivilege):
        raw.execute(step, row)


def test_adding_what_another_holds_already_tells_nothing(first: Bench, second: Bench) -> None:
    body = {"material": {"name": "glycerin", "lot": str(uuid.uuid4())}}
    theirs = second.add("material", body)
    mine = first.add("material", body)
    assert mine.id == theirs.id


def test_copying_the_record_of_another_gives_the_same_answer_as_an_invented_one(
    first: Bench, second: Bench, raw: Raw
) -> None:
    real = second.store.get(second.trial("T1").id)
    invented = note(second.store.workspace, second.store.author)
    answers = []
    for record in (real, invented):
        with pytest.raises(errors.InsufficientPrivilege) as refused:
            put(raw, first, record)
        answers.append(str(refused.value))
    assert answers[0] == answers[1]


@pytest.mark.parametrize("table", GRANTED)
@pytest.mark.parametrize("verb", ["UPDATE {} SET workspace = workspace", "DELETE FROM {}",
                                  "TRUNCATE {}", "DROP TABLE {}"])  # fmt: skip
def test_nothing_is_changed_or_removed(first: Bench, raw: Raw, table: str, verb: str) -> None:
    with pytest.raises(errors.InsufficientPrivilege):
        raw.execute(sql.SQL(verb).format(sql.Identifier(table)))


def test_even_the_administrator_changes_no_record_in_passing(
    school: School, first: Bench, cream: Formula
) -> None:
    first.record(cream)
    with psycopg.connect(school.admin.replace("+psycopg", ""), autocommit=True) as chief:
        for verb in (
            "UPDATE record SET author = 'x'",
            "DELETE FROM record",
            "TRUNCATE record CASCADE",
        ):
            with pytest.raises(errors.IntegrityConstraintViolation, match="never changed"):
                chief.execute(verb)


def test_a_record_whose_name_is_not_its_content_is_refused(first: Bench, raw: Raw) -> None:
    own = note(first.store.workspace, first.store.author)
    with pytest.raises(errors.CheckViolation, match="differs from its content"):
        put(raw, first, own, hash=ABSENT)


def test_txt_03_a_hidden_nul_is_refused_by_the_database_too(first: Bench, raw: Raw) -> None:
    fair = note(first.store.workspace, first.store.author)
    raw_body = fair.raw.replace(b"well done", b"well\\u0000done")
    name = hashlib.sha256(raw_body).hexdigest()
    with pytest.raises(errors.UntranslatableCharacter):
        put(raw, first, Record(name, "note", True, fair.body, raw_body))


def test_when_a_record_arrived_is_told_by_the_server(
    first: Bench, raw: Raw, cream: Formula
) -> None:
    trial = first.record(cream)
    own = note(first.store.workspace, first.store.author, trial.id)
    put(raw, first, own, received="1999-01-01T00:00:00Z")
    query = "SELECT received FROM record WHERE hash = %s"
    row = raw.execute(query, [own.id]).fetchone()
    assert row is not None
    assert row[0] > "2020"


def test_the_alias_of_a_bench_is_seen_in_one_bench_only(
    school: School, cream: Formula, tmp_path: Any
) -> None:
    with Bench.open(tmp_path) as home, school.open("first") as first, school.open("second") as two:
        trial = home.record(cream)
        share.merge(first, home, alias="kitchen")
        share.merge(two, home, alias="cellar")
        assert first.trial(trial.id).label == "T1@kitchen"
        assert two.trial(trial.id).label == "T1@cellar"


# teaching ---------------------------------------------------------------------------


def test_a_teacher_reads_and_marks_and_does_nothing_else(school: School, cream: Formula) -> None:
    with school.open("first") as first, school.open("teacher", "first") as reading:
        trial = first.record(cream, note="please look")
        assert reading.trial(trial.id).label == trial.label
        mark = reading.note(trial, "well emulsified", tags=["mark"])
        assert mark.id in {r.id for r in first.records("note", about=trial)}
        assert [r.id for r in first.search("well emulsified")] == [mark.id]
        for refused in (
            lambda: reading.record(cream),
            lambda: reading.measure(trial, "pH", 5.3),
            lambda: reading.withdraw(trial, reason="no"),
            lambda: reading.amend(mark, "/text", "better", reason="no"),
            lambda: reading.seal(),
            lambda: reading.photo(trial, _dot()),
        ):
            with pytest.raises(StoreError, match="the database did not allow it"):
                refused()
        first.reindex()
        assert first.verify().ok
        assert reading.verify().ok


def test_a_class_merges_the_master_formula_of_its_teacher(school: School, cream: Formula) -> None:
    with school.open("teacher", "class") as master, school.open("first") as first:
        trial = master.record(cream, note="master")
        with school.open("first", "class") as shown:
            with pytest.raises(StoreError, match="did not allow"):
                shown.note(trial, "mine now")
            assert share.merge(first, shown, alias="class").new >= 1
        own = first.record(cream.move("glycerin", "6 %"), parent=trial.id)
        assert [t.id for t in first.lineage(own)] == [trial.id]
        assert first.verify().ok


def test_a_teacher_merges_what_the_learners_handed_in(school: School, cream: Formula) -> None:
    with school.open("first") as one, school.open("second") as two, school.open("teacher") as own:
        handed = [one.record(cream), two.record(cream)]
        for who, name in (("first", "one"), ("second", "two")):
            with school.open("teacher", who) as theirs:
                share.merge(own, theirs, alias=name)
        assert {t.id for t in handed} <= set(own.trials()["id"])
        assert own.verify().ok


def test_a_name_that_is_not_the_logins_own_is_refused(school: School) -> None:
    with pytest.raises(StoreError, match="each records under a login of their own"):
        Bench.open(school.address("first"), person="somebody else")
