"""A photo is seen by its own site: the one that named it first, whatever others write down later."""

from __future__ import annotations

import json

import pytest

from a_phone import Phone
from fieldlog.access.devices import device_of_id
from fieldlog.errors import NotHere
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.records.fields import Sha256
from fieldlog.records.kind import Kind
from fieldlog.records.photo import Photo
from fieldlog.sync.photos import sender_of, served_copy
from fieldlog.sync.receive import receive
from some_pictures import drawn, encoded, name_of
from tests.photos.sending import SITE_1, SITE_2, send, shown
from tests.sync.lines import record_id


class OlderPhoto(Photo):
    """A photo when its record could still be given another file."""

    sha256 = Sha256("Name of the file", required=True)


def test_photos_of_another_site_do_not_exist_for_a_device(crew, copies, client_of):
    name = send(crew, encoded(drawn()))
    assert copies.wait()
    assert shown(client_of("reader", SITE_1), name)
    assert shown(client_of("lead"), name)
    for client, asked in ((client_of("crew", SITE_2), name), (client_of("crew", SITE_1), "0" * 64)):
        answer = client.get(f"/api/photos/{asked}")
        assert answer.status_code == 404
        assert answer.json["detail"] == "There is no such photo among what this phone may see."


def test_who_writes_down_a_photos_name_at_another_site_sees_nothing_by_that(crew, copies, client_of, programme):
    name = send(crew, encoded(drawn()))
    assert copies.wait()
    there = Phone(client_of("crew", SITE_2), crew.now_ms)
    photo = json.loads(crew.texts[-1])
    there.note("photo", record_id("forged"), SITE_2, **photo["f"])
    assert there.sync().json["acks"][0][2] == "ok"
    assert there.client.get(f"/api/photos/{name}").status_code == 404
    assert shown(crew.client, name)
    crew.note("photo", photo["r"], SITE_1, _deleted=True)
    crew.sync()
    assert [client.get(f"/api/photos/{name}").status_code for client in (there.client, crew.client)] == [404, 404]
    (plan,) = programme.db().execute("EXPLAIN QUERY PLAN SELECT site_id FROM photo WHERE sha256 = 'x'").fetchall()
    assert "photo_sha256" in plan[-1]


def test_a_record_that_is_changed_to_name_a_photo_of_another_site_takes_it_from_nobody(crew, copies, client_of):
    there, name = Phone(client_of("crew", SITE_2), crew.now_ms), name_of(encoded(drawn()))
    there.note("photo", record_id("early"), SITE_2, of_kind="unit", of_id=record_id("u"), sha256="0" * 64, taken_at="2026-11-25T05:00:00Z")
    assert there.sync().json["acks"][0][2] == "ok"
    assert send(crew, encoded(drawn())) == name
    assert copies.wait()
    for change in ({"sha256": name}, {"sha256": name, "shows": "ours"}):
        there.note("photo", record_id("early"), SITE_2, **change)
    held = there.sync().json["acks"][-2:]
    assert [ack[4] for ack in held] == ["settled:sha256"] * 2
    assert held[0][5] == "Name of the file cannot be changed later. Make a new record instead; the text is kept."
    assert shown(crew.client, name)
    assert there.client.get(f"/api/photos/{name}").status_code == 404
    there.note("photo", record_id("early"), SITE_2, sha256="0" * 64, shows="still ours")
    assert there.sync().json["acks"][-1][2] == "ok"


def test_the_name_of_a_file_is_settled_within_one_body_and_for_what_waited(crew, programme):
    photo = {"of_kind": "unit", "of_id": record_id("u"), "taken_at": "2026-11-25T05:00:00Z"}
    crew.note("photo", record_id("p"), SITE_1, sha256="1" * 64)
    crew.note("photo", record_id("p"), SITE_1, **photo, sha256="2" * 64)
    crew.note("photo", record_id("p"), SITE_1, sha256="3" * 64)
    assert [ack[4] for ack in crew.sync().json["acks"]][::2] == ["waits-for-first", "settled:sha256"]
    db = programme.db()
    assert [why for (why,) in db.execute("SELECT why FROM tray ORDER BY number")] == ["settled:sha256"] * 2
    assert db.execute("SELECT sha256 FROM photo").fetchall() == [("2" * 64,)]


def test_records_that_were_changed_before_that_was_settled_are_ranked_by_when_they_named_the_photo(crew, copies, client_of, programme):
    """A log of an older server; the hash is written so that no search for its text finds it."""
    there, name = Phone(client_of("crew", SITE_2), crew.now_ms), name_of(encoded(drawn()))
    there.note("photo", record_id("early"), SITE_2, of_kind="unit", of_id=record_id("u"), sha256="0" * 64, taken_at="2026-11-25T05:00:00Z")
    there.sync()
    assert send(crew, encoded(drawn())) == name
    assert copies.wait()
    there.note("photo", record_id("early"), SITE_2, sha256=name)
    there.chain.pop()
    there.add(there.texts.pop().replace(b'"sha256"', b'"\\u0073ha256"'))
    unsettled = Kind("photo", "Photo", OlderPhoto, writers={"crew", "lead"})
    older = Catalogue([unsettled if kind.name == "photo" else kind for kind in CATALOGUE.kinds.values()])
    reply = receive(programme.db(), there.body(2), older, lambda: device_of_id(programme.db(), there.client.device_id), lambda: crew.now_ms)
    assert [ack[2] for ack in reply["acks"]] == ["ok"]
    assert programme.db().execute("SELECT DISTINCT sha256 FROM photo").fetchall() == [(name,)]
    assert shown(crew.client, name)
    assert there.client.get(f"/api/photos/{name}").status_code == 404


def test_a_lead_who_writes_down_a_photos_name_is_not_told_that_it_is_here_and_cannot_be_shown(crew, copies, client_of):
    name = send(crew, b"no picture")
    assert copies.wait()
    there = Phone(client_of("lead", SITE_2), crew.now_ms)
    there.note("photo", record_id("forged"), SITE_2, **json.loads(crew.texts[-1])["f"])
    assert there.sync().json["acks"][0][2] == "ok"
    assert there.client.get("/api/photos").json == {"faulty": []}
    (told,) = client_of("lead", SITE_1).get("/api/photos").json["faulty"]
    assert (told["sha256"], told["records"]) == (name, [json.loads(crew.texts[-1])["r"]])


def test_where_photos_are_for_the_crew_alone_a_reader_is_neither_shown_one_nor_told_that_it_is_here(crew, copies, client_of, programme):
    """As a programme could declare it; today's photos are open."""
    name, db = send(crew, encoded(drawn())), programme.db()
    assert copies.wait()
    private = Kind("photo", "Photo", Photo, writers={"crew", "lead"}, privacy="crew")
    catalogue = Catalogue([private if kind.name == "photo" else kind for kind in CATALOGUE.kinds.values()])
    reader, another = (device_of_id(db, client_of(role, SITE_1).device_id) for role in ("reader", "crew"))
    assert [sender_of(db, catalogue, device, name).may_know for device in (reader, another)] == [False, True]
    assert served_copy(programme, catalogue, another, name).is_file()
    with pytest.raises(NotHere, match="no such photo"):
        served_copy(programme, catalogue, reader, name)


def test_a_removed_photo_is_not_served(crew, copies):
    name = send(crew, encoded(drawn()))
    assert copies.wait()
    record_id = json.loads(crew.texts[-1])["r"]
    crew.note("photo", record_id, SITE_1, _deleted=True)
    crew.sync()
    assert crew.client.get(f"/api/photos/{name}").status_code == 404


def test_a_photo_whose_record_was_removed_is_served_while_another_of_its_site_names_it(crew, copies):
    name = send(crew, encoded(drawn()))
    first = json.loads(crew.texts[-1])
    crew.note("photo", record_id("noted twice"), SITE_1, **first["f"])
    crew.note("photo", first["r"], SITE_1, _deleted=True)
    crew.sync()
    assert copies.wait()
    assert shown(crew.client, name)
