"""Questions in SQL: the views and what they hold, and that nothing else of the file is read by any way that SQL has."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from fieldlog.errors import QueryRefused
from fieldlog.query import asking
from fieldlog.query.views import views_of
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.records.fields import Text
from fieldlog.records.kind import Kind, Record
from fieldlog.store import read_only
from tests.exports.conftest import BAR, HOSTILE, SPIT, shore_folder  # noqa: F401

BOMB = "WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM t)"


@pytest.fixture
def path(shore_folder: Path) -> Path:  # noqa: F811
    return shore_folder / "fieldlog.sqlite"


def answer(path: Path, sql: str) -> list[tuple[object, ...]]:
    with asking.asked(path, CATALOGUE, sql) as said:
        return list(said.rows)


def refusal(path: Path, sql: str) -> str:
    with pytest.raises(QueryRefused) as refused:
        answer(path, sql)
    return refused.value.sentence


def names_in(path: Path) -> list[str]:
    with closing(read_only(path)) as conn:
        return [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type IN ('table', 'view') ORDER BY name")]


def columns_in(path: Path, table: str) -> list[str]:
    with closing(read_only(path)) as conn:
        return [row[1] for row in conn.execute(f'PRAGMA table_info("{table}")')]


def test_the_open_kinds_have_a_view_each_and_people_and_what_is_private_none() -> None:
    names = [view.name for view in views_of(CATALOGUE)]
    assert {"checks", "positions", "sightings", "visits", "units", "rows", "marks", "plots", "sign_ins", "flags", "events", "people_photos"} <= set(names)
    open_kinds = {kind.plural for kind in CATALOGUE.kinds.values() if kind.privacy == "open"}
    lists = {f"{kind.name}_{field}" for kind in CATALOGUE.kinds.values() if kind.privacy == "open" for field in kind.lists}
    assert set(names) == open_kinds | lists | {"visits", "sign_ins", "preparations", "people_photos", "flags"}
    assert "visit_plan_planned_stops" in lists
    assert len(set(names)) == len(names)


def test_a_kind_to_come_has_its_view() -> None:
    class Shell(Record):
        shell_note = Text("Shell", 40)

    open_one, closed = Kind("shell", "Shell", Shell, writers={"crew"}), Kind("secret", "Secret", Shell, writers={"crew"}, privacy="crew")
    names = [view.name for view in views_of(Catalogue([*CATALOGUE.kinds.values(), open_one, closed]))]
    assert "shells" in names
    assert "secrets" not in names


def test_a_check_is_told_with_tag_row_both_clocks_and_its_observers_number(path: Path) -> None:
    columns = "site_name, unit_tag, unit_row, checked_at, checked_at_local, exposed_height_mm, tilt_deg"
    assert answer(path, f"SELECT {columns} FROM checks WHERE note = '@SUM(A1)'") == [
        ("Alder Spit", "A018", "A", "2026-06-14T03:12:00.000Z", "2026-06-13T23:12:00-04:00", 225.75, 20.0)
    ]
    assert answer(path, "SELECT species_name, count, near_unit_tag, near_unit_row, seen_at_local FROM sightings") == [
        ("Eastern oyster", 3, "A018", "A", "2026-06-14T23:30:00-04:00")
    ]
    assert answer(path, "SELECT of_name, of_row, east_m FROM positions") == [("A018", "A", 3.01)]
    assert answer(path, "SELECT count(*), count(DISTINCT observer_number) FROM checks WHERE observer_number IN (1, 2)") == [(len(HOSTILE), 1)]


def test_what_was_removed_is_in_no_view(path: Path) -> None:
    assert answer(path, "SELECT count(*) FROM checks WHERE note LIKE 'removed%'") == [(0,)]
    assert answer(path, "SELECT count(*) FROM checks") == [(len(HOSTILE) + 1,)]


def test_words_beside_an_id_bind_within_one_site(path: Path) -> None:
    """A check of another site that names this unit has neither its tag nor its row."""
    found = answer(path, "SELECT DISTINCT site_id, unit_tag, unit_row FROM checks")
    assert sorted(found, key=str) == sorted([(BAR, None, None), (SPIT, "A018", "A")], key=str)


def test_no_view_says_a_persons_name_id_or_contact(path: Path) -> None:
    with closing(read_only(path)) as conn:
        told = [value for row in conn.execute("SELECT record_id, display_name FROM person") for value in row]
    told += ["555 0100", "Asthma"]
    for view in views_of(CATALOGUE):
        text = repr(answer(path, f'SELECT * FROM "{view.name}"'))
        assert [value for value in told if value in text] == [], view.name
    assert answer(path, "SELECT DISTINCT person_number FROM sign_ins") == answer(path, "SELECT DISTINCT leader_number FROM visits")


def test_the_rows_of_a_questions_own_table_may_be_counted_also_where_it_reads_itself(path: Path) -> None:
    three = "WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c WHERE n < 3)"
    assert answer(path, f"{three} SELECT count(*) FROM c") == [(3,)]
    assert answer(path, "WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT 2 FROM c LIMIT 3) SELECT 1 FROM c") == [(1,)] * 3
    assert answer(path, "WITH mine AS (SELECT tag FROM units) SELECT count(*) FROM mine") == answer(path, "SELECT count(*) FROM units")
    for name in ("log", "LOG", "json_each", "pragma_module_list", "sqlite_schema", "unit_check"):
        assert "is not open to questions" in refusal(path, f"SELECT count(*) FROM {name}")
        assert "is not open to questions" in refusal(path, f"WITH c AS (SELECT 1 FROM {name}) SELECT count(*) FROM c")


def test_what_sqlite_reads_by_a_name_alone_is_counted_by_nobody(path: Path) -> None:
    for name in ("pragma_table_list", "pragma_database_list", "dbstat", "sqlite_temp_schema"):
        with pytest.raises(QueryRefused):
            answer(path, f"SELECT count(*) FROM {name}")


WAYS = (
    'SELECT * FROM main."{0}"', 'SELECT count(*) FROM main."{0}"', 'SELECT 1 FROM main."{0}" LIMIT 1', 'SELECT 1 FROM checks, main."{0}"',
    'WITH checks AS (SELECT * FROM main."{0}") SELECT * FROM checks', 'SELECT (SELECT count(*) FROM main."{0}") FROM checks',
    'SELECT * FROM (SELECT * FROM main."{0}") AS checks', 'SELECT EXISTS (SELECT 1 FROM main."{0}")',
    'SELECT 1 FROM checks ORDER BY (SELECT count(*) FROM main."{0}")', 'SELECT 1 FROM checks UNION ALL SELECT 1 FROM main."{0}"',
    'WITH checks AS (SELECT 1 FROM main."{0}") SELECT count(*) FROM checks', 'SELECT 1 FROM checks WHERE record_id IN (SELECT 1 FROM main."{0}")',
)  # fmt: skip
"""What a question may try a table by; `checks` is a name that is open."""


def test_every_table_of_the_database_is_refused_by_every_way_to_name_it(path: Path) -> None:
    names = names_in(path)
    assert {"log", "tray", "device", "invitation", "person_private", "sign_in_private", "setting", "flag", "unit_check"} <= set(names)
    with closing(read_only(path)) as conn:
        watch = asking._lay(conn, CATALOGUE, views_of(CATALOGUE), True)
        for name in [*names, "sqlite_master", "sqlite_schema"]:
            for way in WAYS:
                watch.refused.clear()
                with pytest.raises(sqlite3.DatabaseError):
                    conn.execute(way.format(name)).fetchall()
                said = [sentence.replace("sqlite_schema", "sqlite_master") for sentence in watch.refused]
                assert said == [f"The table {name.replace('schema', 'master')} is not open to questions."], (name, way)


@pytest.mark.parametrize("schema", ["sqlite_master", "sqlite_schema", "sqlite_temp_master", "sqlite_temp_schema", "temp.sqlite_master", "temp.sqlite_schema"])
def test_the_databases_own_lists_are_refused(path: Path, schema: str) -> None:
    assert "is not open to questions" in refusal(path, f"SELECT * FROM {schema}")
    assert "is not open to questions" in refusal(path, f"WITH checks AS (SELECT sql FROM {schema}) SELECT * FROM checks")


def test_numbers_of_people_are_read_through_views_alone(path: Path) -> None:
    assert "person_number is not open" in refusal(path, "SELECT * FROM temp.person_number")
    assert "person_number is not open" in refusal(path, "WITH sign_ins AS (SELECT * FROM person_number) SELECT * FROM sign_ins")


def pragma_tables() -> Iterator[str]:
    with closing(sqlite3.connect(":memory:")) as conn:
        names = {row[0] for row in conn.execute("PRAGMA pragma_list")} | {"table_info", "table_list", "database_list", "function_list", "compile_options"}
        yield from sorted(names)


def test_pragmas_are_refused_as_statements_and_as_tables(path: Path) -> None:
    assert "A question begins with" in refusal(path, "PRAGMA table_list")
    assert refusal(path, "SELECT * FROM pragma_table_info('log')").startswith("A question only reads the views")
    with closing(read_only(path)) as conn:
        watch = asking._lay(conn, CATALOGUE, views_of(CATALOGUE), True)
        for name in pragma_tables():
            for way in (f"PRAGMA {name}", f"PRAGMA {name} = 1", f"SELECT * FROM pragma_{name}", f"SELECT * FROM pragma_{name}('log')"):
                with pytest.raises(sqlite3.Error):
                    conn.execute(way).fetchall()
        assert "PRAGMA is not open to questions." in watch.refused


@pytest.mark.parametrize(
    "sql",
    [
        "ATTACH ':memory:' AS other", "DETACH main", "DELETE FROM checks", "INSERT INTO checks(record_id) VALUES (1)", "UPDATE checks SET note = ''",
        "CREATE TABLE mine(a)", "CREATE TEMP VIEW checks AS SELECT 1", "DROP VIEW checks", "VACUUM", "VACUUM INTO '/tmp/copy'", "REINDEX", "ANALYZE",
        "BEGIN", "EXPLAIN SELECT * FROM checks", "EXPLAIN QUERY PLAN SELECT * FROM checks", "", "  -- nothing", "/* DELETE */ DROP TABLE log",
        "WITH t AS (SELECT 1) DELETE FROM checks", "WITH t AS (SELECT 1) INSERT INTO log SELECT * FROM t", "WITH t AS (SELECT 1) UPDATE log SET h = ''",
        "SELECT 1; SELECT 2", "SELECT 1; ATTACH ':memory:' AS other",
    ],
)  # fmt: skip
def test_what_is_no_question_is_refused(path: Path, sql: str) -> None:
    assert refusal(path, sql)
    assert answer(path, "SELECT count(*) FROM rows") == [(1,)]


@pytest.mark.parametrize(
    "call",
    [
        "load_extension('x')", "readfile('/etc/hostname')", "writefile('x', 'y')", "edit('x')", "fts3_tokenizer('simple')", "sqlite_version()",
        "sqlite_source_id()", "sqlite_compileoption_get(0)", "randomblob(9)", "zeroblob(9)", "last_insert_rowid()", "total_changes()", "sqlite_log(1, 'x')",
    ],
)  # fmt: skip
def test_functions_that_read_files_load_code_or_tell_of_the_database_are_refused(path: Path, call: str) -> None:
    said = refusal(path, f"SELECT {call}")
    assert "is not open to questions" in said or "no such function" in said


def test_table_functions_are_refused(path: Path) -> None:
    for call in ("json_each('[1]')", "json_tree('[1]')", "generate_series(1, 9)", "dbstat", "sqlite_dbpage", "fts3tokenize('simple')", "bytecode('SELECT 1')"):
        assert refusal(path, f"SELECT * FROM {call}")


def test_the_inner_views_cannot_be_named_since_nobody_knows_their_names(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Their names are all that keeps a question from them: where one knew it, it would read the log through that name."""
    monkeypatch.setattr(asking.secrets, "token_hex", lambda _bytes: "known")
    assert answer(path, 'WITH "known_checks" AS (SELECT count(seq) AS n FROM log) SELECT n > 0 FROM "known_checks"') == [(1,)]
    monkeypatch.undo()
    assert "log is not open" in refusal(path, 'WITH "known_checks" AS (SELECT count(seq) AS n FROM log) SELECT n FROM "known_checks"')
    for sql in ("SELECT nosuch FROM checks", "SELECT checks.nosuch FROM checks", "SELECT a.* FROM checks", "SELECT record_id FROM checks, units", "SELECT abs(note, 1) FROM checks"):
        assert not [word for word in refusal(path, sql).replace("_", " ").split() if len(word) >= 32]


def test_what_is_ordinary_in_sql_works(path: Path) -> None:
    assert answer(path, "SELECT count(*) FROM flags WHERE state = 'open'")[0][0] > 0
    assert answer(path, "WITH c AS (SELECT * FROM checks) SELECT count(*) FROM c JOIN units u ON u.record_id = c.unit_id") == [(len(HOSTILE) + 1,)]
    assert answer(path, f"{BOMB} SELECT n FROM t LIMIT 3") == [(1,), (2,), (3,)]
    assert answer(path, "SELECT row_number() OVER (ORDER BY checked_at) AS n FROM checks LIMIT 1") == [(1,)]
    assert answer(path, "-- how many\nSELECT max(evidence ->> '$.tilt_deg') FROM flags WHERE rule = 'leaning'") == [(20.0,)]
    assert answer(path, "VALUES (1, 'a')") == [(1, "a")]


@pytest.mark.parametrize("sql", [f"{BOMB} SELECT max(n) FROM t", f"{BOMB} SELECT n FROM t", "SELECT count(*) FROM checks a, checks b, checks c, checks d, checks e, checks f, checks g"])
def test_an_answer_that_takes_too_long_is_stopped(path: Path, monkeypatch: pytest.MonkeyPatch, sql: str) -> None:
    monkeypatch.setattr(asking, "ANSWER_S", 0.05)
    monkeypatch.setattr(asking, "STEPS", 100)
    assert refusal(path, sql) == "The answer takes longer than 0.05 s. Ask for less at once."


def test_time_in_which_nobody_reads_does_not_count(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now_s = [0.0]
    monkeypatch.setattr(asking.time, "monotonic", lambda: now_s[0])
    monkeypatch.setattr(asking, "STEPS", 100)
    with asking.asked(path, CATALOGUE, f"{BOMB} SELECT n FROM t LIMIT 2000") as said:
        for _row in said.rows:
            now_s[0] += 1000
    assert now_s == [2_000_000]


@pytest.mark.parametrize("sql", [
    "SELECT hex(printf('%.600000c', 'a'))", "SELECT replace(hex(printf('%.400000c', 'a')), '61', printf('%.1000c', 'b'))",
    f"{BOMB} SELECT group_concat(n) FROM (SELECT n FROM t LIMIT 300000)",
])  # fmt: skip
def test_a_value_that_is_too_long_is_refused(path: Path, sql: str) -> None:
    assert refusal(path, sql) == "A value of the answer is longer than 1 MB. Ask for less at once."


def test_a_mistake_is_told_in_sqlites_words_and_a_view_that_is_not_there_with_those_that_are(path: Path) -> None:
    assert refusal(path, "SELECT nosuch FROM checks") == "SQLite does not understand the question: no such column: nosuch."
    assert refusal(path, "SELECT * FROM checkz").startswith("There is no view checkz. There are: sites, ")
    assert "near" in refusal(path, "SELECT FROM")


def test_a_long_answer_is_read_as_it_is_asked_for(path: Path) -> None:
    with asking.asked(path, CATALOGUE, f"{BOMB} SELECT n FROM t") as said:
        assert [next(said.rows)[0] for _ in range(3)] == [1, 2, 3]
