"""Commits are counted as they were made."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from tests.bench.wal import commits_since, wal_end


@pytest.mark.parametrize("anew", [False, True])
def test_commits_are_counted_also_where_the_log_began_anew(tmp_path: Path, anew: bool) -> None:
    db = sqlite3.connect(tmp_path / "some.sqlite", isolation_level=None)
    db.execute("PRAGMA journal_mode=WAL")
    db.execute("CREATE TABLE line(text TEXT)")
    for _ in range(3):
        db.execute("INSERT INTO line VALUES ('before')")
    end = wal_end(tmp_path / "some.sqlite-wal")
    if anew:
        db.execute("PRAGMA wal_checkpoint(RESTART)")
    for number in range(5):
        db.execute("BEGIN")
        db.executemany("INSERT INTO line VALUES (?)", [("x" * 3000,)] * (number + 1))
        db.execute("COMMIT")
    assert commits_since(tmp_path / "some.sqlite-wal", end) == 5
    db.close()
