"""Whose a lane is: by its key, or by the device that opened it; and what a phone that joined again finds."""

from __future__ import annotations

from sqlite_utils import Database

from fieldlog.access.devices import Device
from tests.sync.lines import Lane, keyed_lane, record_id
from tests.sync.taking import ROW, SITE, check_of, take, verdicts


def test_a_lane_of_another_device_is_not_written_to(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c1"), check_of())
    take(db, crew)
    forger = Lane("crew", SITE)
    forger.write("unit_check", record_id("c2"), check_of())
    stranger = Device("stranger", "crew", frozenset({SITE}), None, False)
    assert take(db, forger, stranger)["err"] == "fork"
    assert db.execute("SELECT count(*) FROM log").fetchone() == (1,)


def test_a_phone_that_joined_again_goes_on_in_its_keyed_lane(db: Database) -> None:
    lane = keyed_lane("crew", SITE)
    lane.write("unit_check", record_id("c1"), check_of())
    take(db, lane)
    lane.write("unit_check", record_id("c2"), check_of())
    again = Device("joined-again", "crew", frozenset({SITE}), None, False)
    assert verdicts(take(db, lane, again, first=2)) == ["taken"]
    assert db.execute("SELECT device_id FROM lane").fetchall() == [("joined-again",)]


def test_an_older_phone_that_joined_again_writes_anew_only_what_was_unsent(db: Database, crew: Lane) -> None:
    for name in ("c1", "c2"):
        crew.write("unit_check", record_id(name), check_of())
    take(db, crew)
    crew.write("unit_check", record_id("c3"), check_of())
    again = Device("joined-again", "crew", frozenset({SITE}), None, False)
    reply = take(db, crew, again, first=3)
    assert (reply["err"], reply["acks"], reply["top"]) == ("fork", [], [2, ""])
    assert db.execute("SELECT times FROM incident").fetchall() == [(1,)]
    # It asks for its retired lane without lines ever after: it hears what it may read, and is nothing to look into.
    retired = Lane("crew", SITE)
    retired.texts, retired.chain = crew.texts[:2], crew.chain[:3]
    asked = take(db, retired, again, first=3)
    assert (asked["err"], asked["top"], len(asked["pull"])) == (None, [2, ""], 2)
    assert db.execute("SELECT times FROM incident").fetchall() == [(1,)]


def test_what_was_held_for_its_senders_sake_is_written_anew_under_the_new_name(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c1"), check_of())
    crew.write("unit", record_id("u"), {"tag": "A018", "row_id": ROW, "slot_number": 1})
    crew.write("unit_check", record_id("c2"), check_of())
    take(db, crew)
    lead = Device("joined-as-lead", "lead", None, None, False)
    crew.write("unit_check", record_id("c3"), check_of())
    assert take(db, crew, lead, first=4)["top"] == [1, ""]


def test_what_was_held_of_another_lane_does_not_count(db: Database, crew: Lane) -> None:
    other = Lane("other", SITE)
    other.write("unit", record_id("u1"), {"tag": "A017", "row_id": ROW, "slot_number": 1})
    for name in ("c1", "c2"):
        crew.write("unit_check", record_id(name), check_of())
    crew.write("unit", record_id("u2"), {"tag": "A018", "row_id": ROW, "slot_number": 2})
    for lane in (other, crew):
        take(db, lane)
    crew.write("unit_check", record_id("c3"), check_of())
    lead = Device("joined-as-lead", "lead", None, None, False)
    assert take(db, crew, lead, first=4)["top"] == [2, ""]


def test_a_line_whose_forerunner_never_came_is_not_taken(db: Database, crew: Lane) -> None:
    for name in ("c1", "c2"):
        crew.write("unit_check", record_id(name), check_of())
    reply = take(db, crew, first=2)
    assert (reply["err"], reply["acks"]) == ("gap", [])
    assert db.execute("SELECT count(*) FROM log").fetchone() == (0,)
    assert verdicts(take(db, crew)) == ["taken", "taken"]
