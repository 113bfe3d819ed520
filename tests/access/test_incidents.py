"""What leads see of devices that reached for what is not theirs, and of devices on which several people wrote."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest

from a_phone import Phone
from fieldlog import create_app
from fieldlog.access.incidents import incident_sentence, list_incidents
from fieldlog.doctor import examine
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import connect
from tests.sync.lines import REQUIRED, keyed_lane

SITE_1, SITE_2 = str(uuid.uuid4()), str(uuid.uuid4())
INES, TOBIAS = str(uuid.uuid4()), str(uuid.uuid4())


@pytest.fixture
def now_ms(now) -> int:
    return int(now().timestamp() * 1000)


@pytest.fixture
def lead(client_of, now_ms) -> Phone:
    """A lead who set up two sites and two people of the first."""
    phone = Phone(client_of("lead"), now_ms)
    for site_id in (SITE_1, SITE_2):
        phone.note("site", site_id, site_id, **REQUIRED["site"])
    for person_id, name in ((INES, "Ines Calder"), (TOBIAS, "Tobias Wren")):
        phone.note("person", person_id, SITE_1, display_name=name)
    assert {ack[2] for ack in phone.sync().json["acks"]} == {"ok"}
    return phone


def reaches(phone: Phone, other: Phone) -> Any:
    """Ask in the name of another's lane, as its pulled lines would let anyone."""
    return phone.client.post("/api/sync", data=Phone.body(phone, d=other.lane_id, mine=0))


def incidents_of(client) -> list[dict[str, Any]]:
    answer = client.get("/api/incidents")
    assert answer.status_code == 200, answer.json
    return answer.json["incidents"]


def test_who_reaches_for_anothers_lane_is_counted_and_named(lead, client_of, now_ms):
    crew = Phone(client_of("crew", SITE_1), now_ms)
    for _ in range(3):
        reaches(crew, lead)
    (one,) = incidents_of(lead.client)
    assert (one["device_id"], one["device_name"], one["whose"], one["holder_name"]) == (crew.client.device_id, "crew's phone", "other", "lead's phone")
    assert (one["times"], one["first_at"], one["last_at"]) == (3, now_ms, now_ms)


def test_a_lead_sees_incidents_of_their_own_sites_devices_only(lead, client_of, now_ms):
    here, there = Phone(client_of("crew", SITE_1), now_ms), Phone(client_of("crew", SITE_2), now_ms)
    reaches(here, lead)
    reaches(there, lead)
    (one,) = incidents_of(client_of("lead", SITE_2))
    assert one["device_id"] == there.client.device_id
    assert one["holder_name"] is None  # of a lead of the whole programme, whom a lead of one site does not lead
    assert len(incidents_of(lead.client)) == 2


@pytest.mark.parametrize("role", ["crew", "desk", "reader"])
def test_nobody_else_sees_them(lead, client_of, role):
    assert client_of(role).get("/api/incidents").status_code == 403


def test_an_incident_says_no_more_than_is_known(lead, client_of, now_ms, programme):
    crew = Phone(client_of("crew", SITE_1), now_ms)
    reaches(crew, lead)
    said = incident_sentence(list_incidents(programme.db(), None)[0])
    assert said.startswith("The device crew's phone (crew) used the name of the device lead's phone without the right key, once, last on Nov 25, 2026 at 06:00 UTC.")
    assert "key" not in json.dumps(incidents_of(lead.client))


def test_the_doctor_asks_about_an_incident_for_a_month(lead, client_of, now_ms, programme):
    def said(at_ms: int) -> tuple[bool, str]:
        (finding,) = [one for one in examine(programme.folder, CATALOGUE, at_ms) if one.word == "incident"]
        return finding.ok, finding.sentence

    assert said(now_ms)[0]
    reaches(Phone(client_of("crew", SITE_1), now_ms), lead)
    assert not said(now_ms)[0]
    assert "used the name of the device lead's phone without the right key, once" in said(now_ms)[1]
    later = said(now_ms + 31 * 86_400_000)
    assert later == (True, "In the last 30 days no device used another device's name. Older ones: 1.")


def row_of(lead: Phone, phone: Phone) -> dict[str, Any]:
    (row,) = [row for row in lead.client.get("/api/devices").json["devices"] if row["device_id"] == phone.client.device_id]
    return row


def authors(row: dict[str, Any]) -> list[tuple[str, int]]:
    return [(one["person_name"], one["entries"]) for one in row["authors"]]


def see(phone: Phone, person_id: str, count: int) -> None:
    phone.person_id = person_id
    for _ in range(count):
        phone.note("sighting", str(uuid.uuid4()), SITE_1, **REQUIRED["sighting"])


def test_a_device_that_writes_as_someone_else_is_shown_with_both_names(lead, client_of, now_ms):
    phone = Phone(client_of("crew", SITE_1), now_ms)
    see(phone, INES, 3)
    see(phone, TOBIAS, 2)
    phone.client.post("/api/sync", data=phone.body(person=INES))
    row = row_of(lead, phone)
    assert (row["person_id"], row["person_name"]) == (INES, "Ines Calder")
    assert authors(row) == [("Ines Calder", 3), ("Tobias Wren", 2)]
    phone.client.post("/api/sync", data=phone.body(person=INES))
    assert authors(row_of(lead, phone)) == [("Ines Calder", 3), ("Tobias Wren", 2)]  # sent again, counted once


def test_what_is_held_counts_for_nobody_until_it_is_taken(lead, client_of, now_ms):
    phone, late = Phone(client_of("crew", SITE_1), now_ms), str(uuid.uuid4())
    see(phone, late, 1)
    assert phone.sync().json["acks"][0][4] == "unknown-person"
    assert authors(row_of(lead, phone)) == []
    lead.note("person", late, SITE_1, display_name="Mei Tarn")
    lead.sync()
    assert authors(row_of(lead, phone)) == [("Mei Tarn", 1)]


def test_authors_of_older_folders_are_counted_when_the_folder_is_opened(lead, client_of, now, now_ms, programme):
    phone = Phone(client_of("crew", SITE_1), now_ms)
    see(phone, INES, 4)
    phone.sync()
    before = authors(row_of(lead, phone))
    db = connect(programme.path)
    db.conn.execute("DROP TABLE device_author")
    db.conn.execute("DELETE FROM _sqlite_migrations WHERE name = 'm015_authors_of_devices'")
    db.conn.close()
    app = create_app(programme.folder, now)
    assert authors(row_of(lead, phone)) == before == [("Ines Calder", 4)]
    app.extensions["photo_copies"].close()


def test_names_of_lanes_that_nobody_has_make_one_incident_of_a_device(lead, client_of, now_ms):
    """Invented names would else fill the list until what matters has left it."""
    crew, stranger = Phone(client_of("crew", SITE_1), now_ms), Phone(client_of("crew", SITE_1), now_ms)
    reaches(stranger, lead)
    for number in range(30):
        crew.client.post("/api/sync", data=crew.body(d=f"k-{number:032x}", mine=0))
    told = {one["whose"]: one["times"] for one in incidents_of(lead.client)}
    assert told == {"unknown": 30, "other": 1}
    assert len(incidents_of(lead.client)) == 2


def test_lanes_of_its_own_that_a_device_shows_without_their_keys_make_one_incident_of_it(lead, client_of, now_ms, programme):
    """Each costs a line to open; a list that they fill no longer shows who reached for another's."""
    crew, stranger = Phone(client_of("crew", SITE_1), now_ms), Phone(client_of("crew", SITE_1), now_ms)
    reaches(stranger, lead)
    for number in range(30):
        own = keyed_lane(f"own {number}", SITE_1)
        own.write("sighting", str(uuid.uuid4()), REQUIRED["sighting"])
        assert crew.client.post("/api/sync", data=own.body()).json["err"] is None
        own.key = None
        assert crew.client.post("/api/sync", data=own.body(2 if number % 2 else 1, mine=1)).json["acks"] == []
    assert {one["whose"]: one["times"] for one in incidents_of(lead.client)} == {"own": 15, "other": 1}
    assert programme.db()["incident"].count == 2


def test_many_lanes_of_one_other_device_make_one_incident(lead, client_of, now, now_ms):
    other, crew = Phone(client_of("crew", SITE_1), now_ms), Phone(client_of("crew", SITE_1), now_ms)
    for number in range(5):
        theirs = keyed_lane(f"theirs {number}", SITE_1)
        theirs.write("sighting", str(uuid.uuid4()), REQUIRED["sighting"])
        assert other.client.post("/api/sync", data=theirs.body()).json["err"] is None
        now.forward(minutes=1)
        crew.client.post("/api/sync", data=crew.body(d=theirs.lane_id, mine=0))
    (one,) = incidents_of(lead.client)
    assert (one["whose"], one["times"], one["first_at"], one["last_at"]) == ("other", 5, now_ms + 60_000, now_ms + 300_000)


def test_a_list_that_is_cut_says_of_how_many(lead, client_of, now, now_ms, programme):
    crew = Phone(client_of("crew", SITE_1), now_ms)
    reaches(crew, lead)
    db = programme.db()
    for number in range(205):
        db.conn.execute("INSERT INTO device(device_id, token_sha256, role, name, made_at) VALUES (?, ?, 'crew', 'x', 1)", (f"x{number}", f"x{number}"))
        db.conn.execute("INSERT INTO incident VALUES (?, '-', 'lane', 1, ?, 1)", (f"x{number}", now_ms - 1 - number))
    answer = lead.client.get("/api/incidents").json
    assert (len(answer["incidents"]), answer["in_all"]) == (200, 206)
    assert answer["incidents"][0]["device_id"] == crew.client.device_id
    said = [one.sentence for one in examine(programme.folder, CATALOGUE, now_ms) if one.word == "incident"]
    assert len(said) == 201
    assert said[-1] == "The lines above are the newest 200 of 206 in the last 30 days."


def test_a_lead_who_says_that_another_sites_person_holds_their_phone_does_not_learn_the_name(lead, client_of, now_ms):
    """A record's id travels further than its text: by `same_as`, or with a phone that was moved."""
    stranger = Phone(client_of("lead", SITE_2), now_ms)
    assert stranger.client.post("/api/sync", data=stranger.body(person=INES)).status_code == 200
    assert "Ines" not in stranger.client.get("/api/devices").text
    reaches(stranger, lead)
    assert "Ines" not in stranger.client.get("/api/incidents").text
    assert "Ines" in lead.client.get("/api/devices").text


def test_a_lead_does_not_learn_who_wrote_on_a_phone_while_it_was_of_another_site(lead, client_of, now_ms):
    moved = Phone(client_of("crew", SITE_1), now_ms)
    moved.person_id = INES
    moved.note("sighting", str(uuid.uuid4()), SITE_1)
    assert moved.sync().json["acks"][0][2] == "ok"
    changed = lead.client.patch(f"/api/devices/{moved.client.device_id}", json={"role": "crew", "sites": [SITE_2]})
    assert changed.status_code == 200
    assert "Ines" not in client_of("lead", SITE_2).get("/api/devices").text
    assert "Ines" in lead.client.get("/api/devices").text
