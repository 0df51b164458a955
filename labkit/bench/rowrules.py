"""What the database itself holds to on a server, whatever a notebook asks of it.

Guards (every bench on PostgreSQL): what was recorded is never changed; a record
has the name of its content, and kind, author and time stand in it.

Row rules (a server for several people): everything hangs on ``session_user``,
the login by which a connection was opened, which no setting can change. A login
reads the benches it is a member of, adds to those it may write in, in its own
name, and adds notes where it teaches.
"""

from __future__ import annotations

from collections.abc import Iterator

from labkit.bench import layout

__all__ = ["GRANTED", "guards", "row_rules", "seat_tables"]

_KEPT = ("record", "opening", "blob")
_NOTED = {"edge": "child", "text_index": "record"}
_DERIVED = tuple(table.name for table in layout.DERIVED)
GRANTED = (*_KEPT, *_DERIVED, "meta")
"""The tables that people may read and add to."""

_LOOK = """
CREATE OR REPLACE FUNCTION labkit_look() RETURNS trigger LANGUAGE plpgsql
SET search_path = public, pg_temp AS $$
DECLARE told jsonb := convert_from(NEW.body, 'UTF8')::jsonb;
BEGIN
  IF NEW.hash <> encode(sha256(NEW.body), 'hex') THEN
    RAISE EXCEPTION 'the name of a record differs from its content'
      USING ERRCODE = 'check_violation';
  END IF;
  IF NEW.kind <> split_part(coalesce(told->>'schema', ''), '/', 2)
     OR NEW.author <> coalesce(told->>'author', '')
     OR NEW.created <> coalesce(told->>'created', '') THEN
    RAISE EXCEPTION 'kind, author or time beside a record differ from what it says'
      USING ERRCODE = 'check_violation';
  END IF;
  NEW.received := to_char(clock_timestamp() AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.US"Z"');
  RETURN NEW;
END $$"""

_KEEP = """
CREATE OR REPLACE FUNCTION labkit_keep() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'a % is never changed', TG_TABLE_NAME
    USING ERRCODE = 'integrity_constraint_violation';
END $$"""


def guards() -> Iterator[str]:
    """What every bench on PostgreSQL holds to, and the order in which records arrived."""
    yield _LOOK
    yield _KEEP
    yield "ALTER TABLE record ADD COLUMN IF NOT EXISTS arrival bigint GENERATED ALWAYS AS IDENTITY"
    yield "CREATE INDEX IF NOT EXISTS record_arrival ON record (workspace, arrival)"
    yield (
        "CREATE OR REPLACE TRIGGER record_looked_at BEFORE INSERT ON record "
        "FOR EACH ROW EXECUTE FUNCTION labkit_look()"
    )
    for table in _KEPT:
        yield (
            f"CREATE OR REPLACE TRIGGER {table}_keeps BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION labkit_keep()"
        )
        yield (
            f"CREATE OR REPLACE TRIGGER {table}_keeps_all BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION labkit_keep()"
        )
    cleared = "".join(
        f"DELETE FROM {table} WHERE workspace = here "
        f"AND (names IS NULL OR {'child' if table == 'edge' else 'record'} = ANY (names));\n"
        for table in _DERIVED
    )
    yield (
        "CREATE OR REPLACE FUNCTION labkit_forget(here text, names text[]) RETURNS void "
        "LANGUAGE sql SECURITY DEFINER SET search_path = public, pg_temp "
        f"AS $$\n{cleared}$$"
    )


def seat_tables() -> Iterator[str]:
    """Who may sit at which bench; only the owner of the database writes here."""
    yield (
        "CREATE TABLE IF NOT EXISTS bench_list "
        "(workspace varchar(36) PRIMARY KEY, name text NOT NULL UNIQUE)"
    )
    yield (
        "CREATE TABLE IF NOT EXISTS seat (login text PRIMARY KEY, "
        "person varchar(36) NOT NULL UNIQUE REFERENCES person (id), "
        "home varchar(36) NOT NULL REFERENCES bench_list (workspace))"
    )
    yield (
        "CREATE TABLE IF NOT EXISTS member (login text REFERENCES seat (login), "
        "workspace varchar(36) REFERENCES bench_list (workspace), "
        "role text NOT NULL CHECK (role IN ('write', 'teach', 'read')), "
        "PRIMARY KEY (login, workspace))"
    )
    yield (
        "ALTER TABLE meta ADD COLUMN IF NOT EXISTS workspace varchar(36) NOT NULL "
        "DEFAULT coalesce(current_setting('labkit.bench', true), '')"
    )
    yield "ALTER TABLE meta DROP CONSTRAINT IF EXISTS meta_pkey"
    yield "ALTER TABLE meta ADD CONSTRAINT meta_pkey PRIMARY KEY (workspace, key)"


_FUNCTIONS = {
    "labkit_my(roles text[])": """ RETURNS SETOF text LANGUAGE plpgsql STABLE AS $$
BEGIN
  RETURN QUERY SELECT m.workspace::text FROM member m
    WHERE m.login = session_user AND m.role = ANY (roles);
END $$""",
    "labkit_me()": """ RETURNS text LANGUAGE plpgsql STABLE AS $$
BEGIN
  RETURN (SELECT s.person FROM seat s WHERE s.login = session_user);
END $$""",
    "labkit_near()": """ RETURNS SETOF text LANGUAGE sql STABLE AS $$
SELECT labkit_me() UNION SELECT s.person FROM seat s JOIN member m USING (login)
WHERE m.role <> 'read'
  AND m.workspace IN (SELECT workspace FROM member WHERE login = session_user) $$""",
    "labkit_benches()": """ RETURNS TABLE (bench text, role text, workspace text, home boolean)
LANGUAGE sql STABLE AS $$
SELECT b.name, m.role, b.workspace::text, b.workspace = s.home
FROM member m JOIN seat s USING (login) JOIN bench_list b ON b.workspace = m.workspace
WHERE m.login = session_user ORDER BY b.workspace <> s.home, b.name $$""",
    "labkit_sit(wanted text)": """ RETURNS TABLE (workspace text, person text, role text)
LANGUAGE plpgsql VOLATILE AS $$
BEGIN
  RETURN QUERY SELECT b.workspace, labkit_me(), b.role FROM labkit_benches() b
    WHERE CASE WHEN wanted = '' THEN b.home ELSE b.bench = wanted END;
  PERFORM set_config('labkit.bench', b.workspace, false) FROM labkit_benches() b
    WHERE CASE WHEN wanted = '' THEN b.home ELSE b.bench = wanted END;
END $$""",
    "labkit_may_add(here text, name text, sort text, who text, body bytea)": """
RETURNS boolean LANGUAGE plpgsql STABLE AS $$
DECLARE
  origin text := convert_from(body, 'UTF8')::jsonb->>'workspace';
  me text := labkit_me();
  role text := (SELECT m.role FROM member m WHERE m.login = session_user AND m.workspace = here);
BEGIN
  IF role = 'teach' THEN
    RETURN sort = 'note' AND who = me AND origin = here;
  ELSIF role IS DISTINCT FROM 'write' THEN
    RETURN false;
  ELSIF origin IS NULL AND who = '' THEN
    RETURN sort IN ('material', 'formula');
  ELSIF origin = here THEN
    RETURN who = me;
  END IF;
  RETURN EXISTS (SELECT 1 FROM record r WHERE r.hash = name)
    OR NOT EXISTS (SELECT 1 FROM bench_list b WHERE b.workspace = origin)
    AND NOT EXISTS (SELECT 1 FROM seat s WHERE s.person = who AND who <> me);
END $$""",
}
"""Asked by the row rules; each runs as the owner and looks only at ``session_user``.

The last one lets a merged record in: one that came from a bench elsewhere by
people from elsewhere, or one that this login can read on this server already.
Nobody is made the author of what was not recorded by that login.
"""


def row_rules(owner: str, people: str) -> Iterator[str]:
    """Functions, rights and policies; the names of the two roles come quoted."""
    for name, body in _FUNCTIONS.items():
        yield (
            f"CREATE OR REPLACE FUNCTION {name} "
            + body.replace(" AS $$", " SECURITY DEFINER SET search_path = public, pg_temp AS $$", 1)
        )
    for name in (*_FUNCTIONS, "labkit_forget(here text, names text[])"):
        yield f"REVOKE ALL ON FUNCTION {name} FROM PUBLIC"
        yield f"GRANT EXECUTE ON FUNCTION {name} TO {people}"
    for table in GRANTED:
        yield f"GRANT SELECT, INSERT ON {table} TO {people}"
        yield f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY"
        yield f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY"
    yield f"GRANT SELECT ON person TO {people}"
    for table in ("person", "seat", "member", "bench_list"):
        yield f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY"
    for (table, name), rule in _policies(owner).items():
        yield f"DROP POLICY IF EXISTS {name} ON {table}"
        yield f"CREATE POLICY {name} ON {table} {rule}"


def _policies(owner: str) -> dict[tuple[str, str], str]:
    mine = "workspace IN (SELECT labkit_my('{{{}}}'))".format
    every = mine("write,teach,read")
    found: dict[tuple[str, str], str] = {}
    for table in (*_KEPT, *_DERIVED):
        found[table, "reads"] = f"FOR SELECT USING ({every})"
        found[table, "adds"] = f"FOR INSERT WITH CHECK ({mine('write')})"
    found["record", "adds"] = (
        "FOR INSERT WITH CHECK (labkit_may_add(workspace, hash, kind, author, body))"
    )
    for table in _DERIVED:
        found[table, "rebuilds"] = f"FOR DELETE TO {owner} USING ({mine('write')})"
    for table, key in _NOTED.items():
        found[table, "notes"] = (
            f"FOR INSERT WITH CHECK ({mine('teach')} AND EXISTS (SELECT 1 FROM record r "
            f"WHERE r.workspace = {table}.workspace AND r.hash = {table}.{key} "
            "AND r.author = labkit_me()))"
        )
    found["meta", "reads"] = (
        "FOR SELECT USING (workspace = '' OR "
        f"(workspace = current_setting('labkit.bench', true) AND {every}))"
    )
    found["meta", "adds"] = (
        f"FOR INSERT WITH CHECK ({mine('write')} AND key NOT IN ('format', 'workspace', 'author'))"
    )
    found["person", "reads"] = "FOR SELECT USING (id IN (SELECT labkit_near()))"
    return found
