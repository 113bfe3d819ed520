"""
Photos as files in folders, `Alder Spit/B024/2026-06-14 B024 chip.jpg`, in one zip, with a table that ties them to their records.

The files are the copies that the server makes of what came: the bare pixels, written anew (`sync/photo_decoder.py`), so no metadata
leaves. They are copied by pieces; names that were given away are all that is kept of them.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

from sqlite_utils import Database

from fieldlog.exports.columns import ID, INSTANT, LOCAL, NUMBER, TEXT, Column, Table
from fieldlog.exports.csv_package import cells_of, write_csv
from fieldlog.exports.file_names import FreeNames, safe_name
from fieldlog.exports.parts import FAST, Tell, named_part
from fieldlog.exports.places import Places
from fieldlog.exports.stream import Export, Row
from fieldlog.questions.photos import has_consent, is_served, unit_of
from fieldlog.records.people_photo import PHOTO_KINDS
from fieldlog.sync.photos import standing_at_home

PIECE_BYTES = 1 << 20

PHOTO_TABLE = Table(
    "photos", "Photos as files",
    (
        Column("file", "File", TEXT, description="Its path in this folder; empty where it could not be written"),
        Column("missing", "Why it is missing", TEXT), Column("file_sha256", "SHA-256 of the file", TEXT),
        Column("sha256", "SHA-256 of what the phone sent", TEXT, required=True), Column("record_id", "Record", ID, required=True),
        Column("kind", "Kind of record", TEXT, required=True), Column("of_kind", "Photo of a", TEXT), Column("of_id", "Which one", ID),
        Column("site_id", "Site", ID, refers_to="site"), Column("site_name", "Site, name", TEXT, of="site_id"),
        Column("unit_id", "Unit", ID, refers_to="unit"), Column("unit_tag", "Unit, tag", TEXT, of="unit_id"),
        Column("taken_at", "Taken at", INSTANT), Column("taken_at_local", "Taken at", LOCAL, of="taken_at"),
        Column("lat_deg", "Latitude", NUMBER, unit="°"), Column("lon_deg", "Longitude", NUMBER, unit="°"),
        Column("place_from", "Who says the place", TEXT), Column("shows", "What it shows", TEXT),
    ),
)  # fmt: skip

NOT_HERE = "It has not arrived from the phone that took it, or cannot be shown."
CLOSED = "People can be recognized on it, and no lead has said that everyone shown agreed."
ELSEWHERE = "Its file belongs to another site."


@dataclass(frozen=True)
class PhotoFile:
    """A photo of an export: its path in the folder and the file to copy there, None where there is none; and its row, but for the file's hash."""

    name: str | None
    source: Path | None
    missing: str | None
    rest: Row


def write_photos(export: Export, to: IO[bytes], tell: Tell) -> None:
    """Write the photos of an export and their table; `to` need not be seekable."""
    with ZipFile(to, "w", ZIP_DEFLATED, compresslevel=FAST) as package:
        add_photos(export, package, tell)


def add_photos(export: Export, package: ZipFile, tell: Tell, below: str = "") -> None:
    """Copy the photos of an export into a zip, below a folder of it, then their table, which waits in a file meanwhile."""
    made_at = export.made_by.made_at
    with TemporaryFile() as kept:
        write_csv([column.name for column in PHOTO_TABLE.columns], cells_of(PHOTO_TABLE, _written(export, package, below)), kept, tell)
        kept.seek(0)
        with package.open(named_part(f"{below}photos.csv", made_at), "w", force_zip64=True) as file:
            shutil.copyfileobj(kept, file, PIECE_BYTES)


def _written(export: Export, package: ZipFile, below: str) -> Iterator[Row]:
    """The rows of the table, each when its file is in the zip."""
    for photo in photo_files(export):
        digest = None if photo.source is None else _copy(photo, package, export.made_by.made_at, below)
        yield (photo.name, photo.missing, digest, *photo.rest)


def _copy(photo: PhotoFile, package: ZipFile, made_at: str, below: str) -> str:
    part, digest = named_part(f"{below}{photo.name}", made_at), hashlib.sha256()
    # A JPEG does not get smaller.
    part.compress_type = ZIP_STORED
    assert photo.source is not None
    with photo.source.open("rb") as source, package.open(part, "w", force_zip64=True) as target:
        while piece := source.read(PIECE_BYTES):
            digest.update(piece)
            target.write(piece)
    return digest.hexdigest()


def photo_files(export: Export) -> Iterator[PhotoFile]:
    """
    The photos of an export, by kind, site and time, with what stands in the way of their files.

    Of the records that stand and name one file the strictest counts, and a file is of the site that told of it first, as for whoever
    looks at a photo (`sync/photos.py`).
    """
    places, names, folder = Places(export.db, export.words), FreeNames(), _folder_beside(export.db)
    for table in export.tables:
        if table.kind in PHOTO_KINDS and not table.list_of:
            columns = [column.name for column in table.columns]
            for values in export.rows(table):
                row = dict(zip(columns, values, strict=True))
                unit_id = unit_of(export.db, row["of_kind"], row["of_id"])
                tag = export.words.name("unit", unit_id, row["site_id"])
                unit_id = unit_id if tag is not None else None
                place, said_by = places.of_photo(row)
                source = folder / f"{row['sha256']}.jpg"
                missing = _in_the_way(export, row["sha256"], row["site_id"], source)
                rest = (
                    row["sha256"], row["record_id"], table.kind, row["of_kind"], row["of_id"], row["site_id"], row["site_name"], unit_id, tag,
                    row["taken_at"], row["taken_at_local"], *((None, None) if place is None else (place[1], place[0])), said_by, row["shows"],
                )  # fmt: skip
                yield PhotoFile(None if missing else _path(names, row, unit_id, tag), None if missing else source, missing, rest)


def _folder_beside(db: Database) -> Path:
    """The folder of the copies, beside the database that is read."""
    return Path(db.conn.execute("SELECT file FROM pragma_database_list WHERE name = 'main'").fetchone()[0]).with_name("photos")


def _in_the_way(export: Export, sha256: str, site_id: str | None, source: Path) -> str | None:
    home, standing = standing_at_home(export.db, sha256)
    if home != site_id:
        return ELSEWHERE
    kinds, classes = export.catalogue.kinds, export.wanted.classes
    if any(kinds[one.kind].privacy not in classes and not has_consent(export.db, one.record_id) for one in standing):
        return CLOSED
    return None if is_served(export.db, sha256) and source.is_file() else NOT_HERE


def _path(names: FreeNames, row: dict[str, str | None], unit_id: str | None, tag: str | None) -> str:
    """Where a photo goes: below its site and its unit, or what else it is of, by its day on the site's clock and what it shows."""
    site = f"{names.folder('', str(row['site_id']), safe_name(row['site_name'], 'Site'))}/"
    of = (unit_id, safe_name(tag, "Unit")) if unit_id else (str(row["of_kind"]), {"visit": "Visits", "sighting": "Sightings"}.get(str(row["of_kind"]), "Others"))
    below = f"{names.folder(site, *of)}/"
    day = str(row["taken_at_local"] or row["taken_at"] or "No day")[:10]
    shows = row["shows"] if row["shows"] != tag else None
    words = " ".join(word for word in (day, safe_name(tag, ""), safe_name(shows, "")) if word)
    return names.free(below, words, ".jpg")
