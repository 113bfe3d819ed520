"""A photo of people: readers get neither its record nor its bytes, whatever else names its file; in all else it is a photo."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable

import pytest
from flask.testing import FlaskClient

from a_phone import Phone
from fieldlog.durable import tops_without
from fieldlog.lost_photos import add_lost
from fieldlog.questions.photos import naming, photos_of_checks
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.people_photo import PEOPLE_PHOTO
from fieldlog.records.photo import PHOTO
from fieldlog.store import Programme, write
from some_pictures import drawn, encoded, name_of
from tests.photos.sending import SITE_1, SITE_2, send

PEOPLE = encoded(drawn(480))
NAME = name_of(PEOPLE)
ABOUT = {"of_kind": "unit", "of_id": str(uuid.uuid4()), "sha256": NAME, "taken_at": "2026-11-25T05:00:00Z"}


def status(client: FlaskClient, name: str = NAME) -> int:
    return client.get(f"/api/photos/{name}", buffered=True).status_code


@pytest.fixture
def people(crew: Phone, copies) -> Phone:
    """A crew that took and sent a photo of people."""
    send(crew, PEOPLE, kind="people_photo")
    assert copies.wait()
    return crew


def taken(phone: Phone) -> bool:
    return {ack[2] for ack in phone.sync().json["acks"]} == {"ok"}


def test_both_kinds_have_the_same_fields_and_writers_and_differ_in_who_reads() -> None:
    own = [name for name in PEOPLE_PHOTO.fields if name not in PHOTO.fields]
    assert (list(PEOPLE_PHOTO.fields), own) == ([*PHOTO.fields, *own], ["recognizable", "consent"])
    assert (PHOTO.writers, PHOTO.rules, PHOTO.settled) == (PEOPLE_PHOTO.writers, PEOPLE_PHOTO.rules, PEOPLE_PHOTO.settled)
    assert (PHOTO.privacy, PEOPLE_PHOTO.privacy) == ("open", "crew")


def test_readers_get_neither_its_record_nor_its_bytes(people: Phone, client_of: Callable[..., FlaskClient]) -> None:
    told = {role: Phone(client_of(role, SITE_1), people.now_ms).sync().json for role in ("reader", "desk")}
    assert [NAME in json.dumps(told[role]) for role in ("reader", "desk")] == [False, True]
    assert [status(client_of(role, SITE_1)) for role in ("reader", "desk", "crew", "lead")] == [404, 200, 200, 200]
    assert status(client_of("crew", SITE_2)) == 404


def test_an_open_record_of_the_same_file_opens_nothing_to_readers(people: Phone, client_of) -> None:
    people.note("photo", str(uuid.uuid4()), SITE_1, **ABOUT)
    assert taken(people)
    assert [status(client_of(role, SITE_1)) for role in ("reader", "crew")] == [404, 200]


def test_a_photo_marked_wrongly_is_opened_by_its_removal_and_another_record(people: Phone, client_of, programme: Programme) -> None:
    (first,) = naming(programme.db(), NAME)
    people.note("people_photo", first.record_id, SITE_1, _deleted=True)
    people.note("photo", str(uuid.uuid4()), SITE_1, **ABOUT)
    assert taken(people)
    assert status(client_of("reader", SITE_1)) == 200


def test_an_open_photo_is_closed_by_another_record(crew: Phone, copies, client_of) -> None:
    """As an app that does not know the question wrote it; whoever sees a face on it later says so."""
    reader = client_of("reader", SITE_1)
    send(crew, PEOPLE)
    assert copies.wait()
    assert status(reader) == 200
    crew.note("people_photo", str(uuid.uuid4()), SITE_1, **ABOUT)
    assert taken(crew)
    assert status(reader) == 404


def test_consent_opens_nothing_to_readers(people: Phone, client_of, programme: Programme) -> None:
    lead = Phone(client_of("lead"), people.now_ms)
    lead.note("people_photo", naming(programme.db(), NAME)[0].record_id, SITE_1, consent=True)
    assert taken(lead)
    assert status(client_of("reader", SITE_1)) == 404


@pytest.mark.parametrize("said", [True, False, None])
def test_leads_alone_say_that_those_shown_agreed_also_of_a_record_that_is_new(people: Phone, client_of, programme: Programme, said) -> None:
    (standing,) = naming(programme.db(), NAME)
    words = {}
    for role in ("crew", "lead"):
        phone = Phone(client_of(role, SITE_1), people.now_ms)
        phone.note("people_photo", standing.record_id, SITE_1, consent=said)
        phone.note("people_photo", str(uuid.uuid4()), SITE_1, **ABOUT, consent=said)
        words[role] = [ack[4] if ack[2] == "q" else "taken" for ack in phone.sync().json["acks"]]
    assert words == {"crew": ["not-permitted"] * 2, "lead": ["taken"] * 2}


def test_it_counts_on_a_check_once_a_lead_has_said_that_those_shown_agreed(crew: Phone, client_of, programme: Programme) -> None:
    check_id, record_id = str(uuid.uuid4()), str(uuid.uuid4())
    about = ABOUT | {"of_kind": "unit_check", "of_id": check_id}
    crew.note("photo", str(uuid.uuid4()), SITE_1, **about)
    crew.note("people_photo", record_id, SITE_1, **about)
    assert taken(crew)
    assert photos_of_checks(programme.db(), [check_id]) == [(check_id, SITE_1)]
    lead = Phone(client_of("lead"), crew.now_ms)
    lead.note("people_photo", record_id, SITE_1, consent=True)
    assert taken(lead)
    assert photos_of_checks(programme.db(), [check_id]) == [(check_id, SITE_1)] * 2


def test_what_is_lost_of_it_is_asked_of_its_phone_and_keeps_the_lane_from_being_durable(people: Phone, programme: Programme) -> None:
    db = programme.db()
    (programme.photos_folder / NAME).unlink()
    with write(db):
        add_lost(db, [NAME], people.now_ms)
    assert people.sync().json["photos"] == [NAME]
    tops, ends = tops_without(db, [NAME])
    assert list(ends) == [people.lane_id]
    assert ends[people.lane_id] < tops[people.lane_id]


def test_every_kind_that_names_a_file_is_one_of_photos() -> None:
    assert [kind.name for kind in CATALOGUE.kinds.values() if "sha256" in kind.fields] == [PHOTO.name, PEOPLE_PHOTO.name]
