"""Whole tables read for taking them out: order, what is among them, one state of the file; and what records are called."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.questions.names import NAME_COLUMNS, names_of
from fieldlog.questions.whole_tables import (
    EVERYTHING,
    Span,
    columns_of,
    count_of,
    disagreements_of,
    flags_of,
    one_state,
    rows_of,
    time_of,
)
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.fields import Instant
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from tests.sync.lines import REQUIRED, START_MS, Lane, record_id

LEAD = Device("lead-device", "lead", None, None, False)
SPIT, BAR, UNIT = record_id("Alder Spit"), record_id("Heron Bar"), record_id("unit")
CHECK, SIGHTING = CATALOGUE.kinds["unit_check"], CATALOGUE.kinds["sighting"]


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    """Two sites; checks of both that came in another order than they were made, one of them removed; a design of the whole programme."""
    create_programme(tmp_path, "Alder Spit").close()
    opened = open_programme(tmp_path, CATALOGUE, START_MS)
    db = opened.db()
    db.execute("INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, 'lead', NULL, 'a phone', 0)", [LEAD.device_id] * 2)
    lane = Lane("lead")
    for site, name in ((SPIT, "Alder Spit"), (BAR, "Heron Bar")):
        lane.write("site", site, REQUIRED["site"] | {"name": name}, g=site)
    lane.write("unit", UNIT, REQUIRED["unit"], g=SPIT)
    lane.write("unit_design", record_id("design"), {"name": "Block 450", "height_mm": 450, "footprint_mm": 600})
    lane.write("species", record_id("ribbed"), {"scientific_name": "Geukensia demissa"})
    lane.write("species", record_id("oyster"), {"scientific_name": "Crassostrea virginica", "common_name": "Eastern oyster"})
    for name, site, day, fields in (
        ("third", SPIT, "03", {}), ("bar", BAR, "02", {}), ("first", SPIT, "01", {"note": "first"}), ("second", SPIT, "02", {}), ("gone", SPIT, "02", {}),
    ):  # fmt: skip
        lane.write("unit_check", record_id(name), {"unit_id": UNIT, "checked_at": f"2026-09-{day}T06:12:00Z", "found_state": "seen", **fields}, g=site)
    lane.write("unit_check", record_id("gone"), {"_deleted": True}, g=SPIT)
    for note in ("sunny", "foggy"):
        lane.write("unit_check", record_id("first"), {"note": note}, g=SPIT)
    reply = receive(db, lane.body(1), CATALOGUE, lambda: LEAD, lambda: lane.now_ms)
    assert [ack for ack in reply["acks"] if ack[2] != "ok"] == []
    yield opened.path
    opened.close()


def ids_of(db: Database, kind: Any, span: Span = EVERYTHING) -> list[str]:
    rows = [dict(zip(columns_of(kind), row, strict=True)) for row in rows_of(db, kind, span)]
    assert count_of(db, kind, span) == len(rows)
    return [row["record_id"] for row in rows]


def test_records_come_by_site_and_time_without_those_that_were_removed(folder: Path) -> None:
    with one_state(folder) as db:
        spit, bar = [record_id(name) for name in ("first", "second", "third")], [record_id("bar")]
        assert ids_of(db, CHECK) == (spit + bar if SPIT < BAR else bar + spit)


def test_a_span_names_sites_and_times_and_has_what_belongs_to_the_whole_programme(folder: Path) -> None:
    with one_state(folder) as db:
        of_spit = Span(frozenset({SPIT}), "2026-09-01T06:12:00.000Z", "2026-09-03T06:12:00.000Z")
        assert ids_of(db, CHECK, of_spit) == [record_id("first"), record_id("second")]
        assert ids_of(db, CATALOGUE.kinds["site"], of_spit) == [SPIT]
        assert ids_of(db, CATALOGUE.kinds["unit_design"], of_spit) == [record_id("design")]
        assert ids_of(db, CATALOGUE.kinds["unit"], Span(frozenset({BAR}))) == []
        assert ids_of(db, CHECK, Span(frozenset())) == []


@pytest.mark.parametrize("kind", CATALOGUE.kinds.values(), ids=lambda kind: kind.name)
def test_the_time_of_a_record_is_one_that_it_must_say_and_each_column_is_declared(kind: Any) -> None:
    assert columns_of(kind)[-len(kind.fields) :] == list(kind.fields)
    if any(isinstance(declared, Instant) for declared in kind.fields.values()):
        assert kind.fields[time_of(kind)].required
    else:
        assert time_of(kind) is None
    assert set(NAME_COLUMNS.get(kind.name, ())) <= set(kind.fields)


@pytest.mark.parametrize("span", [EVERYTHING, Span(frozenset({SPIT}), "2026-09-01T00:00:00.000Z")], ids=["everything", "a site since a day"])
def test_a_table_is_sorted_site_by_site_along_an_index_and_never_as_a_whole(folder: Path, span: Span) -> None:
    said: list[str] = []
    with one_state(folder) as db:
        db.conn.set_trace_callback(said.append)
        for kind in CATALOGUE.kinds.values():
            next(rows_of(db, kind, span), None)
        db.conn.set_trace_callback(None)
        plans = [[row[3] for row in db.conn.execute(f"EXPLAIN QUERY PLAN {statement}").fetchall()] for statement in said]
    assert len(plans) == len(CATALOGUE.kinds)
    assert [plan for plan in plans if " USING INDEX " not in plan[0] or "USE TEMP B-TREE FOR ORDER BY" in plan] == []


def test_every_value_is_as_the_table_has_it(demo_programme: Any) -> None:
    with one_state(demo_programme.path) as db:
        for kind in CATALOGUE.kinds.values():
            rows = {row[0]: row for row in rows_of(db, kind)}
            table = [{**row} for row in db.query(f'SELECT * FROM "{kind.name}" WHERE deleted = 0')]
            assert rows == {row["record_id"]: tuple(row[name] for name in columns_of(kind)) for row in table}


def test_one_state_is_read_whatever_is_written_and_nothing_is_written_by_it(folder: Path) -> None:
    with one_state(folder) as db:
        rows = rows_of(db, CHECK)
        next(rows)
        sqlite3.connect(folder, isolation_level=None).execute("UPDATE unit_check SET deleted = 1")
        assert len([*rows]) == 3
        assert count_of(db, CHECK) == 4
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            db.execute("UPDATE unit_check SET deleted = 0")
    with one_state(folder) as db:
        assert count_of(db, CHECK) == 0


def test_flags_and_disagreements_are_told_as_they_are_stored(folder: Path) -> None:
    with one_state(folder) as db:
        flags = [*flags_of(db)]
        assert [flag["flag_id"] for flag in flags] == [row[0] for row in db.execute("SELECT flag_id FROM flag ORDER BY site_id, raised_at, flag_id")]
        assert {flag["rule"] for flag in flags} >= {"disagreement", "orphan"}
        assert all(isinstance(flag["evidence"], dict) for flag in flags)
        (differing,) = disagreements_of(db)
        assert (differing["record_id"], differing["field"]) == (record_id("first"), "note")
        assert differing["values"] == ["foggy", "sunny", "first"]
        stands = json.loads(db.execute("SELECT line FROM log WHERE entry_id = ?", [differing["entry_ids"][0]]).fetchone()[0])
        assert stands["f"]["note"] == "foggy"
        assert [*disagreements_of(db, frozenset({BAR}))] == []
        assert {flag["site_id"] for flag in flags_of(db, frozenset({BAR}))} <= {BAR, None}


def test_names_are_those_that_the_records_say(folder: Path) -> None:
    with one_state(folder) as db:
        assert names_of(db, "unit") == {UNIT: "A018"}
        assert names_of(db, "species") == {record_id("ribbed"): "Geukensia demissa", record_id("oyster"): "Eastern oyster"}
        assert names_of(db, "site", [BAR, "nobody"]) == {BAR: "Heron Bar"}
        assert names_of(db, "unit_check") == {}
        assert names_of(db, "row", []) == {}
