"""Nobody learns from an upload whether a photo of others is here, and nobody can stand in the way of another's upload."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from fieldlog.store import Programme
from fieldlog.sync.photos import PhotoShelf
from tests.some_pictures import name_of
from tests.sync.lines import REQUIRED, keyed_lane, record_id

HERE, THERE = record_id("Alder Spit"), record_id("Heron Bar")
PART = 512 * 1024
DATA = bytes(range(256)) * 5000
NAME = name_of(DATA)


def patch(client: FlaskClient, offset: int, chunk: bytes, total: int = len(DATA), name: str = NAME) -> TestResponse:
    return client.patch(f"/api/photos/{name}", data=chunk, headers={"Upload-Offset": str(offset), "Upload-Length": str(total)})


def sends(client: FlaskClient) -> list[int]:
    """The answers to an honest phone, which goes on where it is told to."""
    offset, answers = 0, []
    while len(answers) < 12:
        answer = patch(client, offset, DATA[offset : offset + PART])
        answers.append(answer.status_code)
        if answer.status_code == 201:
            break
        offset = int(answer.headers["Upload-Offset"])
    return answers


@pytest.fixture
def owner(client_of: Callable[..., FlaskClient]) -> FlaskClient:
    """A crew of one site whose photo record is taken."""
    lead, setting_up = client_of("lead"), keyed_lane("lead")
    for site in (HERE, THERE):
        setting_up.write("site", site, REQUIRED["site"], g=site)
    assert {ack[2] for ack in lead.post("/api/sync", data=setting_up.body()).json["acks"]} == {"ok"}
    client, lane = client_of("crew", HERE), keyed_lane("owner", HERE)
    fields = {"of_kind": "sighting", "of_id": record_id("seen"), "sha256": NAME, "taken_at": "2026-11-24T06:12:00Z"}
    lane.write("photo", record_id("a photo"), fields)
    said = client.post("/api/sync", data=lane.body()).json["acks"]
    assert [ack[2] for ack in said] == ["ok"], said
    return client


@pytest.mark.parametrize("garbage", [[b"?" * 100], [b"?" * PART, b"?" * PART], [b"?" * PART, b"?" * PART, b"?" * (len(DATA) - 2 * PART - 1)]])
def test_garbage_that_a_stranger_sends_under_a_photos_name_costs_its_phone_nothing(owner, client_of, programme: Programme, garbage) -> None:
    stranger, offset = client_of("crew", THERE), 0
    for chunk in garbage:
        assert patch(stranger, offset, chunk).status_code == 204
        offset += len(chunk)
    assert sends(owner) == [204, 204, 201]
    assert (programme.photos_folder / NAME).read_bytes() == DATA
    assert patch(stranger, offset, b"?" * min(PART, len(DATA) - offset)).status_code in (204, 422)
    assert (programme.photos_folder / NAME).read_bytes() == DATA
    assert owner.head(f"/api/photos/{NAME}").status_code == 200


def test_a_stranger_who_keeps_sending_does_not_keep_the_phone_from_going_on(owner, client_of) -> None:
    stranger, offset = client_of("crew", THERE), 0
    for number in range(3):
        patch(stranger, number, b"?")
        answer = patch(owner, offset, DATA[offset : offset + PART])
        assert answer.status_code in (201, 204)
        offset += PART
    assert answer.status_code == 201


def seen(answer: TestResponse) -> tuple[object, ...]:
    return answer.status_code, answer.headers.get("Upload-Offset"), answer.data


@pytest.mark.parametrize("role", ["crew", "lead"])
def test_who_may_not_see_a_photo_is_answered_as_if_it_were_not_here(owner, client_of, role: str) -> None:
    assert sends(owner)[-1] == 201
    stranger = client_of(role, THERE)
    other = name_of(b"a photo that is nowhere")
    assert seen(stranger.head(f"/api/photos/{NAME}")) == seen(stranger.head(f"/api/photos/{other}")) == (404, "0", b"")
    for offset, chunk in ((0, b"x" * 10), (10, b"y" * 10), (5, b"z")):
        assert seen(patch(stranger, offset, chunk))[:2] == seen(patch(stranger, offset, chunk, name=other))[:2]
    assert stranger.head(f"/api/photos/{NAME}").headers["Upload-Offset"] == "20"


def test_who_has_all_the_bytes_may_send_them_and_gets_a_receipt(owner, client_of, programme: Programme) -> None:
    assert sends(owner)[-1] == 201
    row = programme.db()["photo_file"].get(NAME)
    assert sends(client_of("crew", THERE)) == [204, 204, 201]
    assert programme.db()["photo_file"].get(NAME) == row
    assert [path.name for path in files(programme)] == [NAME]


def test_who_may_see_a_photo_sends_it_once_for_all(owner, client_of) -> None:
    assert sends(owner)[-1] == 201
    for other in (owner, client_of("crew", HERE), client_of("lead")):
        assert other.head(f"/api/photos/{NAME}").status_code == 200
        assert sends(other) == [201]


def test_a_phone_whose_last_answer_was_lost_sends_again_and_is_done(client_of) -> None:
    """Its photo record is not taken yet, so that it may not be told that the photo is here."""
    phone = client_of("crew")
    assert sends(phone) == [204, 204, 201]
    again = patch(phone, 2 * PART, DATA[2 * PART :])
    assert (again.status_code, again.headers["Upload-Offset"]) == (409, "0")
    assert sends(phone) == [204, 204, 201]


def test_parts_of_several_devices_are_finished_or_cleared_when_the_server_starts(owner, client_of, programme: Programme) -> None:
    stranger, other = client_of("crew", THERE), client_of("crew", HERE)
    patch(stranger, 0, b"?" * 10)
    patch(other, 0, DATA[:PART])
    patch(owner, 0, DATA[:PART])
    (theirs,) = [path for path in files(programme) if owner.device_id in path.name]
    theirs.write_bytes(DATA)
    old_form = programme.photos_folder / f"{name_of(b'old')}.part"
    old_form.write_bytes(b"o")
    shelf = PhotoShelf(programme)
    assert shelf.finish_parts(7) == 1
    assert [path.name for path in files(programme)] == [NAME]
    assert sends(other) == [201]


def test_a_folder_that_is_called_like_a_photo_or_a_part_stops_no_server_and_stays(owner, programme: Programme) -> None:
    folders = [programme.photos_folder / name for name in (name_of(b"1"), f"{name_of(b'2')}.{'a' * 32}.part", f"{name_of(b'3')}.part", f"{NAME}.{owner.device_id}.part")]
    for folder in folders:
        folder.mkdir()
    shelf = PhotoShelf(programme)
    assert (shelf.finish_parts(7), shelf.drop_old_parts(10**15)) == (0, 0)
    answer = owner.head(f"/api/photos/{NAME}")
    assert answer.headers["Upload-Offset"] == "0"
    assert sends(owner)[-1] == 201
    assert all(folder.is_dir() for folder in folders[:3])


def files(programme: Programme) -> list[Path]:
    return sorted(programme.photos_folder.glob("[0-9a-f]*[0-9a-ft]"), key=lambda path: path.name)
