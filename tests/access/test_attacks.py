"""Joined devices that reach for what is not theirs: other lanes, other sites, other people's records."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from fieldlog.records.person import PERSON
from fieldlog.store import Programme, write
from fieldlog.sync.release import AT_ONCE
from tests.flags.shore import SITE_FIELDS
from tests.sync.lines import REQUIRED, Lane, keyed_lane, record_id

HERE, THERE = record_id("Alder Spit"), record_id("Heron Bar")
INES, UNIT, CHECK = record_id("Ines"), record_id("B001"), record_id("a check at Heron Bar")
SAID = {"unit_id": UNIT, "checked_at": "2026-11-24T06:12:00Z", "found_state": "seen"}
PRIVATE = {"person_private", "sign_in_private"}


def send(client: FlaskClient, lane: Lane, first: int = 1, **header: Any) -> dict[str, Any]:
    answer = client.post("/api/sync", data=lane.body(first, **header))
    assert answer.status_code == 200, answer.json
    return dict(answer.json)


def verdicts(reply: dict[str, Any]) -> list[str]:
    return ["taken" if ack[2] == "ok" else ack[4] for ack in reply["acks"]]


def told(reply: dict[str, Any]) -> set[str]:
    """The kinds whose text came down."""
    return {json.loads(line)["t"] for *_, line in reply["pull"] if line is not None}


@pytest.fixture
def lead(client_of: Callable[..., FlaskClient]) -> tuple[FlaskClient, Lane]:
    """A lead of the whole programme who has set up two sites, a unit, a check there and a person's private records."""
    client, lane = client_of("lead"), keyed_lane("lead", HERE)
    for site, name in ((HERE, "Alder Spit"), (THERE, "Heron Bar")):
        lane.write("site", site, {**SITE_FIELDS, "name": name}, g=site)
    lane.write("person", INES, {"display_name": "Ines Calder", "minor": True})
    lane.write("person_private", record_id("contact"), {"person_id": INES, "phone": "555 0100"}, k="ab" * 16)
    lane.write("sign_in_private", record_id("note"), {"sign_in_id": record_id("s"), "medical_note": "asthma"}, k="cd" * 16)
    lane.write("unit", UNIT, {"tag": "B001", "row_id": record_id("row"), "slot_number": 1}, g=THERE)
    lane.write("unit_check", CHECK, SAID, g=THERE)
    assert set(verdicts(send(client, lane))) == {"taken"}
    return client, lane


@pytest.mark.parametrize(("role", "site"), [("crew", HERE), ("reader", HERE), ("crew", THERE), ("crew", None), ("desk", HERE)])
def test_showing_another_devices_lane_gives_none_of_its_private_lines(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], role: str, site: str | None
) -> None:
    reply = send(client_of(role, site), Lane("lead"), d=lead[1].lane_id, mine=0)
    assert not told(reply) & PRIVATE
    assert reply["acks"] == []


def test_a_lane_is_not_taken_over_by_playing_its_lines_again(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane]
) -> None:
    copied = Lane("lead", HERE)
    copied.lane_id, copied.texts, copied.chain, copied.now_ms = lead[1].lane_id, [*lead[1].texts], [*lead[1].chain], lead[1].now_ms
    copied.write("sighting", record_id("forged"), {"found": "seen", "seen_at": "2026-11-24T06:12:00Z"})
    for first in (1, len(lead[1].texts) + 1):
        reply = send(client_of("crew", HERE), copied, first)
        assert (reply["err"], reply["acks"]) == ("fork", [])
    assert verdicts(send(*lead)) == ["taken"] * len(lead[1].texts)


def test_a_lane_that_a_restored_backup_lacks_is_opened_by_its_key_only(client_of: Callable[..., FlaskClient]) -> None:
    theirs = keyed_lane("theirs", HERE)
    theirs.write("sighting", record_id("seen"), {"found": "seen", "seen_at": "2026-11-24T06:12:00Z"})
    squatter = client_of("lead")
    for key in ({}, {"key": "0" * 32}):
        theirs.key = key.get("key")
        assert send(squatter, theirs)["err"] == "fork"


def test_a_device_that_shows_a_lane_of_others_stands_in_the_list_of_incidents(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    stranger = client_of("crew", HERE)
    for _ in range(3):
        send(stranger, Lane("lead"), d=lead[1].lane_id, mine=0)
    rows = programme.db().execute("SELECT device_id, lane_id, times FROM incident").fetchall()
    assert rows == [(stranger.device_id, lead[1].lane_id, 3)]


def test_a_bare_header_makes_no_lane(client_of: Callable[..., FlaskClient], programme: Programme) -> None:
    send(client_of("crew"), Lane("never written"))
    assert programme.db().execute("SELECT count(*) FROM lane").fetchone() == (0,)


@pytest.mark.parametrize(
    ("role", "kind", "record", "fields", "site", "why"),
    [
        ("crew", "unit_check", CHECK, {"note": "moved here"}, HERE, "other-site"),
        ("crew", "unit_check", CHECK, {"_deleted": True}, HERE, "other-site"),
        ("crew", "unit_check", CHECK, {"_deleted": True}, THERE, "not-permitted"),
        ("lead", "site", THERE, {"walk_out_min": 0}, HERE, "other-site"),
        ("lead", "site", THERE, {"allowance_m": 0}, THERE, "not-permitted"),
        ("lead", "site", THERE, {"_deleted": True}, None, "other-site"),
        ("lead", "species", record_id("oyster"), {"scientific_name": "Ostrea", "common_name": "Oyster"}, None, "not-permitted"),
        ("crew", "person", record_id("Sam"), {"display_name": "Sam Petrel"}, None, "not-permitted"),
    ],
)
def test_what_belongs_to_another_site_is_not_written(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], role: str, kind: str, record: str,
    fields: dict[str, Any], site: str | None, why: str,
) -> None:  # fmt: skip
    lane = keyed_lane("of Alder Spit", HERE)
    lane.write(kind, record, fields, g=site)
    assert verdicts(send(client_of(role, HERE), lane)) == [why]


def test_a_records_site_is_that_of_its_first_entry_whatever_a_later_one_claims_of_its_time(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    lane = keyed_lane("crew of both", HERE)
    lane.write("unit_check", CHECK, {"note": "moved"}, s="0" * 16)
    assert verdicts(send(lead[0], lane)) == ["other-site"]
    assert programme.db().execute("SELECT site_id FROM unit_check").fetchall() == [(THERE,)]


@pytest.mark.parametrize("removed", [True, False])
def test_crew_removes_only_what_its_own_device_made(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], removed: bool
) -> None:
    crew, lane = client_of("crew", THERE), keyed_lane("crew", THERE)
    lane.write("unit_check", record_id("own"), SAID)
    lane.write("unit_check", record_id("own"), {"_deleted": removed})
    lane.write("unit_check", CHECK, {"_deleted": removed})
    assert verdicts(send(crew, lane)) == ["taken", "taken", "not-yours"]
    other, theirs = client_of("crew", THERE), keyed_lane("other crew", THERE)
    theirs.write("unit_check", record_id("own"), {"_deleted": removed})
    assert verdicts(send(other, theirs)) == ["not-yours"]
    lead[1].write("unit_check", record_id("own"), {"_deleted": removed}, g=THERE)
    assert verdicts(send(lead[0], lead[1], len(lead[1].texts)))[-1] == "taken"


@pytest.mark.parametrize(("role", "minor", "why"), [
    ("crew", False, "not-permitted"), ("crew", None, "not-permitted"), ("crew", True, "taken"), ("desk", False, "taken"),
])  # fmt: skip
def test_crew_says_that_somebody_is_a_minor_and_never_that_they_are_none(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], role: str, minor: bool | None, why: str
) -> None:
    lane = keyed_lane("of Alder Spit", HERE)
    lane.write("person", INES, {"minor": minor})
    assert verdicts(send(client_of(role, HERE), lane)) == [why]


def test_who_makes_a_person_may_say_anything_of_them_and_crew_gives_no_waiver_later(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane]
) -> None:
    lane = keyed_lane("crew", HERE)
    lane.write("person", record_id("Sam"), {"display_name": "Sam Petrel", "minor": False, "waiver_valid": True})
    lane.write("person", INES, {"waiver_valid": True})
    assert verdicts(send(client_of("crew", HERE), lane)) == ["taken", "not-permitted"]
    assert PERSON.fields["waiver_valid"].metadata["x-crew"] == "never"


def test_a_fix_hides_a_held_line_of_its_own_device_or_of_a_device_that_the_lead_covers(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    lane = keyed_lane("crew there", THERE)
    held = lane.write("unit_check", record_id("c9"), {**SAID, "tilt_deg": 500})
    send(client_of("crew", THERE), lane)

    def hidden_by(role: str, site: str) -> bool:
        other = keyed_lane(f"{role} {site}", site)
        other.write("sighting", record_id(f"{role} {site}"), {"found": "seen", "seen_at": "2026-11-24T06:12:00Z"}, fixes=held)
        assert verdicts(send(client_of(role, site), other)) == ["taken"]
        return bool(programme.db().execute("SELECT resolved_by IS NOT NULL FROM tray WHERE entry_id = ?", (held,)).fetchone()[0])

    assert [hidden_by("crew", HERE), hidden_by("crew", THERE), hidden_by("lead", HERE), hidden_by("lead", THERE)] == [False, False, False, True]


def test_a_fix_is_taken_back_by_the_device_that_made_it_alone(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    client, lane = client_of("crew", HERE), keyed_lane("crew here", HERE)
    held = lane.write("unit_check", record_id("c9"), {**SAID, "tilt_deg": 500})
    seen = {"found": "seen", "seen_at": "2026-11-24T06:12:00Z"}
    lane.write("sighting", record_id("fix"), seen, fixes=held)
    send(client, lane)

    def is_hidden() -> bool:
        return bool(programme.db().execute("SELECT resolved_by IS NOT NULL FROM tray WHERE entry_id = ?", (held,)).fetchone()[0])

    for role, site in (("crew", HERE), ("lead", HERE), ("lead", THERE)):
        other = keyed_lane(f"{role} {site} reopens", site)
        other.write("sighting", record_id(f"{role} {site} reopens"), seen, reopens=held)
        assert verdicts(send(client_of(role, site), other)) == ["taken"]
        assert is_hidden()
    lane.write("sighting", record_id("fix"), {"_deleted": True}, reopens=held)
    assert verdicts(send(client, lane)) == ["beyond-limit:tilt_deg", "taken", "taken"]
    assert not is_hidden()


def test_old_private_lines_of_no_site_go_to_leads_of_the_whole_programme_only(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    programme.db().execute("UPDATE log SET site_id = NULL WHERE kind = 'person_private'")
    assert "person_private" not in told(send(client_of("lead", HERE), keyed_lane("asks", HERE)))
    assert "person_private" in told(send(client_of("lead"), keyed_lane("asks too", HERE)))


def test_a_private_record_is_of_a_site(client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane]) -> None:
    lead[1].write("person_private", record_id("new"), {"person_id": INES, "phone": "555 0101"}, k="ab" * 16, g=None)
    assert verdicts(send(lead[0], lead[1], len(lead[1].texts))) == ["bad-envelope"]


def test_a_name_that_is_of_another_site_is_held_before_anything_of_the_record_came(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane]
) -> None:
    digits = "0192f0c4000080008000abcd"
    name = str(uuid.UUID(digits + hashlib.sha256(f"{THERE}|{digits}".encode()).hexdigest()[:8]))
    squatter = keyed_lane("crew here", HERE)
    squatter.write("sighting", name, REQUIRED["sighting"])
    assert verdicts(send(client_of("crew", HERE), squatter)) == ["other-site"]
    owner = keyed_lane("crew there", THERE)
    owner.write("sighting", name, REQUIRED["sighting"])
    assert verdicts(send(client_of("crew", THERE), owner)) == ["taken"]


def test_a_record_is_whole_when_it_is_made_and_what_came_before_that_waits(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    early, late = keyed_lane("early", HERE), keyed_lane("late", HERE)
    early.write("sighting", record_id("seen"), {"note": "three of them"})
    late.write("sighting", record_id("seen"), {"found": "seen", "seen_at": None})
    late.write("sighting", record_id("seen"), REQUIRED["sighting"])
    crew = client_of("crew", HERE)
    assert verdicts(send(crew, early)) == ["waits-for-first"]
    assert programme.db().execute("SELECT count(*) FROM sighting").fetchone() == (0,)
    assert verdicts(send(client_of("crew", HERE), late)) == ["missing:seen_at", "taken"]
    assert programme.db().execute("SELECT note FROM sighting").fetchall() == [("three of them",)]
    news = send(crew, early, 2)["pull"]
    assert [line for _, entry_id, _, line in news if entry_id == send(crew, early)["acks"][0][1]] == [None]


def test_what_waits_for_a_record_of_another_site_stays_held(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    early, late = keyed_lane("early", HERE), keyed_lane("late", THERE)
    early.write("sighting", record_id("seen"), {"note": "planted"})
    late.write("sighting", record_id("seen"), REQUIRED["sighting"])
    send(client_of("crew", HERE), early)
    assert verdicts(send(client_of("crew", THERE), late)) == ["taken"]
    assert programme.db().execute("SELECT why FROM tray").fetchall() == [("other-site",)]
    assert programme.db().execute("SELECT note, site_id FROM sighting").fetchall() == [(None, THERE)]


def test_a_line_of_a_revoked_device_is_never_released(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    early, late = keyed_lane("early", HERE), keyed_lane("late", HERE)
    early.write("sighting", record_id("seen"), {"note": "three of them"})
    late.write("sighting", record_id("seen"), REQUIRED["sighting"])
    lost = client_of("crew", HERE)
    send(lost, early)
    assert lead[0].delete(f"/api/devices/{lost.device_id}").status_code == 204
    send(client_of("crew", HERE), late)
    assert programme.db().execute("SELECT why FROM tray").fetchall() == [("waits-for-first",)]


def test_an_author_is_read_from_the_line_however_its_json_is_spaced(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane]
) -> None:
    lane = keyed_lane("crew", HERE)
    lane.write("sighting", record_id("seen"), REQUIRED["sighting"], u=INES)
    spaced = keyed_lane("crew", HERE)
    spaced.add(lane.texts[0].replace(b'"u":', b'"u": '))
    assert verdicts(send(client_of("crew", HERE), spaced)) == ["taken"]


def test_a_record_that_a_release_began_is_not_begun_again_within_the_same_request(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    """A crew asks for a held record, releases it with its author, and would make it once more in the next lines."""
    late, child = record_id("a late author"), record_id("a child")
    desk = keyed_lane("desk", HERE, late)
    desk.write("person", child, {"display_name": "Child", "minor": True, "waiver_valid": False})
    assert verdicts(send(client_of("desk", HERE), desk)) == ["unknown-person"]
    crew = keyed_lane("crew", HERE)
    crew.write("person", child, {"minor": False})
    crew.write("person", late, {"display_name": "Late"})
    for number in range(30):
        crew.write("sighting", record_id(f"seen {number}"), REQUIRED["sighting"])
    crew.write("person", child, {"display_name": "Child", "minor": False, "waiver_valid": True})
    crew.write("person", child, {"_deleted": True})
    assert verdicts(send(client_of("crew", HERE), crew))[-2:] == ["not-permitted", "not-yours"]
    row = programme.db().execute("SELECT minor, waiver_valid, deleted FROM person WHERE record_id = ?", [child]).fetchone()
    assert row == (1, 0, 0)


def test_what_waited_for_one_person_does_not_come_in_one_transaction(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], app: Flask
) -> None:
    """A device may leave ten thousand lines that wait; whoever brings what they wait for would keep all others from writing."""
    late, waiting = record_id("a late author"), keyed_lane("waiting", HERE, record_id("a late author"))
    for number in range(2 * AT_ONCE + 10):
        waiting.write("sighting", record_id(f"waits {number}"), REQUIRED["sighting"])
    client = client_of("crew", HERE)
    assert set(verdicts(send(client, waiting))) == {"unknown-person"}
    said: list[str] = []
    conn = app.extensions["programme"].db().conn
    conn.set_trace_callback(said.append)
    brings = keyed_lane("brings", HERE)
    brings.write("person", late, {"display_name": "Late"})
    assert verdicts(send(client_of("crew", HERE), brings)) == ["taken"]
    conn.set_trace_callback(None)
    at_once = [part.count("INSERT INTO log VALUES") for part in "\n".join(said).split("BEGIN")]
    assert sum(at_once) == 1 + len(waiting.texts)
    assert max(at_once) == 1 + AT_ONCE
    assert set(verdicts(send(client, waiting))) == {"taken"}


def test_what_waited_when_its_device_was_not_confirmed_is_taken_when_it_is(
    client_of: Callable[..., FlaskClient], lead: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    late, lane, client = record_id("a late author"), keyed_lane("waits", HERE, record_id("a late author")), client_of("crew", HERE)
    lane.write("sighting", record_id("waits"), REQUIRED["sighting"])
    assert verdicts(send(client, lane)) == ["unknown-person"]
    with write(programme.db()):
        programme.db().execute("UPDATE device SET unconfirmed = 1 WHERE device_id = ?", [client.device_id])
    brings = keyed_lane("brings", HERE)
    brings.write("person", late, {"display_name": "Late"})
    send(client_of("crew", HERE), brings)
    assert lead[0].post(f"/api/devices/{client.device_id}/confirm").status_code == 200
    assert verdicts(send(client, lane)) == ["taken"]
