"""
One question in SQL over the views of what is open, and nothing else of the file.

SQLite asks an authorizer for every table and column that a statement reads, and names the view through which it is read: that is the name
of whatever stands in FROM, so that `WITH checks AS (SELECT * FROM log)` reads the log "through checks". Each view therefore reads through
another one whose name is drawn anew for every connection and told to nobody, and what is below is read through that alone.
"""

from __future__ import annotations

import re
import secrets
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from functools import lru_cache, partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.errors import QueryRefused
from fieldlog.exports.computed import COMPUTED
from fieldlog.exports.making import computed_of, read_by_computed
from fieldlog.exports.words import Words
from fieldlog.instants import on_the_clock
from fieldlog.query.views import COMPUTED_VALUE, LIST_ITEMS, NUMBERS, View, views_of
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.listed import items_of, packed
from fieldlog.store import read_only

ANSWER_S = 60
"""So long SQLite works on one answer; waiting for whoever reads it does not count."""

STEPS = 10_000
"""Steps of SQLite's machine between two looks at the clock, some milliseconds."""

HEAP_BYTES = 256 * 1024 * 1024
LIMITS = {
    sqlite3.SQLITE_LIMIT_LENGTH: 1_000_000, sqlite3.SQLITE_LIMIT_SQL_LENGTH: 100_000, sqlite3.SQLITE_LIMIT_EXPR_DEPTH: 200,
    sqlite3.SQLITE_LIMIT_COMPOUND_SELECT: 50, sqlite3.SQLITE_LIMIT_ATTACHED: 0, sqlite3.SQLITE_LIMIT_LIKE_PATTERN_LENGTH: 1_000,
    sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER: 0,
}  # fmt: skip
"""The longest value in bytes, and the largest statement."""

ROWS_AT_ONCE = 500
FUNCTIONS = frozenset(
    ["->", "->>", "abs", "acos", "asin", "atan", "atan2", "avg", "ceil", "ceiling", "char", "coalesce", "cos", "count", "cume_dist", "current_date", "current_time", "current_timestamp", "date", "datetime", "degrees", "dense_rank", "exp", "first_value", "floor", "format", "glob", "group_concat", "hex", "ifnull", "iif", "instr", "json_extract", "julianday", "lag", "last_value", "lead", "length", "like", "likelihood", "likely", "ln", "local_time", "log", "log10", "log2", "lower", "ltrim", "max", "min", "mod", "nth_value", "ntile", "nullif", "percent_rank", "pi", "pow", "power", "printf", "quote", "radians", "random", "rank", "replace", "round", "row_number", "rtrim", "sign", "sin", "soundex", "sqrt", "strftime", "string_agg", "substr", "substring", "sum", "tan", "time", "timediff", "total", "trim", "trunc", "typeof", "unicode", "unixepoch", "unlikely", "upper"]
)
"""What a question may call: nothing that reads a file, loads code or says what stands in the database."""

_NAMES_TAKEN = """SELECT name FROM main.sqlite_master UNION SELECT name FROM temp.sqlite_master UNION SELECT name FROM pragma_module_list
    UNION VALUES ('sqlite_master'), ('sqlite_schema'), ('sqlite_temp_master'), ('sqlite_temp_schema')"""
"""What a name in FROM may stand for beside the question's own tables (WITH): the tables of the file, the views, and what SQLite reads by a name alone."""

_FIRST_WORD = re.compile(r"(?:\s+|--[^\n]*(?:\n|$)|/\*.*?(?:\*/|$))*([A-Za-z]*)", re.DOTALL)
_ASKING = {"SELECT", "WITH", "VALUES"}


@dataclass(frozen=True)
class Answer:
    """The names of an answer's columns, and its rows as they are read."""

    columns: tuple[str, ...]
    rows: Iterator[tuple[Any, ...]]


@contextmanager
def asked(path: Path, catalogue: Catalogue, sql: str) -> Iterator[Answer]:
    """
    Ask a programme's file one question, read as it is answered.

    Args:
        path: the database, as one state of it while the answer is read.

    Raises:
        QueryRefused: it reads what is not open, is no question, is wrong, or takes too long; the sentence says which. It may come
            while rows are read.
    """
    first = _FIRST_WORD.match(sql)
    if first is None or first[1].upper() not in _ASKING:
        raise QueryRefused(f"A question begins with SELECT, WITH or VALUES; this one begins with {first[1] if first and first[1] else 'nothing'!r}.")
    views = views_of(catalogue)
    with closing(read_only(path)) as conn:
        watch = _lay(conn, catalogue, views, "computed" in sql.lower() or "*" in sql)
        with _told(watch):
            rows = conn.execute(sql)
        columns = tuple(column[0] for column in rows.description or ())
        yield Answer(columns, _read(rows, watch))


def _lay(conn: sqlite3.Connection, catalogue: Catalogue, views: list[View], may_compute: bool) -> _Watch:
    """
    Lay the views over a connection, and set the watch that lets nothing else be read.

    Args:
        may_compute: whether a question can name a computed column; what these are made from is read beforehand.
    """
    conn.create_function("local_time", 2, local_time, deterministic=True)
    conn.create_function(LIST_ITEMS, -1, partial(_list_items, catalogue), deterministic=True)
    if may_compute:
        conn.create_function(COMPUTED_VALUE, -1, _Computed(conn, catalogue).value)
    else:
        conn.create_function(COMPUTED_VALUE, -1, lambda *_values: None)
    conn.execute(f"CREATE TEMP TABLE {NUMBERS}(person_id TEXT PRIMARY KEY, number INTEGER) WITHOUT ROWID")
    conn.execute(f"INSERT INTO temp.{NUMBERS} SELECT record_id, row_number() OVER (ORDER BY record_id) FROM main.person")
    secret = secrets.token_hex(16)
    for view in views:
        conn.execute(f'CREATE TEMP VIEW "{secret}_{view.name}" AS {view.select}')
        conn.execute(f'CREATE TEMP VIEW "{view.name}" AS SELECT * FROM temp."{secret}_{view.name}"')
    taken = frozenset(name.lower() for (name,) in conn.execute(_NAMES_TAKEN))
    for limit, most in LIMITS.items():
        conn.setlimit(limit, most)
    conn.execute(f"PRAGMA hard_heap_limit = {HEAP_BYTES}")
    watch = _Watch(secret, [view.name for view in views], taken)
    conn.set_authorizer(watch.allows)
    conn.set_progress_handler(watch.is_late, STEPS)
    return watch


@dataclass
class _Watch:
    """What one question may read, and for how long SQLite has worked on it."""

    secret: str
    names: list[str]
    taken: frozenset[str] = frozenset()
    refused: list[str] = field(default_factory=list)
    worked_s: float = 0.0
    since: float | None = None

    def allows(self, action: int, first: str | None, second: str | None, schema: str | None, through: str | None) -> int:
        """SQLite's question whether a statement may do something; what it may not is noted."""
        if action in (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_RECURSIVE):
            return sqlite3.SQLITE_OK
        if action == sqlite3.SQLITE_FUNCTION and ((second or "").lower() in FUNCTIONS or str(through).startswith(self.secret)):
            return sqlite3.SQLITE_OK
        if action == sqlite3.SQLITE_READ:
            is_view = schema == "temp" and (first in self.names or str(first).startswith(self.secret))
            # Rows of a table of the question's own (WITH) that are counted and not read have no column and no schema.
            is_own = schema is None and second == "" and str(first).lower() not in self.taken
            if is_view or is_own or str(through).startswith(self.secret):
                return sqlite3.SQLITE_OK
        self.refused.append(_refusal(action, first, second))
        return sqlite3.SQLITE_DENY

    def is_late(self) -> bool:
        """Whether the answer has taken its time."""
        return self.worked_s + (0.0 if self.since is None else time.monotonic() - self.since) > ANSWER_S

    @contextmanager
    def working(self) -> Iterator[None]:
        """The time in which SQLite works."""
        self.since = time.monotonic()
        try:
            yield
        finally:
            self.worked_s += time.monotonic() - self.since
            self.since = None


def _refusal(action: int, first: str | None, second: str | None) -> str:
    if action == sqlite3.SQLITE_READ:
        return f"The table {first} is not open to questions."
    if action == sqlite3.SQLITE_FUNCTION:
        return f"The function {second} is not open to questions."
    if action == sqlite3.SQLITE_PRAGMA:
        return "PRAGMA is not open to questions."
    return "A question only reads the views: it changes, attaches and loads nothing."


@contextmanager
def _told(watch: _Watch) -> Iterator[None]:
    """Turn what SQLite says into a sentence."""
    try:
        with watch.working():
            yield
    except MemoryError as fault:
        raise QueryRefused(f"The answer needs more than {HEAP_BYTES >> 20} MB of memory. Ask for less at once.") from fault
    except (sqlite3.Error, sqlite3.Warning) as fault:
        raise QueryRefused(_sentence(watch, str(fault))) from fault


def _sentence(watch: _Watch, fault: str) -> str:
    if watch.is_late() or fault == "interrupted":
        return f"The answer takes longer than {ANSWER_S} s. Ask for less at once."
    offered = f"There are: {', '.join(watch.names)}."
    if watch.refused:
        return f"{watch.refused[0]} {offered}"
    if fault.startswith("no such table"):
        return f"There is no view {fault.partition(': ')[2]}. {offered}"
    if "one statement at a time" in fault:
        return "One question at a time: there is more behind the first semicolon."
    if "too big" in fault:
        return "A value of the answer is longer than 1 MB. Ask for less at once."
    return f"SQLite does not understand the question: {fault}."


def _read(rows: sqlite3.Cursor, watch: _Watch) -> Iterator[tuple[Any, ...]]:
    while True:
        with _told(watch):
            some = rows.fetchmany(ROWS_AT_ONCE)
        if not some:
            return
        yield from some


def _list_items(catalogue: Catalogue, kind: str, field: str, *values: Any) -> str | None:
    """A record's list as JSON, an older app's too; `values` are the record's, in the order of its columns."""
    row = dict(zip(catalogue.kinds[kind].columns(), values, strict=True))
    return packed(items_of(catalogue.kinds[kind].lists[field], field, row))


class _Computed:
    """The values of computed columns, by the code that an export has; those of one row are worked out once."""

    def __init__(self, conn: sqlite3.Connection, catalogue: Catalogue) -> None:
        words = Words(Database(conn))
        self._makers = {name: computed_of(name, read_by_computed(catalogue.kinds[name]), words) for name in COMPUTED if name in catalogue.kinds}
        self._last: tuple[Any, ...] = ()
        self._values: tuple[Any, ...] = ()

    def value(self, kind: str, place: int, *row: Any) -> Any:
        """One of them, by its place among its kind's."""
        if (kind, *row) != self._last:
            self._values, self._last = self._makers[kind](row), (kind, *row)
        return self._values[place]


_zone = lru_cache(maxsize=64)(ZoneInfo)


def local_time(instant: str | None, zone: str | None) -> str | None:
    """A moment in UTC as rows have it, on a zone's clock with its offset; None where either is not known."""
    return on_the_clock(instant, _zone(zone)) if instant and zone else None
