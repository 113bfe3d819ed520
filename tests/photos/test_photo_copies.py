"""The served copy: made after the receipt, upright, small, without metadata; faults are kept with a sentence."""

from __future__ import annotations

import io
import sys
import uuid

import pytest
from PIL import Image

from fieldlog.sync.photo_copies import DECODER, Decoder
from some_pictures import bomb, drawn, encoded, name_of, noisy, with_metadata
from tests.photos.sending import SITE_1, send, shown


def test_only_the_copy_is_served_and_it_tells_nothing_but_the_picture(crew, copies):
    data = with_metadata()
    assert b"Ines Calder" in data
    name = send(crew, data)
    assert copies.wait()
    answer = crew.client.get(f"/api/photos/{name}", buffered=True)
    assert answer.mimetype == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Disposition"].startswith("inline")
    picture = Image.open(io.BytesIO(answer.data))
    assert not picture.getexif()
    assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert b"Calder" not in answer.data and b"maker" not in answer.data


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_the_copy_stands_upright(crew, copies, programme, orientation):
    name = send(crew, with_metadata(orientation))
    assert copies.wait()
    picture = shown(crew.client, name).convert("RGB")
    assert picture.size == (640, 480)
    near = [tuple(round(c / 255) for c in picture.getpixel(at)) for at in ((10, 10), (320, 100), (320, 400))]
    assert near == [(1, 1, 1), (1, 0, 0), (0, 0, 1)]
    row = programme.db()["photo_file"].get(name)
    assert (row["width_px"], row["height_px"]) == (640, 480)


@pytest.mark.parametrize(
    ("kind", "media_type"), [("JPEG", "image/jpeg"), ("PNG", "image/png"), ("WEBP", "image/webp"), ("HEIF", "image/heic")]
)
def test_decoding_decides_what_a_picture_is(crew, copies, programme, kind, media_type):
    name = send(crew, encoded(drawn(), kind))
    assert copies.wait()
    assert programme.db()["photo_file"].get(name)["media_type"] == media_type
    picture = shown(crew.client, name).convert("RGB")
    assert picture.getpixel((320, 100))[0] > 200
    assert picture.getpixel((320, 400))[2] > 200
    assert min(picture.getpixel((20, 0))) > 200, "the mark begins at the upper edge"


@pytest.mark.parametrize("kind", ["JPEG", "HEIF", "PNG"])
@pytest.mark.parametrize(("size", "becomes"), [((3500, 2100), (2048, 1229)), pytest.param((2400, 3600), (1365, 2048), marks=pytest.mark.long)])
def test_a_large_picture_is_served_at_2048_px(crew, copies, kind, size, becomes):
    name = send(crew, encoded(drawn(*size), kind))
    assert copies.wait()
    picture = shown(crew.client, name)
    assert max(picture.size) == 2048
    assert abs(picture.width - becomes[0]) <= 1 and abs(picture.height - becomes[1]) <= 1


@pytest.mark.parametrize("mode", ["RGBA", "LA", "P", "L", "1", "I;16", "CMYK"])
def test_pictures_of_every_colour_mode_are_served(crew, copies, mode):
    kind = "JPEG" if mode == "CMYK" else "PNG"
    picture = Image.new("I;16", (64, 64), 40000) if mode == "I;16" else drawn(64, 64).convert(mode)
    name = send(crew, encoded(picture, kind))
    assert copies.wait()
    assert shown(crew.client, name).size == (64, 64)


@pytest.mark.parametrize(
    "data",
    [b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", b"%PDF-1.7 not a picture", b"\0" * 1000,
     encoded(drawn())[:3000], b"\x89PNG\r\n\x1a\n" + b"\0" * 100, encoded(drawn(), "HEIF")[:500],
     b"GIF89a" + b"\0" * 200],
)  # fmt: skip
def test_what_is_no_picture_is_kept_and_never_served(crew, copies, programme, client_of, data):
    name = send(crew, data)
    assert copies.wait()
    assert (programme.photos_folder / name).read_bytes() == data
    answer = crew.client.get(f"/api/photos/{name}")
    assert answer.status_code == 404
    assert answer.json["detail"] == "This file is not a picture, or is damaged. The file is kept as it arrived."
    assert not (programme.photos_folder / f"{name}.jpg").exists()
    (listed,) = client_of("lead").get("/api/photos").json["faulty"]
    assert (listed["sha256"], listed["bytes"], len(listed["records"])) == (name, len(data), 1)


def test_a_picture_with_more_behind_it_is_served_without_that(crew, copies):
    name = send(crew, encoded(drawn()) + b"<script>alert(1)</script>")
    assert copies.wait()
    assert b"script" not in crew.client.get(f"/api/photos/{name}", buffered=True).data


def test_a_damaged_orientation_does_not_hide_the_picture(crew, copies):
    data = with_metadata().replace(b"MM\0*\0\0\0\x08", b"MM\0*\xff\0\0\x08")
    assert data != with_metadata()
    name = send(crew, data)
    assert copies.wait()
    assert shown(crew.client, name).size == (640, 480)


@pytest.mark.parametrize(
    ("data", "unpacks_to"),
    [(bomb(), None), (encoded(Image.new("1", (7100, 7050)), "PNG"), "7100 x 7050 pixels (50.1 megapixels)")],
    ids=["bomb", "a little too large"],
)
def test_a_decompression_bomb_is_kept_with_a_sentence(crew, copies, programme, data, unpacks_to):
    name = send(crew, data)
    assert copies.wait()
    fault = programme.db()["photo_file"].get(name)["fault"]
    assert "megapixels" in fault and "the limit is 50" in fault
    assert unpacks_to is None or fault.startswith(f"This picture is {unpacks_to};")
    assert (programme.photos_folder / name).exists()


def test_a_photo_before_its_copy_and_one_before_its_bytes_are_told_apart(crew, app, copies):
    lane = crew
    data = encoded(drawn())
    lane.note("photo", str(uuid.uuid4()), SITE_1, of_kind="unit", of_id=str(uuid.uuid4()), sha256=name_of(data),
               taken_at="2026-11-25T05:00:00Z")  # fmt: skip
    lane.sync()
    answer = lane.client.get(f"/api/photos/{name_of(data)}")
    assert answer.status_code == 404
    assert "still on the phone" in answer.json["detail"]


def test_copies_that_a_stopped_server_left_unmade_are_made_at_start(crew, copies, app, programme, now):
    from fieldlog import create_app

    name = send(crew, encoded(drawn()))
    assert copies.wait()
    (programme.photos_folder / f"{name}.jpg").unlink()
    assert "being made ready" in crew.client.get(f"/api/photos/{name}").json["detail"]
    again = create_app(programme.folder, now)
    assert again.extensions["photo_copies"].wait()
    assert (programme.photos_folder / f"{name}.jpg").exists()
    again.extensions["photo_copies"].close()


def test_a_copy_whose_note_was_lost_in_a_crash_is_noted_at_start(crew, copies, programme):
    name = send(crew, encoded(drawn()))
    assert copies.wait()
    programme.db()["photo_file"].update(name, {"served_at": None})
    assert copies.serve_pending() == 1
    assert copies.wait()
    assert shown(crew.client, name)
    assert copies.serve_pending() == 0


def test_a_copy_that_is_empty_or_gone_is_made_anew_and_what_cannot_be_shown_is_not_tried_again(crew, copies, programme):
    name = send(crew, encoded(drawn()))
    send(crew, b"no picture at all")
    assert copies.wait()
    assert copies.serve_pending() == 0
    copy = programme.photos_folder / f"{name}.jpg"
    for spoil in (lambda: copy.write_bytes(b""), copy.unlink):
        spoil()
        assert copies.serve_pending() == 1
        assert copies.wait()
        assert shown(crew.client, name)


def test_a_photo_sent_again_is_not_encoded_again(crew, copies, programme):
    name = send(crew, encoded(drawn()))
    assert copies.wait()
    made = (programme.photos_folder / f"{name}.jpg").stat().st_mtime_ns
    assert send(crew, encoded(drawn())) == name
    assert copies.wait()
    assert (programme.photos_folder / f"{name}.jpg").stat().st_mtime_ns == made


def test_a_decoder_that_dies_costs_its_photo_a_sentence_and_the_next_one_nothing(tmp_path):
    program = tmp_path / "program.py"
    program.write_text("import sys\nif 'bad' in sys.stdin.readline(): sys.exit(3)\nprint('{}', flush=True)\nsys.stdin.read()\n")
    decoder = Decoder(program)
    assert "stopped without a result" in decoder.make_copy(tmp_path / "bad", tmp_path / "x")["fault"]
    assert decoder.make_copy(tmp_path / "good", tmp_path / "x") == {}
    decoder.close()


def test_a_photo_that_vanished_is_left_for_later(tmp_path):
    decoder = Decoder()
    assert decoder.make_copy(tmp_path / "none", tmp_path / "x") == {"later": "ENOENT"}
    decoder.close()


def test_the_decoder_knows_nothing_of_the_server():
    assert "fieldlog" not in DECODER.read_text().replace("fieldlog.", "")
    assert sys.version_info >= (3, 11)  # -P


def test_photos_of_300_kb_are_taken_whole(crew, copies):
    data = noisy(1, 300_000)
    assert 300_000 <= len(data) < 1_000_000
    name = send(crew, data)
    assert copies.wait()
    assert shown(crew.client, name).size == (2048, 1536)
