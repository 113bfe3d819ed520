"""What one sync request does: receipts, the tray, roles, privacy, scope, and that nothing of a bad one is lost."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.errors import BadHeader, DiskFull
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.apply import release_for
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import REVOKED_TRAY_BYTES, receive
from fieldlog.sync.release import FOR_A_NEWER_SERVER
from tests.sync.lines import START_MS, Lane, record_id
from tests.sync.taking import (
    CREW,
    DESK,
    INES,
    LEAD,
    OTHER_SITE,
    READER,
    ROW,
    SITE,
    UNIT,
    YEAR_MS,
    check_of,
    take,
    verdicts,
)


def test_an_entry_is_taken_once_and_its_record_stands_in_its_table(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c1"), check_of(exposed_height_mm=280))
    for _ in range(3):
        assert verdicts(take(db, crew)) == ["taken"]
    rows = db.execute("SELECT unit_id, found_state, exposed_height_mm, site_id, deleted FROM unit_check").fetchall()
    assert rows == [(UNIT, "seen", 280.0, SITE, 0)]


def test_a_later_entry_changes_only_what_it_names(db: Database, crew: Lane) -> None:
    first = crew.write("unit_check", record_id("c1"), check_of(exposed_height_mm=280))
    crew.write("unit_check", record_id("c1"), {"exposed_height_mm": 265}, b={"exposed_height_mm": [first]})
    take(db, crew)
    assert db.execute("SELECT found_state, exposed_height_mm FROM unit_check").fetchall() == [("seen", 265.0)]
    assert db.execute("SELECT count(*) FROM disagreement").fetchone() == (0,)


@pytest.mark.parametrize(
    ("fields", "why", "words"),
    [
        (check_of(exposed_height_mm=5000), "beyond-limit:exposed_height_mm", ["5000 mm", "3000 mm"]),
        (check_of(tilt_deg=-3), "beyond-limit:tilt_deg", ["-3", "0", "180"]),
        (check_of(exposed_height_mm="280"), "bad-type:exposed_height_mm", ["280"]),
        (check_of(body_grade=2.5), "bad-type:body_grade", ["2.5"]),
        (check_of(found_state="lost"), "beyond-limit:found_state", ["lost"]),
        (check_of(colour="red"), "unknown-field:colour", ["colour"]),
        (check_of(colour="red", tilt_deg=-3), "unknown-field:colour", ["colour", "-3"]),
    ],
)
def test_an_impossible_value_is_held_with_value_and_limit_and_its_text_kept(
    db: Database, crew: Lane, fields: dict[str, Any], why: str, words: list[str]
) -> None:
    crew.write("unit_check", record_id("c1"), fields)
    crew.write("unit_check", record_id("c2"), check_of())
    reply = take(db, crew)
    assert verdicts(reply) == [why, "taken"], "a held line delays nobody"
    assert all(word in reply["acks"][0][5] for word in words)
    assert db.execute("SELECT line FROM tray").fetchall() == [(crew.texts[0],)]


def test_an_implausible_value_is_taken(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c1"), check_of(exposed_height_mm=2500))
    assert verdicts(take(db, crew)) == ["taken"]


@pytest.mark.parametrize("fields", [check_of(exposed_height_mm=5000), check_of(exposed_height_mm=4000, tilt_deg=-3)])
def test_what_was_held_for_its_value_is_taken_by_a_server_that_allows_it(
    db: Database, crew: Lane, monkeypatch: pytest.MonkeyPatch, fields: dict[str, Any]
) -> None:
    crew.write("unit_check", record_id("c1"), fields)
    take(db, crew)
    assert release_for(db, CATALOGUE, START_MS, FOR_A_NEWER_SERVER) == 0, "nothing has changed yet"
    monkeypatch.setattr(CATALOGUE.kinds["unit_check"], "check", lambda _fields: [])
    assert release_for(db, CATALOGUE, START_MS, FOR_A_NEWER_SERVER) == 1


def test_a_kind_from_a_newer_phone_is_held_until_the_server_knows_it(db: Database, crew: Lane) -> None:
    crew.write("moon_phase", record_id("m"), {"lit_pct": 40})
    assert verdicts(take(db, crew)) == ["unknown-kind"]


def test_a_child_may_come_before_its_parent(db: Database, crew: Lane) -> None:
    crew.write("photo", record_id("p"), {
        "of_kind": "unit_check", "of_id": record_id("not here yet"), "sha256": "0" * 64, "taken_at": "2026-09-22T06:12:00Z",
    })  # fmt: skip
    assert verdicts(take(db, crew)) == ["taken"]


@pytest.mark.parametrize(
    ("device", "kind", "fields", "verdict"),
    [
        (CREW, "unit", {"tag": "A018"}, "not-permitted"),
        (CREW, "flag_decision", {"reason": "fine"}, "not-permitted"),
        (CREW, "person_private", {"person_id": INES}, "not-permitted"),
        (DESK, "unit_check", check_of(), "not-permitted"),
        (DESK, "person", {"display_name": "Sam Petrel"}, "taken"),
        (READER, "sighting", {"found": "seen"}, "not-permitted"),
        (LEAD, "unit", {"tag": "A018", "row_id": ROW, "slot_number": 1}, "taken"),
    ],
)
def test_a_role_writes_its_own_kinds_only(
    db: Database, crew: Lane, device: Device, kind: str, fields: dict[str, Any], verdict: str
) -> None:
    crew.write(kind, record_id("x"), fields, k="0" * 32)
    assert verdicts(take(db, crew, device)) == [verdict]


def test_nobody_writes_to_a_site_that_is_not_theirs(db: Database) -> None:
    lane = Lane("other", OTHER_SITE)
    lane.write("unit_check", record_id("c1"), check_of())
    assert verdicts(take(db, lane)) == ["not-permitted"]


def test_a_record_of_a_site_must_name_it(db: Database) -> None:
    lane = Lane("nowhere", None)
    lane.write("unit_check", record_id("c1"), check_of())
    assert verdicts(take(db, lane)) == ["bad-envelope"]


def test_an_author_unknown_here_is_waited_for(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c1"), check_of(), u=INES)
    assert verdicts(take(db, crew)) == ["unknown-person"]
    assert db.execute("SELECT count(*) FROM unit_check").fetchone() == (0,)
    desk = Lane("desk", SITE)
    desk.write("person", INES, {"display_name": "Ines Calder"})
    take(db, desk, DESK)
    assert db.execute("SELECT changed_by FROM unit_check").fetchall() == [(INES,)]
    echoed = take(db, crew, first=2)["pull"]
    assert [line for _seq, entry_id, _eff, line in echoed if entry_id == db.execute(
        "SELECT entry_id FROM log WHERE kind = 'unit_check'").fetchone()[0]] == [None]  # fmt: skip


def test_a_person_may_bring_themselves(db: Database, crew: Lane) -> None:
    crew.write("person", INES, {"display_name": "Ines Calder"}, u=INES)
    crew.write("unit_check", record_id("c1"), check_of(), u=INES)
    assert verdicts(take(db, crew)) == ["taken", "taken"]


def test_a_person_of_another_site_is_no_author_here(db: Database, crew: Lane) -> None:
    lead = Lane("lead", OTHER_SITE)
    lead.write("person", INES, {"display_name": "Ines Calder"})
    take(db, lead, LEAD)
    crew.write("unit_check", record_id("c1"), check_of(), u=INES)
    assert verdicts(take(db, crew)) == ["unknown-person"]


def test_a_private_line_needs_its_random_key(db: Database) -> None:
    lane = Lane("lead", SITE)
    lane.write("person_private", record_id("pp"), {"person_id": INES, "phone": "555 0100"})
    lane.write("person_private", record_id("pp"), {"person_id": INES, "phone": "555 0100"}, k="ab" * 16)
    assert verdicts(take(db, lane, LEAD)) == ["private-without-k", "taken"]


@pytest.mark.parametrize(("device", "sees"), [(LEAD, 4), (CREW, 2), (DESK, 2), (READER, 1)])
def test_what_a_role_may_not_see_never_travels_and_the_cursor_moves_past_it(
    db: Database, device: Device, sees: int
) -> None:
    lane = Lane("lead", SITE)
    lane.write("unit_check", record_id("c1"), check_of())
    lane.write("person", INES, {"display_name": "Ines Calder"})
    lane.write("person_private", record_id("pp"), {"person_id": INES, "phone": "555 0100"}, k="ab" * 16)
    lane.write("sign_in_private", record_id("sp"), {"sign_in_id": record_id("s")}, k="cd" * 16)
    take(db, lane, LEAD)
    reply = take(db, Lane("asker", SITE), device)
    assert len(reply["pull"]) == sees
    assert reply["cursor"][0] == 4 and reply["more"] is False
    assert take(db, Lane("asker", SITE), device, cursor=reply["cursor"])["pull"] == []


def test_two_sites_of_one_programme_do_not_see_each_other(db: Database) -> None:
    there = Lane("there", OTHER_SITE)
    there.write("unit_check", record_id("c1"), check_of())
    there.write("species", record_id("oyster"), {"scientific_name": "Ostrea"}, g=None)
    take(db, there, LEAD)
    pulled = take(db, Lane("here", SITE))["pull"]
    assert [json.loads(line)["t"] for *_, line in pulled] == ["species"]


def test_a_device_whose_sites_changed_starts_again(db: Database) -> None:
    lane = Lane("lead", OTHER_SITE)
    lane.write("unit_check", record_id("c1"), check_of())
    take(db, lane, LEAD)
    cursor = take(db, Lane("asker", SITE), CREW)["cursor"]
    wider = Device(CREW.device_id, "crew", frozenset({SITE, OTHER_SITE}), None, False)
    reply = take(db, Lane("asker", SITE), wider, cursor=cursor)
    assert reply["reset"] is True and len(reply["pull"]) == 1


def test_pages_follow_each_other_without_a_gap(db: Database, crew: Lane) -> None:
    for number in range(7):
        crew.write("unit_check", record_id(f"c{number}"), check_of())
    take(db, crew)
    seen, cursor, more = [], None, True
    while more:
        reply = take(db, Lane("asker", SITE), READER, cursor=cursor, want=3)
        seen += [row[0] for row in reply["pull"]]
        cursor, more = reply["cursor"], reply["more"]
    assert seen == list(range(1, 8))


def test_a_revoked_phone_leaves_its_lines_in_the_tray_and_is_given_nothing(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c1"), check_of())
    lost = Device(CREW.device_id, "crew", CREW.sites, None, True)
    reply = take(db, crew, lost)
    assert reply["revoked"] is True and reply["pull"] == [] and verdicts(reply) == ["revoked"]
    assert db.execute("SELECT line FROM tray").fetchall() == [(crew.texts[0],)]


def test_a_revoked_phone_leaves_five_megabytes_at_most(db: Database, crew: Lane) -> None:
    lost = Device(CREW.device_id, "crew", CREW.sites, None, True)
    for number in range(95):
        crew.write("unit_check", record_id(f"c{number}"), check_of(note="x" * 60_000))
    reply = take(db, crew, lost)
    kept = db.execute("SELECT sum(length(line)) FROM tray").fetchone()[0]
    assert REVOKED_TRAY_BYTES - 61_000 < kept <= REVOKED_TRAY_BYTES
    assert reply["top"][0] == len(reply["acks"]) < 95


def test_a_clock_years_ahead_is_ordered_by_the_server_and_its_claim_kept(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c1"), check_of(), s=f"{START_MS + 5 * YEAR_MS:012x}0000")
    reply = take(db, crew, now=START_MS + 5 * YEAR_MS)
    assert verdicts(reply) == ["taken"]
    assert int(reply["acks"][0][4][:12], 16) == crew.now_ms
    assert f"{START_MS + 5 * YEAR_MS:012x}".encode() in crew.texts[0]


def test_a_clock_hours_behind_is_taken_as_it_is(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c1"), check_of(), s=f"{START_MS - 3 * 3_600_000:012x}0000")
    assert int(take(db, crew)["acks"][0][4][:12], 16) == START_MS - 3 * 3_600_000


def test_a_cut_last_line_is_left_for_the_phone_to_send_again(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c1"), check_of())
    crew.write("unit_check", record_id("c2"), check_of())
    reply = receive(db, crew.body()[:-5], CATALOGUE, lambda: CREW, lambda: crew.now_ms)
    assert reply["top"][0] == 1 and verdicts(reply) == ["taken"]
    assert verdicts(take(db, crew, first=2)) == ["taken"]


def test_broken_json_is_held_at_its_number(db: Database, crew: Lane) -> None:
    crew.add(b"{not json")
    crew.write("unit_check", record_id("c1"), check_of())
    assert verdicts(take(db, crew)) == ["cannot-read", "taken"]


@pytest.mark.parametrize(
    "header",
    [{"p": 2}, {"rid": 5}, {"d": "short"}, {"from": 0}, {"from": True}, {"prev": "x"}, {"mine": -1}, {"cursor": [1]},
     {"cursor": ["1", ""]}, {"want": "many"}, {"now": None}, {"app": 7}],
)  # fmt: skip
def test_a_header_that_cannot_be_read_is_refused_and_nothing_is_stored(
    db: Database, crew: Lane, header: dict[str, Any]
) -> None:
    crew.write("unit_check", record_id("c1"), check_of())
    with pytest.raises(BadHeader, match="nothing is lost"):
        take(db, crew, **header)
    assert db.execute("SELECT count(*) FROM log").fetchone() == (0,)


@pytest.mark.parametrize("body", [b"", b"\n", b"not json\n", b"[]\n", b"{}", b"\xff\xfe\n"])
def test_a_body_without_a_header_is_refused(db: Database, body: bytes) -> None:
    with pytest.raises(BadHeader):
        receive(db, body, CATALOGUE, lambda: CREW, lambda: START_MS)


def test_a_fix_marks_what_it_fixes(db: Database, crew: Lane) -> None:
    wrong = crew.write("unit_check", record_id("c1"), check_of(exposed_height_mm=5000))
    right = crew.write("unit_check", record_id("c1"), check_of(exposed_height_mm=500), fixes=wrong)
    take(db, crew)
    assert db.execute("SELECT resolved_by FROM tray").fetchall() == [(right,)]


def test_a_fix_that_is_taken_back_leaves_the_line_to_be_fixed(db: Database, crew: Lane) -> None:
    """Before, leads were not shown it again: its text was in no record and in no list."""
    wrong = crew.write("unit_check", record_id("c1"), check_of(exposed_height_mm=5000))
    crew.write("unit_check", record_id("c1"), check_of(exposed_height_mm=500), fixes=wrong)
    crew.write("unit_check", record_id("c1"), {"_deleted": True}, reopens=wrong)
    take(db, crew)
    assert db.execute("SELECT resolved_by FROM tray").fetchall() == [(None,)]
    again = crew.write("unit_check", record_id("c1"), check_of(exposed_height_mm=500, _deleted=False), fixes=wrong)
    take(db, crew)
    assert db.execute("SELECT resolved_by FROM tray").fetchall() == [(again,)]


def test_a_full_disk_keeps_nothing_of_the_request(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c0"), check_of())
    take(db, crew)
    for number in range(200):
        crew.write("unit_check", record_id(f"c{number}"), check_of(note="x" * 1000))
    pages = db.execute("PRAGMA page_count").fetchone()[0]
    db.execute(f"PRAGMA max_page_count = {pages + 3}")  # SQLite then answers as on a full disk
    with pytest.raises(DiskFull, match="phones keep their entries"):
        take(db, crew)
    assert db.execute("SELECT top FROM lane").fetchall() == [(1,)]
    db.execute("PRAGMA max_page_count = 1000000")
    assert set(verdicts(take(db, crew))) == {"taken"}


def test_the_log_is_one_chain(db: Database, crew: Lane) -> None:
    for number in range(3):
        crew.write("unit_check", record_id(f"c{number}"), check_of())
    take(db, crew)
    rows: list[sqlite3.Row] = db.execute("SELECT seq, ch FROM log ORDER BY seq").fetchall()
    assert [ch for _seq, ch in rows] == crew.chain[1:]


def test_a_restored_server_that_orders_a_line_anew_starts_every_phone_again(tmp_path: Path, crew: Lane) -> None:
    """The line is the same, its stamp is clamped a second time and later: the chain of the log must show it."""
    crew.write("unit_check", record_id("c1"), check_of(), s=f"{START_MS + 5 * YEAR_MS:012x}0000")
    cursors = []
    for name in ("before", "restored"):
        create_programme(tmp_path / name, "Alder Spit").close()
        db = open_programme(tmp_path / name, CATALOGUE, START_MS).db()
        take(db, crew)
        cursors.append(take(db, Lane("asker", SITE))["cursor"])
        crew.now_ms += 60_000
    assert cursors[0][0] == cursors[1][0] and cursors[0][1] != cursors[1][1]
    assert take(db, Lane("asker", SITE), cursor=cursors[0])["reset"] is True
