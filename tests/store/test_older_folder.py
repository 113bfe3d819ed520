"""
A data folder of version 0.1.0 opens under today's code, every row as that version said it.

`folder_0_1_0.zip` was made by that version's own code (the last commit before 0.2.0's work, f772db8, with its own pinned libraries): a part of
its demo about six units, then a device that was let in and one whose access ended, an open invitation, a value corrected, a record removed
and a check that was held. `said.json` has every row as that code had it in its tables, and the log by its hash.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest

from fieldlog.doctor import examine
from fieldlog.instants import written
from fieldlog.migrations import migrations
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.fields import Instant
from fieldlog.soundness import faults_of
from fieldlog.store import Programme
from fieldlog.sync.opening import open_programme

FOLDER = Path(__file__).with_name("folder_0_1_0.zip")
NOW_MS = 1_795_700_000_000


@pytest.fixture
def said() -> dict[str, Any]:
    with ZipFile(FOLDER) as packed:
        return json.loads(packed.read("said.json"))


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Programme]:
    with ZipFile(FOLDER) as packed:
        packed.extractall(tmp_path)
    programme = open_programme(tmp_path / "programme", CATALOGUE, NOW_MS)
    yield programme
    programme.close()


def alike(table: str, row: dict[str, Any]) -> dict[str, Any]:
    """A row with its instants in the one form that today's tables have: 0.1.0 kept a line's own text, with milliseconds or without."""
    instants = {name for name, field in CATALOGUE.kinds[table].fields.items() if isinstance(field, Instant)} if table in CATALOGUE.kinds else set()
    return {name: written(datetime.fromisoformat(value)) if name in instants and value else value for name, value in row.items()}


def rows(programme: Programme, table: str, columns: list[str]) -> list[dict[str, Any]]:
    names = ", ".join(f'"{name}"' for name in columns)
    found = programme.db().query(f'SELECT {names} FROM "{table}"')
    return [{name: value.hex() if isinstance(value, bytes) else value for name, value in row.items()} for row in found]


def in_order(found: list[dict[str, Any]]) -> list[str]:
    return sorted(json.dumps(row, sort_keys=True) for row in found)


def test_a_folder_of_0_1_0_opens_with_every_row_as_it_was(opened: Programme, said: dict[str, Any]) -> None:
    db = opened.db()
    log = [bytes(line) for (line,) in db.conn.execute("SELECT line FROM log ORDER BY seq")]
    assert (len(log), hashlib.sha256(b"\n".join(log)).hexdigest()) == (said["log_lines"], said["log_sha256"])
    assert migrations.pending(db) == []
    assert faults_of(db, lambda sha256: (opened.photos_folder / sha256).open("rb")) == []
    kinds = [table for table in said["tables"] if table in CATALOGUE.kinds]
    assert sum(len(said["tables"][kind]) for kind in kinds) == 186
    assert {kind for kind in kinds if said["tables"][kind]} >= {"site", "unit", "unit_check", "position_fix", "sign_in", "photo", "person_private", "flag_decision"}
    differing = {}
    for table in (*kinds, "device", "invitation", "tray", "photo_file"):
        # Why a line is held is said in today's words.
        before = [{name: value for name, value in row.items() if (table, name) != ("tray", "sentence")} for row in said["tables"][table]]
        if before and (now := in_order(rows(opened, table, list(before[0])))) != (then := in_order([alike(table, row) for row in before])):
            differing[table] = sorted({*then} ^ {*now})[:2]
    assert differing == {}
    # Flags are judged by today's rules, so that their sentences are today's; what was raised then is still raised.
    raised_then = {(flag["rule"], flag["subject_id"], flag["state"]) for flag in said["tables"]["flag"]}
    raised_now = {(flag["rule"], flag["subject_id"], flag["state"]) for flag in db.query("SELECT * FROM flag")}
    assert raised_then - raised_now == set()


def test_the_doctor_finds_such_a_folder_sound(opened: Programme, said: dict[str, Any]) -> None:
    found = {one.word: one for one in examine(opened.folder, CATALOGUE, NOW_MS)}
    assert found["sound"].sentence.startswith(f"The database, the chains of {said['log_lines']} entries in")
    assert found["version"].ok
    assert found["held"].sentence.startswith("Entries held back: 1.")
