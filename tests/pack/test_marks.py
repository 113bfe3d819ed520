"""The tag of a pack: moved by whatever changes the pack, by nothing else, and read without building anything."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from fieldlog.access.devices import Device
from fieldlog.pack.marks import DEVICES, TRAY, lay_marks, mark_of, pack_tag, visits_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import write
from fieldlog.sync.replay import replay
from tests.sync.lines import Lane, record_id

DAY = date(2026, 11, 25)
SITE, OTHER, UNIT = record_id("site"), record_id("other site"), record_id("unit")
NOON_MS = int(datetime(2026, 11, 25, 12, tzinfo=UTC).timestamp() * 1000)


def device(role: str, *sites: str) -> Device:
    return Device("d" * 32, role, frozenset(sites) if sites else None, None, False)


@pytest.fixture
def db(programme):
    """Two sites with a unit, a row and a check each."""
    found = programme.db()
    with write(found):
        for site in (SITE, OTHER):
            found.conn.execute("INSERT INTO site(record_id, site_id, name) VALUES (?, ?, 'A site')", (site, site))
            for kind in ("row", "unit", "closure", "datum_offset", "unit_check", "unit_event"):
                unit = ", unit_id" if kind.startswith("unit_") else ""
                value = f", '{record_id(f'unit{site}')}'" if unit else ""
                found.conn.execute(f"INSERT INTO {kind}(record_id, site_id{unit}) VALUES (?, ?{value})", (record_id(kind + site), site))
    return found


CHANGES = {
    "site": "UPDATE site SET name = 'Other' WHERE record_id = '{site}'",
    "row": "UPDATE row SET bed_level_m = 0.3 WHERE site_id = '{site}'",
    "unit": "INSERT OR REPLACE INTO unit(record_id, site_id, tag) VALUES ('{unit}', '{site}', 'A1')",
    "closure": "DELETE FROM closure WHERE site_id = '{site}'",
    "datum_offset": "UPDATE datum_offset SET above_chart_m = 0.1 WHERE site_id = '{site}'",
    "unit_check": "INSERT INTO unit_check(record_id, site_id, unit_id, checked_at) VALUES ('x', '{site}', '{unit}', '2026-11-25T11:00:00Z')",
    "unit_event": "UPDATE unit_event SET event = 'retired' WHERE site_id = '{site}'",
    "own_station": "INSERT INTO own_station VALUES ('own/1', '{site}', 'w', '{{}}')",
    "survey": "INSERT INTO survey VALUES ('{site}', 'day 2026-11-25', '2026-11-25T11:00:00', NULL, '[]', 1, 1, 1, 1.0, NULL, 0)",
    "site_tapes": "INSERT OR REPLACE INTO site_tapes VALUES ('{site}', 1.5, 40, 120)",
    "flag": "INSERT INTO flag VALUES ('f', 'damaged', 'act', 'unit', '{unit}', '{site}', 's', '{{}}', '2026', NULL, 'open', NULL, NULL, NULL)",
    "flag of the site itself": "INSERT INTO flag VALUES ('f', 'doubt', 'act', 'site', '{site}', NULL, 's', '{{}}', '2026', NULL, 'open', NULL, NULL, NULL)",
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_change_of_a_site_moves_its_tag_and_no_other_sites(db, change: str) -> None:
    of_site, of_other, of_all = device("crew", SITE), device("crew", OTHER), device("lead")
    before = [pack_tag(db, CATALOGUE, one, DAY) for one in (of_site, of_other, of_all)]
    with write(db):
        db.conn.execute(CHANGES[change].format(site=SITE, unit=record_id(f"unit{SITE}")))
    after = [pack_tag(db, CATALOGUE, one, DAY) for one in (of_site, of_other, of_all)]
    assert [was == is_now for was, is_now in zip(before, after, strict=True)] == [False, True, False]


@pytest.mark.parametrize("write_row", ["INSERT OR REPLACE INTO row(record_id, site_id) VALUES ('{row}', '{other}')", "UPDATE row SET site_id = '{other}' WHERE record_id = '{row}'"])
def test_a_record_that_moves_changes_the_site_it_leaves_too(db, write_row: str) -> None:
    before = mark_of(db, SITE), mark_of(db, OTHER)
    with write(db):
        db.conn.execute(write_row.format(row=record_id(f"row{SITE}"), other=OTHER))
    after = mark_of(db, SITE), mark_of(db, OTHER)
    assert before[0] != after[0]
    assert before[1] != after[1]


def test_a_change_that_was_rolled_back_leaves_the_tag(db) -> None:
    before = pack_tag(db, CATALOGUE, device("crew", SITE), DAY)
    with pytest.raises(RuntimeError), write(db):
        db.conn.execute("UPDATE site SET name = 'Other'")
        raise RuntimeError
    assert pack_tag(db, CATALOGUE, device("crew", SITE), DAY) == before


def test_role_sites_day_and_catalogue_each_have_their_own_tag(db) -> None:
    seen = [device("crew", SITE), device("reader", SITE), device("crew", SITE, OTHER), device("crew"), device("lead")]
    tags = [pack_tag(db, CATALOGUE, one, day) for one in seen for day in (DAY, date(2026, 11, 26))]
    assert len(set(tags)) == len(tags)


def test_held_lines_and_devices_move_the_tag_of_leads_alone(db, client_of) -> None:
    crew, lead = device("crew", SITE), device("lead", SITE)
    before = [pack_tag(db, CATALOGUE, one, DAY) for one in (crew, lead)]
    marks = mark_of(db, TRAY), mark_of(db, DEVICES)
    client_of("crew", None)
    lane = Lane("held")
    lane.add(b"no entry at all")
    assert client_of("crew").post("/api/sync", data=lane.body()).json["acks"][0][2] == "q"
    after = [pack_tag(db, CATALOGUE, one, DAY) for one in (crew, lead)]
    assert (after[0] == before[0], after[1] == before[1]) == (True, False)
    assert mark_of(db, TRAY) != marks[0]
    assert mark_of(db, DEVICES) != marks[1]


def test_a_sync_with_nothing_new_moves_no_tag(db, client_of) -> None:
    client, lane = client_of("lead"), Lane("quiet")
    first = client.post("/api/sync", data=lane.body()).json["pack"]
    assert first is not None
    assert client.post("/api/sync", data=lane.body()).json["pack"] == first


def test_replay_and_a_table_made_anew_let_phones_ask_again(db) -> None:
    lead = device("lead")
    before = pack_tag(db, CATALOGUE, lead, DAY)
    with write(db):
        replay(db, CATALOGUE)
    after = pack_tag(db, CATALOGUE, lead, DAY)
    assert after != before
    with write(db):
        db.conn.execute("CREATE TABLE unit_new AS SELECT * FROM unit")
        db.conn.execute("DROP TABLE unit")
        db.conn.execute("ALTER TABLE unit_new RENAME TO unit")
        lay_marks(db)
    assert pack_tag(db, CATALOGUE, lead, DAY) != after
    laid = db.conn.execute("SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'unit'").fetchone()
    assert laid == (5,)


def test_an_old_folder_gets_marks_for_the_sites_it_has(db) -> None:
    db.conn.execute("DELETE FROM pack_mark")
    db.conn.execute("DROP TRIGGER pack_site_after_insert")
    with write(db):
        lay_marks(db)
    assert {row[0] for row in db.conn.execute("SELECT part FROM pack_mark")} == {SITE, OTHER, visits_of(SITE), visits_of(OTHER), TRAY, DEVICES}
