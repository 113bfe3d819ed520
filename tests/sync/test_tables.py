"""Record tables: no state for a record of few entries, columns that come back are filled, folders of older versions are rebuilt."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.flags.doubt import VALUES_TOLD
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.records.kind import Kind
from fieldlog.records.sighting import SIGHTING
from fieldlog.store import connect, create_programme, set_setting, setting, write
from fieldlog.sync import tables
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from fieldlog.sync.replay import replay
from fieldlog.sync.states import MANY
from tests.sync.lines import START_MS, Lane, record_id
from tests.sync.model_phone import short_hash

SITE, UNIT = record_id("Alder Spit"), record_id("unit")
LEAD = Device("lead-device", "lead", None, None, False)
JULY = "2026-07-01T10:00:00.000Z"


@pytest.fixture
def db(tmp_path: Path) -> Database:
    create_programme(tmp_path, "Alder Spit").close()
    db = open_programme(tmp_path, CATALOGUE, START_MS).db()
    db.execute("INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, 'lead', NULL, 'a phone', 0)", [LEAD.device_id] * 2)
    return db


def take(db: Database, lane: Lane, first: int = 1) -> None:
    reply = receive(db, lane.body(first), CATALOGUE, lambda: LEAD, lambda: lane.now_ms)
    assert {ack[2] for ack in reply["acks"]} == {"ok"}, reply["acks"]


def derived(db: Database) -> dict[str, list[Any]]:
    return {name: sorted(db.execute(f'SELECT * FROM "{name}"').fetchall(), key=repr) for name in ("record_state", "disagreement", "flag", *CATALOGUE.kinds)}


def check_of(**fields: Any) -> dict[str, Any]:
    return {"unit_id": UNIT, "checked_at": JULY, "found_state": "seen", **fields}


def test_a_record_of_few_entries_keeps_no_state_and_goes_on_from_its_lines(db: Database) -> None:
    lane = Lane("crew", SITE)
    first = lane.write("unit_check", record_id("c1"), check_of(exposed_height_mm=280, note="first"))
    take(db, lane)
    assert db.execute("SELECT count(*) FROM record_state").fetchone() == (0,)
    lane.write("unit_check", record_id("c1"), {"exposed_height_mm": 265}, b={"exposed_height_mm": [first]})
    take(db, lane, 2)
    lane.write("unit_check", record_id("c1"), {"note": "blind"})
    take(db, lane, 3)
    assert db.execute("SELECT exposed_height_mm, note, found_state FROM unit_check").fetchall() == [(265.0, "blind", "seen")]
    assert [json.loads(row[0]) for row in db.execute("SELECT values_json FROM disagreement")] == [["blind", "first"]]
    assert db.execute("SELECT count(*) FROM record_state").fetchone() == (0,)


def test_a_record_of_many_entries_keeps_its_state_and_both_ways_are_equal(db: Database) -> None:
    lane = Lane("crew", SITE)
    last: list[str] = []
    for number in range(MANY + 5):
        last = [lane.write("unit_check", record_id("c1"), check_of(exposed_height_mm=200 + number), b={"exposed_height_mm": last} if number % 7 else {})]
        take(db, lane, number + 1)
    assert db.execute("SELECT kind, record_id FROM record_state").fetchall() == [("unit_check", record_id("c1"))]
    before = derived(db)
    with write(db):
        assert replay(db, CATALOGUE) == MANY + 5
    assert derived(db) == before


def test_of_many_values_as_many_are_kept_beside_the_record_as_a_flag_tells_and_one_that_says_that_there_are_others(db: Database) -> None:
    lane = Lane("crew", SITE)
    for number in range(VALUES_TOLD + 3):
        lane.write("unit_check", record_id("c1"), check_of(note=f"note {number}"))
    take(db, lane)
    ids, values = map(json.loads, db.execute("SELECT entry_ids, values_json FROM disagreement").fetchone())
    assert values == [f"note {number}" for number in range(VALUES_TOLD + 2, 1, -1)]
    assert ids == [short_hash(text) for text in lane.texts[:1:-1]]
    (sentence,) = db.execute("SELECT sentence FROM flag WHERE rule = 'disagreement'").fetchone()
    assert sentence.endswith("note 3 and others for Note. note 8 is used until someone decides.")


def without(name: str) -> Catalogue:
    fields = {field: declared for field, declared in SIGHTING.schema._declared_fields.items() if field != name}
    schema = type("Less", SIGHTING.schema.__bases__, fields)
    less = Kind("sighting", "Sighting", schema, writers=SIGHTING.writers, rules=[])
    return Catalogue([less if kind.name == "sighting" else kind for kind in CATALOGUE.kinds.values()])


@pytest.mark.parametrize("written", ["count", "co\\u0075nt"])
def test_a_column_that_goes_and_comes_back_is_filled(db: Database, written: str) -> None:
    lane = Lane("crew", SITE)
    lane.write("sighting", record_id("s1"), {"found": "seen", "count": 4, "seen_at": JULY})
    lane.write("sighting", record_id("s1"), {"count": 6})
    lane.write("sighting", record_id("s2"), {"found": "seen", "seen_at": JULY})
    if written != "count":
        text = lane.texts.pop().replace(b'"found"', b'"count":7,"found"').replace(b'"count"', f'"{written}"'.encode())
        lane.chain.pop()
        lane.add(text)
    take(db, lane)
    before = derived(db)
    with write(db):
        assert tables.follow(db, without("count"))
        assert "count" not in {row[1] for row in db.execute("PRAGMA table_info(sighting)")}
        assert db.execute("SELECT found FROM sighting WHERE record_id = ?", [record_id("s1")]).fetchall() == [("seen",)]
        assert tables.follow(db, CATALOGUE)
    columns = [row[1] for row in db.execute("PRAGMA table_info(sighting)")]
    rows = {row["record_id"]: row["count"] for row in db.query("SELECT * FROM sighting")}
    assert rows == {record_id("s1"): 6, record_id("s2"): None if written == "count" else 7}
    assert sorted(columns) == sorted(tables.all_columns(CATALOGUE.kinds["sighting"]))
    with write(db):
        replay(db, CATALOGUE)
    assert derived(db) == before


def test_a_folder_of_an_older_version_is_rebuilt_when_it_is_opened(tmp_path: Path, db: Database) -> None:
    lane = Lane("lead", SITE)
    lane.write("unit", UNIT, {"tag": "A010", "row_id": record_id("row"), "slot_number": 1})
    lane.write("unit_check", record_id("c1"), check_of(lost_volume_pct=60))
    take(db, lane)
    before = derived(db)
    db.execute("UPDATE flag SET sentence = 'what an older rule said'")
    db.execute("UPDATE unit_check SET lost_volume_pct = NULL, says_damaged_lost_volume_pct = NULL")
    db.execute("INSERT INTO record_state VALUES ('unit', 'x', '{}')")
    set_setting(db, "tables", "1")
    again = open_programme(tmp_path, CATALOGUE, START_MS).db()
    assert derived(again) == before
    assert setting(again, "tables") == tables.MADE_AS


def test_readers_see_the_old_tables_until_a_replay_is_done(tmp_path: Path, db: Database) -> None:
    lane = Lane("lead", SITE)
    lane.write("unit_check", record_id("c1"), check_of())
    take(db, lane)
    reader = sqlite3.connect(tmp_path / "fieldlog.sqlite")
    with write(db):
        replay(db, CATALOGUE)
        assert reader.execute("SELECT unit_id FROM unit_check").fetchall() == [(UNIT,)]
    assert reader.execute("SELECT unit_id FROM unit_check").fetchall() == [(UNIT,)]
    reader.close()


def test_an_entry_that_stays_in_the_log_stays_taken_whatever_the_catalogue_says_later(db: Database) -> None:
    lane = Lane("crew", SITE)
    lane.write("sighting", record_id("s1"), {"found": "seen", "count": 4, "seen_at": JULY})
    take(db, lane)
    with write(db):
        tables.follow(db, without("count"))
        replay(db, without("count"))
    assert db.execute("SELECT found, seen_at FROM sighting").fetchall() == [("seen", JULY)]


def test_while_tables_are_rebuilt_a_push_is_told_to_wait_and_a_pull_is_answered(app: Any, programme: Any, client_of: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fieldlog.store.BUSY_TIMEOUT_S", 0.05)
    client = client_of("lead")
    assert client.get("/api/pack").status_code == 200
    other = connect(programme.path)
    with write(other):
        replay(other, CATALOGUE)
        lane = Lane("lead", SITE)
        lane.write("site", SITE, {"name": "Alder Spit"})
        programme.close()
        said = client.post("/api/sync", data=lane.body())
        assert said.status_code == 503
        assert int(said.headers["Retry-After"]) >= 1
        assert client.get("/api/pack").status_code in (200, 304)
    other.conn.close()
    assert client.post("/api/sync", data=lane.body()).status_code == 200


def test_an_instant_has_one_form_in_rows_however_lines_write_it(db: Database) -> None:
    lane = Lane("crew", SITE)
    lane.write("unit_check", record_id("c1"), check_of(checked_at="2026-07-01T10:00:00Z", note="2026-07-01T10:00:00Z"))
    lane.write("unit_check", record_id("c2"), check_of(checked_at="2026-07-01T10:00:00Z"))
    lane.write("unit_check", record_id("c2"), {"checked_at": "2026-07-01T10:00:00.000Z"})
    lane.write("unit_check", record_id("c3"), check_of(checked_at="2026-07-01T10:00:00.250Z"))
    take(db, lane)
    rows = "SELECT checked_at, note FROM unit_check ORDER BY checked_at, record_id = ?"
    one_form = [("2026-07-01T10:00:00.000Z", "2026-07-01T10:00:00Z"), ("2026-07-01T10:00:00.000Z", None), ("2026-07-01T10:00:00.250Z", None)]
    assert db.execute(rows, [record_id("c2")]).fetchall() == one_form
    assert db.execute("SELECT * FROM disagreement").fetchall() == [], "one moment written in two ways is one value"
    with write(db):
        replay(db, CATALOGUE)
    assert db.execute(rows, [record_id("c2")]).fetchall() == one_form
