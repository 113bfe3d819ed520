"""A file in a lane of an older phone proves nothing: it writes as an unknown crew of one site, whosever the lane is."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient

from fieldlog.exported import Took, take_exported
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, set_setting
from tests.flags.shore import SITE_FIELDS
from tests.sync.lines import REQUIRED, Lane, keyed_lane, record_id

SITE, CHECK, SEEN = record_id("Alder Spit"), record_id("a check"), record_id("seen")
SAID = {"unit_id": record_id("B001"), "checked_at": "2026-11-24T06:12:00Z", "found_state": "seen"}


def sent(client: FlaskClient, lane: Lane, first: int = 1, **header: Any) -> list[str]:
    reply = client.post("/api/sync", data=lane.body(first, **header)).json
    assert reply["err"] is None, reply
    return ["taken" if ack[2] == "ok" else ack[4] for ack in reply["acks"]]


@pytest.fixture
def lead(client_of: Callable[..., FlaskClient]) -> tuple[FlaskClient, Lane]:
    """A lead with a phone of version 0.2.0, who has set up the site and made a check."""
    client, lane = client_of("lead"), Lane("an old lead's lane", SITE)
    lane.write("site", SITE, SITE_FIELDS)
    lane.write("unit_check", CHECK, SAID)
    lane.write("unit_check", record_id("too far"), {**SAID, "tilt_deg": 500})
    assert sent(client, lane)[:2] == ["taken", "taken"]
    return client, lane


@pytest.fixture
def taken(programme: Programme) -> Callable[..., Took]:
    """taken(lane, first): what became of a file with a lane's lines from that number on."""
    return lambda lane, first, **header: take_exported(programme.db(), lane.body(first, **header), CATALOGUE, 1_790_000_900_000, "a file", SITE)


def verdicts(programme: Programme, lane: Lane, first: int) -> list[str]:
    held = dict(programme.db().conn.execute("SELECT number, why FROM tray WHERE lane_id = ?", (lane.lane_id,)).fetchall())
    return [held.get(number, "taken") for number in range(first, len(lane.texts) + 1)]


def open_lines(programme: Programme) -> set[int]:
    return {row[0] for row in programme.db().conn.execute("SELECT number FROM tray WHERE resolved_by IS NULL").fetchall()}


@pytest.mark.parametrize("removed", [True, False])
def test_it_removes_nothing_that_the_lanes_device_made(lead, taken, programme: Programme, removed: bool) -> None:
    lane = lead[1]
    lane.write("unit_check", CHECK, {"_deleted": removed})
    taken(lane, 4)
    assert verdicts(programme, lane, 4) == ["not-yours"]


def test_it_removes_nothing_of_a_crews_device_either(lead, client_of, taken, programme: Programme) -> None:
    crew, lane = client_of("crew", SITE), Lane("an old crew's lane", SITE)
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    assert sent(crew, lane) == ["taken"]
    lane.write("sighting", SEEN, {"_deleted": True})
    taken(lane, 2)
    assert verdicts(programme, lane, 2) == ["not-yours"]


def test_it_hides_no_held_line_of_the_lanes_device(lead, taken, programme: Programme) -> None:
    lane = lead[1]
    held = programme.db().conn.execute("SELECT entry_id FROM tray").fetchone()[0]
    lane.write("sighting", SEEN, REQUIRED["sighting"], fixes=held)
    taken(lane, 4)
    assert verdicts(programme, lane, 4) == ["taken"]
    assert open_lines(programme) == {3}


def test_what_is_held_of_it_is_released_by_its_own_rights_and_not_by_those_of_the_lanes_device(
    lead, client_of, taken, programme: Programme
) -> None:
    lane, late = lead[1], record_id("a late author")
    lane.write("sighting", SEEN, {"_deleted": True})
    lane.write("sighting", record_id("by a late author"), REQUIRED["sighting"], u=late)
    taken(lane, 4)
    assert verdicts(programme, lane, 4) == ["waits-for-first", "unknown-person"]
    crew = keyed_lane("crew", SITE)
    crew.write("sighting", SEEN, REQUIRED["sighting"])
    crew.write("person", late, {"display_name": "Late"})
    assert sent(client_of("crew", SITE), crew) == ["taken", "taken"]
    assert verdicts(programme, lane, 4) == ["not-yours", "taken"]
    assert programme.db().conn.execute("SELECT deleted FROM sighting WHERE record_id = ?", (SEEN,)).fetchone() == (0,)


def test_what_it_makes_itself_it_also_removes_and_mends_and_so_does_the_lanes_device(lead, taken, programme: Programme) -> None:
    client, lane = lead
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    held = lane.write("sighting", record_id("odd"), {**REQUIRED["sighting"], "count": -5})
    lane.write("sighting", record_id("odd"), REQUIRED["sighting"], fixes=held)
    for number in range(60):
        lane.write("sighting", record_id(f"seen {number}"), REQUIRED["sighting"])
    lane.write("sighting", SEEN, {"_deleted": True})
    took = taken(lane, 4)
    assert (took.lines, took.taken, took.held) == (64, 63, 1)
    assert open_lines(programme) == {3}
    lane.write("sighting", record_id("seen 7"), {"_deleted": True})
    assert sent(client, lane, len(lane.texts)) == ["taken"]


def test_a_second_file_removes_nothing_that_the_first_made(lead, taken, programme: Programme) -> None:
    for lane in (lead[1], Lane("a lane that nobody opened", SITE)):
        first = len(lane.texts) + 1
        lane.write("sighting", record_id(lane.lane_id), REQUIRED["sighting"])
        taken(lane, first)
        lane.write("sighting", record_id(lane.lane_id), {"_deleted": True})
        taken(lane, first + 1)
        assert verdicts(programme, lane, first) == ["taken", "not-yours"]


def devices(programme: Programme) -> list[tuple[Any, ...]]:
    return list(programme.db().conn.execute("SELECT device_id, role, sites, person_id, seen_at, app, skew_ms FROM device").fetchall())


def test_giving_it_again_changes_nothing_and_nothing_is_noted_of_the_lanes_device(lead, taken, programme: Programme) -> None:
    client, lane = lead
    before = {row[0]: row for row in devices(programme)}
    assert (taken(lane, 1, person=record_id("Sam")).known, devices(programme)) == (3, list(before.values()))
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    assert taken(lane, 1, person=record_id("Sam"), app="9.9").taken == 1
    once = devices(programme)
    assert [row for row in once if row[0] in before] == list(before.values())
    ((_, role, sites, *_rest),) = [row for row in once if row[0] not in before]
    assert (role, json.loads(sites)) == ("crew", [SITE])
    again = taken(lane, 1)
    assert (again.known, again.taken, devices(programme)) == (4, 0, once)
    lane.write("closure", record_id("closed"), {"from_date": "2026-12-01", "to_date": "2026-12-02", "reason": "nests"})
    assert sent(client, lane, 5)[0] != "not-permitted", "the lane's own device lost its rights"


def test_lines_of_a_revoked_devices_lane_stay_held(lead, client_of, taken, programme: Programme) -> None:
    crew, lane = client_of("crew", SITE), Lane("an old crew's lane", SITE)
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    assert sent(crew, lane) == ["taken"]
    assert lead[0].delete(f"/api/devices/{crew.device_id}").status_code == 204
    lane.write("sighting", record_id("later"), REQUIRED["sighting"])
    taken(lane, 2)
    assert verdicts(programme, lane, 2) == ["revoked"]


def test_a_lane_with_a_key_is_not_taken_from_a_file_without_it_and_nobody_is_blamed(lead, client_of, taken, programme: Programme) -> None:
    crew, lane = client_of("crew", SITE), keyed_lane("crew", SITE)
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    assert sent(crew, lane) == ["taken"]
    before = devices(programme)
    for key in (None, "0" * 32):
        lane.key = key
        for first in (1, 2):
            took = taken(lane, first)
            assert (took.taken, took.held) == (0, 0)
            assert "the file has no key for it" in took.sentences[0]
        lane.write("sighting", record_id(f"forged {key}"), REQUIRED["sighting"])
    assert devices(programme) == before
    assert programme.db().conn.execute("SELECT count(*) FROM incident").fetchone() == (0,)
    stranger = keyed_lane("nobody's", SITE)
    stranger.key = None
    stranger.write("sighting", record_id("nobody's"), REQUIRED["sighting"])
    assert "has no key for it" in taken(stranger, 1).sentences[0]
    assert devices(programme) == before


def test_lines_held_until_the_lanes_device_is_confirmed_come_by_the_files_rights(lead, client_of, taken, programme: Programme) -> None:
    crew, lane, db = client_of("crew", SITE), Lane("an old crew's lane", SITE), programme.db()
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    assert sent(crew, lane) == ["taken"]
    db.conn.execute("UPDATE device SET unconfirmed = 1 WHERE device_id = ?", (crew.device_id,))
    set_setting(db, "restored_at", "1790000000000")
    lane.write("sighting", SEEN, {"_deleted": True})
    lane.write("sighting", record_id("another"), REQUIRED["sighting"])
    taken(lane, 2)
    assert verdicts(programme, lane, 2) == ["unconfirmed", "unconfirmed"]
    assert lead[0].post(f"/api/devices/{crew.device_id}/confirm").status_code == 200
    assert verdicts(programme, lane, 2) == ["not-yours", "taken"]
