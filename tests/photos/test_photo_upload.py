"""Photos arrive in parts, once, whatever is cut, repeated or sent by two phones at a time."""

from __future__ import annotations

import errno
import threading
from datetime import UTC, datetime

import pytest

from fieldlog import create_app
from fieldlog.errors import BadRequest, DiskFull, NotHere, TooLarge, WrongBytes, WrongOffset
from fieldlog.sync.photos import MAX_PHOTO_BYTES, PhotoShelf, Sender, append_bytes
from some_pictures import drawn, encoded, name_of

CHUNK = 512 * 1024
DATA = bytes(range(256)) * 5000  # 1.28 MB: three parts
NAME = name_of(DATA)
ME = Sender("a" * 32, may_know=True)
PART = f"{NAME}.{ME.device_id}.part"


@pytest.fixture
def shelf(programme) -> PhotoShelf:
    return PhotoShelf(programme)


def send(shelf, data=DATA, name=NAME, start=0):
    for offset in range(start, len(data), CHUNK):
        have = shelf.take(name, ME, offset, len(data), data[offset : offset + CHUNK], 5)
    return have


def test_a_photo_in_parts_is_complete_with_the_last_one(shelf, programme):
    assert shelf.take(NAME, ME, 0, len(DATA), DATA[:CHUNK], 5) == CHUNK
    assert shelf.offset(NAME, ME) == CHUNK
    assert not (programme.photos_folder / NAME).exists()
    assert send(shelf, start=CHUNK) is None
    assert shelf.offset(NAME, ME) is None
    assert (programme.photos_folder / NAME).read_bytes() == DATA
    assert [path.name for path in programme.photos_folder.iterdir()] == [NAME]
    row = programme.db()["photo_file"].get(NAME)
    assert (row["bytes"], row["received_bytes"], row["complete_at"], row["served_at"]) == (len(DATA), len(DATA), 5, None)


def test_sending_a_complete_photo_again_is_another_receipt(shelf, programme):
    send(shelf)
    assert shelf.take(NAME, ME, 0, len(DATA), DATA[:CHUNK], 9) is None
    assert programme.db()["photo_file"].get(NAME)["complete_at"] == 5


@pytest.mark.parametrize("offset", [0, CHUNK - 1, CHUNK + 1, 2 * CHUNK])
def test_a_part_that_does_not_fit_is_told_the_true_offset(shelf, offset):
    shelf.take(NAME, ME, 0, len(DATA), DATA[:CHUNK], 5)
    with pytest.raises(WrongOffset) as told:
        shelf.take(NAME, ME, offset, len(DATA), b"x" * 100, 5)
    assert told.value.headers["Upload-Offset"] == str(CHUNK)
    assert send(shelf, start=CHUNK) is None


def test_wrong_bytes_are_not_kept_and_the_upload_begins_anew(shelf, programme):
    shelf.take(NAME, ME, 0, len(DATA), b"?" * CHUNK, 5)
    shelf.take(NAME, ME, CHUNK, len(DATA), DATA[CHUNK : 2 * CHUNK], 5)
    with pytest.raises(WrongBytes):
        shelf.take(NAME, ME, 2 * CHUNK, len(DATA), DATA[2 * CHUNK :], 5)
    assert shelf.offset(NAME, ME) == 0
    assert list(programme.photos_folder.iterdir()) == []
    assert send(shelf) is None


def test_wrong_bytes_in_one_part_never_reach_the_disk(shelf, programme):
    with pytest.raises(WrongBytes):
        shelf.take(NAME, ME, 0, 5, b"hello", 5)
    assert list(programme.photos_folder.iterdir()) == []


@pytest.mark.parametrize(
    ("offset", "total", "chunk", "fault"),
    [(0, MAX_PHOTO_BYTES + 1, b"x", TooLarge), (0, 5, b"", BadRequest), (3, 5, b"xyz", BadRequest)],
)
def test_what_cannot_be_a_part_is_refused(shelf, offset, total, chunk, fault):
    with pytest.raises(fault):
        shelf.take(NAME, ME, offset, total, chunk, 5)


def test_a_photo_of_8_mb_is_taken(shelf):
    assert shelf.take(NAME, ME, 0, MAX_PHOTO_BYTES, DATA[:CHUNK], 5) == CHUNK


def test_a_part_of_a_photo_that_somebody_else_sent_whole_goes(shelf, programme):
    shelf.take(NAME, Sender("b" * 32, may_know=True), 0, len(DATA), DATA[:CHUNK], 5)
    send(shelf)
    assert shelf.take(NAME, Sender("b" * 32, may_know=True), CHUNK, len(DATA), DATA[CHUNK : 2 * CHUNK], 5) is None
    assert [path.name for path in programme.photos_folder.iterdir()] == [NAME]


@pytest.mark.parametrize("name", ["", "x" * 64, NAME.upper(), NAME[:-1], "../" + NAME, NAME + "\n"])
def test_a_name_that_is_no_sha256_is_refused(shelf, name):
    with pytest.raises(NotHere):
        shelf.take(name, ME, 0, 5, b"hello", 5)
    with pytest.raises(NotHere):
        shelf.offset(name, ME)


def test_two_phones_sending_the_same_photo_at_once_make_one(programme):
    shelf = PhotoShelf(programme)
    faults: list[BaseException] = []

    def phone(number):
        offset, sender = 0, Sender(f"{number:032x}", may_know=number % 2 == 0)
        while True:
            try:
                have = shelf.take(NAME, sender, offset, len(DATA), DATA[offset : offset + 70_000], 5)
            except WrongOffset as told:
                offset = int(told.headers["Upload-Offset"])
                continue
            except BadRequest as fault:  # pragma: no cover
                faults.append(fault)
                break
            if have is None:
                break
            offset = have
        programme.close()

    phones = [threading.Thread(target=phone, args=(number,)) for number in range(4)]
    for one in phones:
        one.start()
    for one in phones:
        one.join()
    assert faults == []
    assert (programme.photos_folder / NAME).read_bytes() == DATA
    assert programme.db()["photo_file"].count == 1


def test_a_full_disk_keeps_what_was_there_and_says_so(programme):
    room = CHUNK + 1000

    def append(file, chunk, offset):
        """A disk with room for 525,288 bytes: it writes what fits and then fails, as a real one does."""
        append_bytes(file, chunk[: max(0, room - offset)], offset)
        if offset + len(chunk) > room:
            raise OSError(errno.ENOSPC, "No space left on device")

    shelf = PhotoShelf(programme, append)
    shelf.take(NAME, ME, 0, len(DATA), DATA[:CHUNK], 5)
    with pytest.raises(DiskFull, match="disk is full") as full:
        shelf.take(NAME, ME, CHUNK, len(DATA), DATA[CHUNK : 2 * CHUNK], 5)
    assert full.value.status == 507
    assert shelf.offset(NAME, ME) == CHUNK
    room = 10**9
    assert send(shelf, start=CHUNK) is None


def test_a_crash_between_the_file_and_its_row_is_healed_by_the_next_part(shelf, programme):
    (programme.photos_folder / NAME).write_bytes(DATA)
    assert shelf.offset(NAME, ME) == 0
    assert shelf.take(NAME, ME, 0, len(DATA), DATA[:CHUNK], 5) is None
    assert shelf.offset(NAME, ME) is None


def test_a_photo_that_a_restored_backup_lacks_is_asked_for_again(shelf, programme):
    send(shelf)
    (programme.photos_folder / NAME).unlink()
    assert shelf.offset(NAME, ME) == 0
    assert send(shelf) is None
    assert (programme.photos_folder / NAME).read_bytes() == DATA


def patch(client, data, offset, total, name=None):
    headers = {"Upload-Offset": str(offset), "Upload-Length": str(total)}
    return client.patch(f"/api/photos/{name or name_of(data)}", data=data, headers=headers)


def test_over_http_the_first_part_needs_no_question_before_it(client_of):
    data = encoded(drawn())
    answer = patch(client_of("crew"), data, 0, len(data))
    assert (answer.status_code, answer.headers["Upload-Offset"]) == (201, str(len(data)))


def test_over_http_an_upload_is_resumed_where_it_was_cut(client_of):
    phone = client_of("crew")
    assert phone.head(f"/api/photos/{NAME}").headers["Upload-Offset"] == "0"
    answer = patch(phone, DATA[:CHUNK], 0, len(DATA), NAME)
    assert (answer.status_code, answer.headers["Upload-Offset"]) == (204, str(CHUNK))
    asked = phone.head(f"/api/photos/{NAME}")
    assert (asked.status_code, asked.headers["Upload-Offset"], asked.headers["X-Fieldlog"]) == (404, str(CHUNK), "1")
    wrong = patch(phone, DATA[:CHUNK], 0, len(DATA), NAME)
    assert (wrong.status_code, wrong.json["word"], wrong.headers["Upload-Offset"]) == (409, "wrong-offset", str(CHUNK))
    assert patch(phone, DATA[CHUNK : 2 * CHUNK], CHUNK, len(DATA), NAME).status_code == 204
    assert patch(phone, DATA[2 * CHUNK :], 2 * CHUNK, len(DATA), NAME).status_code == 201


def test_over_http_wrong_bytes_start_again(client_of):
    answer = patch(client_of("crew"), b"hello", 0, 5, NAME)
    assert (answer.status_code, answer.json["word"], answer.headers["Upload-Offset"]) == (422, "wrong-bytes", "0")


@pytest.mark.parametrize("value", ["", "-1", "1.5", "0x10", "१", "9" * 30])
def test_over_http_offsets_are_whole_numbers(client_of, value):
    headers = {"Upload-Offset": "0", "Upload-Length": value}
    if value.isascii():
        answer = client_of("crew").patch(f"/api/photos/{NAME}", data=b"x", headers=headers)
        assert (answer.status_code, answer.json["word"]) == (400, "bad-request")


@pytest.mark.parametrize("role", ["reader", "desk"])
def test_only_crew_and_leads_send_photos(client_of, role):
    client = client_of(role)
    assert patch(client, b"hello", 0, 5).status_code == 403
    assert client.head(f"/api/photos/{NAME}").status_code == 403


def test_a_device_that_did_not_join_sends_nothing(app):
    assert patch(app.test_client(), b"hello", 0, 5).status_code == 401


@pytest.mark.parametrize("offset", [0, 2 * CHUNK, len(DATA)])
def test_a_server_killed_before_the_last_rename_finishes_the_photo_at_the_next_part(client_of, programme, offset):
    """What a phone sends next: its first part again, the last part again, or nothing after the end it was told."""
    phone = client_of("crew")
    (programme.photos_folder / f"{NAME}.{phone.device_id}.part").write_bytes(DATA)
    answer = patch(phone, DATA[offset : offset + CHUNK], offset, len(DATA), NAME)
    assert (answer.status_code, answer.headers["Upload-Offset"]) == (201, str(len(DATA)))
    assert (programme.photos_folder / NAME).read_bytes() == DATA
    assert programme.db()["photo_file"].get(NAME)["bytes"] == len(DATA)


@pytest.mark.parametrize("part_name", [PART, f"{NAME}.part"], ids=["now", "version 0.2.0"])
def test_a_complete_part_and_a_photo_without_its_row_are_finished_when_the_server_starts(programme, now, part_name):
    renamed = encoded(drawn())
    (programme.photos_folder / part_name).write_bytes(DATA)
    (programme.photos_folder / name_of(renamed)).write_bytes(renamed)
    begun = programme.photos_folder / f"{name_of(b'other')}.{ME.device_id}.part"
    begun.write_bytes(DATA[:CHUNK])
    stray = programme.photos_folder / "note.part"
    stray.write_bytes(b"somebody's own file")
    made = create_app(programme.folder, now)
    assert PhotoShelf(programme).offset(NAME, ME) is None
    assert PhotoShelf(programme).offset(name_of(renamed), ME) is None
    assert (begun.exists(), stray.exists()) == (True, True)
    made.extensions["photo_copies"].close()
    made.extensions["programme"].close()


def test_only_what_is_complete_now_and_was_not_counts_as_finished(shelf, programme):
    other = encoded(drawn())
    assert send(shelf) is None
    (programme.photos_folder / f"{name_of(other)}.{ME.device_id}.part").write_bytes(other)
    (programme.photos_folder / name_of(b"rotted")).write_bytes(b"rotten")
    (programme.photos_folder / "note.txt").write_text("somebody's own file")
    assert [shelf.finish_parts(7), shelf.finish_parts(8)] == [1, 0]


def test_a_photo_file_that_is_not_what_its_name_says_gets_no_receipt_when_the_server_starts(programme, now):
    (programme.photos_folder / NAME).write_bytes(DATA[:-1] + b"?")
    made = create_app(programme.folder, now)
    shelf = PhotoShelf(programme)
    assert shelf.offset(NAME, ME) == 0
    assert send(shelf) is None
    assert (programme.photos_folder / NAME).read_bytes() == DATA
    made.extensions["photo_copies"].close()
    made.extensions["programme"].close()


@pytest.mark.parametrize("junk", [len(DATA), len(DATA) + 1, MAX_PHOTO_BYTES])
def test_a_part_as_long_as_the_photo_and_not_the_photo_begins_anew(shelf, programme, junk):
    """Before, a phone was sent to the end of somebody's wrong bytes, where it had nothing left to send."""
    part = programme.photos_folder / PART
    part.write_bytes(b"?" * junk)
    with pytest.raises(WrongOffset) as told:
        shelf.take(NAME, ME, 2 * CHUNK, len(DATA), DATA[2 * CHUNK :], 5)
    assert told.value.headers["Upload-Offset"] == "0"
    part.write_bytes(b"?" * junk)
    assert send(shelf) is None


def test_a_photo_that_rotted_on_the_disk_is_no_receipt_and_is_taken_again(shelf, programme):
    send(shelf)
    (programme.photos_folder / NAME).write_bytes(DATA[:-1] + b"?")
    assert shelf.offset(NAME, ME) == 0
    assert send(shelf) is None
    assert (programme.photos_folder / NAME).read_bytes() == DATA


def test_a_photo_that_cannot_be_taken_does_not_touch_the_next(client_of):
    phone, other = client_of("crew"), encoded(drawn())
    assert patch(phone, b"hello", 0, 5, NAME).status_code == 422
    assert patch(phone, b"x", 0, MAX_PHOTO_BYTES + 1, NAME).status_code == 413
    assert patch(phone, other, 0, len(other)).status_code == 201


def test_when_a_photo_came_is_told_in_milliseconds_since_1970(client_of, programme, now):
    now.at = datetime(2026, 11, 25, 6, 0, 0, 250_000, tzinfo=UTC)
    phone, came_ms = client_of("crew"), 1_795_586_400_250
    assert patch(phone, DATA[:CHUNK], 0, len(DATA), NAME).status_code == 204
    assert patch(phone, b"hello", 0, 5).status_code == 201
    rows = {row["sha256"]: row["complete_at"] for row in programme.db()["photo_file"].rows}
    assert rows == {name_of(b"hello"): came_ms}


def test_when_a_photo_was_finished_at_the_servers_start_is_told_in_milliseconds_since_1970(programme, now):
    now.at = datetime(2026, 11, 25, 6, 0, 0, 250_000, tzinfo=UTC)
    programme.photos_folder.mkdir(exist_ok=True)
    (programme.photos_folder / name_of(b"hello")).write_bytes(b"hello")
    made = create_app(programme.folder, now)
    try:
        assert programme.db()["photo_file"].get(name_of(b"hello"))["complete_at"] == 1_795_586_400_250
    finally:
        made.extensions["photo_copies"].close()
        made.extensions["programme"].close()
