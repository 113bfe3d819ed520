"""Photos as files: which, under which names, tied to their records, without a word of metadata; and no file that may not leave."""

from __future__ import annotations

import csv
import hashlib
import io
import re
import uuid
from pathlib import Path, PureWindowsPath
from zipfile import ZipFile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from fieldlog.exports.file_names import LONGEST, FreeNames, safe_name
from fieldlog.exports.photo_folder import CLOSED, ELSEWHERE, NOT_HERE, write_photos
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, write
from fieldlog.sync.photo_copies import Decoder
from fieldlog.sync.receive import receive
from tests.exports.conftest import BAR, LEAD, SPIT, UNIT, exported, make_shore
from tests.some_pictures import drawn, name_of
from tests.sync.lines import START_MS, Lane, record_id

GPS = {1: "N", 2: (41.0, 30.0, 0.0), 3: "W", 4: (70.0, 40.0, 0.0)}
XMP = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:Description exif:GPSLatitude="41,30N"/></x:xmpmeta>'
TELLING = (b"Exif", b"EXIF", b"eXIf", b"ns.adobe.com", b"xmpmeta", b"GPS", b"A camera", b"Photoshop", b"ICC_PROFILE", b"hidden words")


def telling(number: int, form: str) -> bytes:
    """A picture whose file says where it was taken, by what, and more."""
    exif = Image.Exif()
    exif[0x010F] = "A camera"
    exif.get_ifd(0x8825).update(GPS)
    said = io.BytesIO()
    more = {"comment": b"hidden words"} if form == "JPEG" else {}
    drawn(600 + number).save(said, form, exif=exif, xmp=XMP, **more)
    return said.getvalue()


PICTURES = {name: telling(n, form) for n, (name, form) in enumerate({"chip": "JPEG", "crack": "PNG", "spat": "WEBP", "people": "JPEG", "agreed": "JPEG", "both": "JPEG"}.items())}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A programme with photos of a unit, of a check and of a sighting, and some of people."""
    programme = make_shore(tmp_path_factory.mktemp("photos") / "programme")
    lane = Lane("photos", SPIT)
    lane.now_ms = START_MS + 20_000_000

    def photo(name: str, kind: str = "photo", of: tuple[str, str] = ("unit", UNIT), g: str = SPIT, **fields: object) -> str:
        made = str(uuid.uuid4())
        about = {"of_kind": of[0], "of_id": of[1], "sha256": name_of(PICTURES[name]) if name in PICTURES else "0" * 64, "taken_at": "2026-06-15T01:30:00Z"}
        lane.write(kind, made, about | fields, g=g)
        return made

    photo("chip", shows="chip")
    photo("chip", shows="CHIP", taken_at="2026-06-15T01:31:00Z")
    photo("crack", of=("unit_check", record_id("check 1")), shows="../../etc/pass:wd?")
    photo("spat", of=("sighting", record_id("oysters")), shows="A018")
    photo("late", shows="not here")
    photo("chip", g=BAR, shows="of another site")
    photo("people", "people_photo", shows="crew")
    photo("agreed", "people_photo", shows="crew, agreed", consent=True)
    photo("both", shows="said twice")
    photo("both", "people_photo", shows="said twice")
    reply = receive(programme.db(), lane.body(1), CATALOGUE, lambda: LEAD, lambda: START_MS + 30_000_000)
    assert [ack for ack in reply["acks"] if ack[2] != "ok"] == [], reply["acks"]
    arrive(programme)
    programme.close()
    return programme.folder


def arrive(programme: Programme) -> None:
    """Store the pictures as the server does when they have come, and make their copies."""
    decoder = Decoder()
    for data in PICTURES.values():
        path = programme.photos_folder / name_of(data)
        path.write_bytes(data)
        assert "fault" not in decoder.make_copy(path, path.with_name(f"{path.name}.jpg"))
        with write(programme.db()) as db:
            db.conn.execute("INSERT INTO photo_file(sha256, bytes, received_bytes, complete_at, served_at) VALUES (?, ?, ?, 1, 1)", (path.name, len(data), len(data)))
    decoder.close()


def taken_out(folder: Path, **wanted: object) -> tuple[ZipFile, list[dict[str, str]]]:
    to = io.BytesIO()
    with exported(folder, **wanted) as export:
        write_photos(export, to, lambda _rows: None)
    package = ZipFile(to)
    return package, list(csv.DictReader(io.StringIO(package.read("photos.csv").decode(), newline="")))


def test_a_photo_is_below_its_site_and_unit_by_its_day_there_and_what_it_shows(folder: Path) -> None:
    package, _ = taken_out(folder, role="reader")
    assert set(package.namelist()) == {
        "photos.csv", "Alder Spit/A018/2026-06-14 A018 chip.jpg", "Alder Spit/A018/2026-06-14 A018 CHIP (2).jpg",
        "Alder Spit/A018/2026-06-14 A018 -..-etc-pass-wd-.jpg",
        "Alder Spit/A018/2026-06-14 A018.jpg", "Alder Spit/A018/2026-06-14 A018 crew, agreed.jpg",
    }  # fmt: skip


def test_the_table_ties_each_file_to_its_record_place_and_time(folder: Path) -> None:
    package, rows = taken_out(folder, role="reader")
    by_file = {row["file"]: row for row in rows if row["file"]}
    assert set(by_file) == set(package.namelist()) - {"photos.csv"}
    for name, row in by_file.items():
        assert hashlib.sha256(package.read(name)).hexdigest() == row["file_sha256"]
    chip = by_file["Alder Spit/A018/2026-06-14 A018 chip.jpg"]
    assert (chip["sha256"], chip["unit_tag"], chip["site_name"]) == (name_of(PICTURES["chip"]), "A018", "Alder Spit")
    assert (chip["taken_at"], chip["taken_at_local"]) == ("2026-06-15T01:30:00.000Z", "2026-06-14T21:30:00-04:00")
    assert chip["place_from"] == "unit's planned place"
    assert float(chip["lat_deg"])
    assert float(chip["lon_deg"])


def test_what_has_not_come_is_another_sites_or_shows_people_has_no_file_and_says_why(folder: Path) -> None:
    _, rows = taken_out(folder, role="reader")
    why = {row["shows"]: row["missing"] for row in rows if row["missing"]}
    assert why == {"not here": NOT_HERE, "of another site": ELSEWHERE, "said twice": CLOSED}
    assert "crew" not in {row["shows"] for row in rows}, "a photo of people without consent is not even named"


def test_a_lead_takes_photos_of_people_too(folder: Path) -> None:
    package, rows = taken_out(folder)
    assert {row["shows"] for row in rows if row["file"]} >= {"crew", "crew, agreed", "said twice"}
    assert len(package.namelist()) == len(set(package.namelist()))


def test_the_pictures_that_came_say_where_they_were_taken_and_the_files_say_nothing(folder: Path) -> None:
    """By Pillow, and by a search of the bytes: the first half shows that both would see it."""
    for data in PICTURES.values():
        with Image.open(io.BytesIO(data)) as picture:
            assert dict(picture.getexif().get_ifd(0x8825)), "what came has a place"
        assert [word for word in TELLING if word in data], "and its bytes say so"
    package, _ = taken_out(folder)
    files = [name for name in package.namelist() if name.endswith(".jpg")]
    assert len(files) >= 6
    for name in files:
        data = package.read(name)
        with Image.open(io.BytesIO(data)) as picture:
            assert (picture.format, dict(picture.getexif())) == ("JPEG", {})
            assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        assert [word for word in TELLING if word in data] == [], name


WORDS = st.one_of(st.text(max_size=90), st.sampled_from(["CON", "nul.txt", "..", ".", "a/b", "C:\\x", "COM1 ", "\u202egpj.exe", "e\u0301", "Straße", "x" * 300, " . ", "lpt¹"]))


@given(st.lists(WORDS, max_size=6))
@settings(deadline=None)
def test_any_words_become_names_that_every_system_takes_and_none_leads_out_of_the_folder(words: list[str]) -> None:
    names, paths = FreeNames(), []
    for word in words:
        name = safe_name(word, "Unit")
        assert 0 < len(name) <= LONGEST + 1
        assert not re.search(r'[<>:"/\\|?*\x00-\x1f]', name)
        assert name == name.strip(" .")
        assert not PureWindowsPath(f"{name}.jpg").is_reserved()
        assert safe_name(name, "Unit") == name
        paths.append(names.free("Site/", name, ".jpg"))
    assert len({path.casefold() for path in paths}) == len(paths)
    assert [Path(path).parts[0] for path in paths] == ["Site"] * len(paths)


def test_two_units_of_one_tag_have_a_folder_each() -> None:
    names = FreeNames()
    assert [names.folder("Spit/", key, "B024") for key in ("one", "other", "one")] == ["Spit/B024", "Spit/B024 (2)", "Spit/B024"]
    assert names.folder("Spit/", "third", "b024") == "Spit/b024 (3)"
