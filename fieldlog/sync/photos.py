"""
Photos by content: the name is the SHA-256 of the bytes, so an upload can be resumed, repeated or done by two phones.

`photos/<sha256>` keeps what came and is never served; `<sha256>.<device>.part` grows while it arrives, one a device, so that
nobody's bytes stand in another's way; `<sha256>.jpg` is the copy that is served (photo_copies.py).

Whoever may not see a photo does not learn from an upload whether it is here: they are answered by their own part alone.
"""

from __future__ import annotations

import hashlib
import os
import re
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.disk import disk_full_is_named, is_whole, settle
from fieldlog.errors import BadRequest, DiskFull, NotHere, TooLarge, WrongBytes, WrongOffset
from fieldlog.questions.photos import Naming, naming
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme
from fieldlog.sync.photo_receipts import PhotoReceipts
from fieldlog.sync.reading import SEES, values_of

MAX_PHOTO_BYTES = 8 * 1024 * 1024
_SHA256 = re.compile(r"[0-9a-f]{64}")
_PART = re.compile(r"([0-9a-f]{64})\.(?:([0-9a-z]+)\.)?part")
"""A part; without a device's name it is of version 0.2.0."""

_LOCKS = 64

PART_KEPT_MS = 30 * 24 * 3600 * 1000
"""A part that has not grown for so long is nobody's any more. Our own proposal."""


def append_bytes(file: int, chunk: bytes, offset: int) -> None:
    """Write a chunk at an offset of an open file, all of it."""
    rest = memoryview(chunk)
    while rest:
        written = os.pwrite(file, rest, offset)
        offset += written
        rest = rest[written:]


@dataclass(frozen=True)
class Sender:
    """Who sends a photo: the device whose part it is, and whether it may know that the photo is here, by whoever it came."""

    device_id: str
    may_know: bool


def sender_of(db: Database, catalogue: Catalogue, device: Device, sha256: str) -> Sender:
    """A device as the sender of a photo; it may know of one that it may see."""
    return Sender(device.device_id, _may_see(db, catalogue, device, sha256))


class PhotoShelf:
    """A programme's photos as they arrive; one upload of a photo at a time, however many phones send it."""

    def __init__(
        self, programme: Programme, append: Callable[[int, bytes, int], None] = append_bytes
    ) -> None:
        self._programme = programme
        self._append = append
        self._receipts = PhotoReceipts(programme)
        self._locks = [threading.Lock() for _ in range(_LOCKS)]

    def offset(self, sha256: str, sender: Sender) -> int | None:
        """How many bytes of a photo are here from a sender, None when it may know that all are and the receipt was given."""
        final, part = self._paths(sha256, sender.device_id)
        if sender.may_know and is_whole(final, sha256) and self._receipts.is_given(sha256):
            return None
        return _size(part)

    def take(self, sha256: str, sender: Sender, offset: int, total: int, chunk: bytes, now_ms: int) -> int | None:
        """
        Take the next part of a photo. The last one is answered only when the whole photo is on the disk.

        Args:
            sender: whose part the chunk goes on with.
            offset: where the chunk begins, in bytes.
            total: the photo's size in bytes, at most 8 MB.

        Returns:
            How many bytes are here from this sender now, None when the photo is complete.

        Raises:
            NotHere: the name is no SHA-256.
            TooLarge: the photo is larger than 8 MB.
            BadRequest: the chunk is empty or reaches past the photo's end.
            WrongOffset: the chunk does not begin where the stored part ends; 0 where what was stored is not this photo.
            WrongBytes: all bytes came, but they are not those of the name; the upload begins anew.
            DiskFull: nothing of this chunk was kept.
        """
        final, part = self._paths(sha256, sender.device_id)
        if total > MAX_PHOTO_BYTES:
            raise TooLarge(f"The photo has {total} bytes; at most {MAX_PHOTO_BYTES} (8 MB) are allowed. Send a smaller one.")
        with self._lock_of(sha256):
            for place in (final, part):
                if place.is_dir():
                    place.rename(place.with_name(f"{place.name}.aside-{now_ms}"))
            # A file that rotted on the disk is no receipt: it is taken again, and replaced when it is complete.
            was_whole = sender.may_know and is_whole(final, sha256)
            if was_whole:
                part.unlink(missing_ok=True)
            if not was_whole and not self._finish_complete(sha256, part, final, total):
                if not chunk or offset + len(chunk) > total:
                    raise BadRequest(f"A part of {len(chunk)} bytes at {offset} does not fit in a photo of {total}. Start again.")
                have = _size(part)
                if offset != have:
                    raise WrongOffset(have)
                if have + len(chunk) < total:
                    self._store(part, have, chunk)
                    return have + len(chunk)
                self._finish(sha256, part, final, have, chunk)
            if not was_whole or not self._receipts.is_given(sha256):
                self._receipts.give(final, now_ms)
        return None

    def finish_parts(self, now_ms: int) -> int:
        """
        Finish what a server that was killed left: parts with all their bytes, photos without their row.

        Parts of photos that are here go, and such as are nobody's: their phones begin anew.

        Returns:
            How many photos are complete now that were not.
        """
        names = sorted(path.name for path in self._programme.photos_folder.iterdir() if path.is_file())
        finished = sum([self._finish_name(name, now_ms) for name in names])
        for name in names:
            begun = _PART.fullmatch(name)
            if begun and (begun[2] is None or (self._programme.photos_folder / begun[1]).exists()):
                (self._programme.photos_folder / name).unlink(missing_ok=True)
        return finished

    def drop_old_parts(self, now_ms: int) -> int:
        """
        Drop the parts that have not grown for 30 days, by whichever device; how many.

        Nothing is lost by that, whether an entry names the photo or not: its phone has all of it until it has a receipt, is told that
        nothing is here and begins anew. A part dated as far after now was written while the clock was wrong.
        """
        dropped = 0
        for path in list(self._programme.photos_folder.iterdir()):
            begun = _PART.fullmatch(path.name)
            if begun is None:
                continue
            with self._lock_of(begun[1]):
                if path.is_file() and abs(now_ms - path.stat().st_mtime * 1000) > PART_KEPT_MS:
                    path.unlink()
                    dropped += 1
        return dropped

    def _lock_of(self, sha256: str) -> threading.Lock:
        return self._locks[int(sha256[:2], 16) % _LOCKS]

    def _finish_name(self, name: str, now_ms: int) -> bool:
        """Finish one file of the folder. Returns whether a photo is complete now that was not."""
        begun = _PART.fullmatch(name)
        if begun is None and not _SHA256.fullmatch(name):
            return False
        path = self._programme.photos_folder / name
        final = path if begun is None else path.with_name(begun[1])
        if begun and is_whole(path, final.name):
            _rename(path, final)
        if self._receipts.is_given(final.name) or not is_whole(final, final.name):
            return False
        self._receipts.give(final, now_ms)
        return True

    def _finish_complete(self, sha256: str, part: Path, final: Path, total: int) -> bool:
        """Whether the last part came before and only the new name was missing; a part as long that is another goes."""
        if total < 1 or _size(part) < total:
            return False
        if is_whole(part, sha256):
            _rename(part, final)
            return True
        part.unlink()
        return False

    def _paths(self, sha256: str, device_id: str) -> tuple[Path, Path]:
        if not _SHA256.fullmatch(sha256):
            raise NotHere("A photo's name is the 64 hex digits of its SHA-256.")
        folder = self._programme.photos_folder
        return folder / sha256, folder / f"{sha256}.{device_id}.part"

    def _finish(self, sha256: str, part: Path, final: Path, have: int, chunk: bytes) -> None:
        begun = part.read_bytes() if have else b""
        if hashlib.sha256(begun + chunk).hexdigest() != sha256:
            part.unlink(missing_ok=True)
            raise WrongBytes("The bytes received do not match the photo. Send it again from the start.")
        self._store(part, have, chunk)
        _rename(part, final)

    def _store(self, part: Path, have: int, chunk: bytes) -> None:
        file = os.open(part, os.O_WRONLY | os.O_CREAT, 0o600)
        try:
            with disk_full_is_named():
                self._append(file, chunk, have)
        except (OSError, DiskFull):
            os.ftruncate(file, have)
            raise
        finally:
            os.close(file)


def served_copy(programme: Programme, catalogue: Catalogue, device: Device, sha256: str) -> Path:
    """
    The file to send to a device that asks for a photo.

    Raises:
        NotHere: no photo record that this device may see names it, it has not arrived, its copy is not made yet, or it
            cannot be shown, with the reason.
    """
    db = programme.db()
    if not _may_see(db, catalogue, device, sha256):
        raise NotHere("There is no such photo among what this phone may see.")
    row = db.conn.execute("SELECT served_at, fault FROM photo_file WHERE sha256 = ?", (sha256,)).fetchone()
    if row is None:
        raise NotHere("This photo is still on the phone that took it. It arrives when that phone sends it.")
    if row[1] is not None:
        raise NotHere(row[1])
    copy = programme.photos_folder / f"{sha256}.jpg"
    if row[0] is None or not copy.exists():
        raise NotHere("This photo has arrived and is being made ready. Ask again in a few seconds.")
    return copy


def faulty_photos(db: Database, catalogue: Catalogue, lead: Device) -> list[dict[str, Any]]:
    """
    What arrived as a photo and cannot be shown, for a lead: its bytes are kept as they came.

    Each: sha256, bytes, complete_at (milliseconds since 1970), fault (a sentence), records (ids of the photo records
    that name it, on the lead's sites). A lead of some sites is told of those that it might see.
    """
    rows = db.query("SELECT sha256, bytes, complete_at, fault FROM photo_file WHERE fault IS NOT NULL ORDER BY complete_at DESC")
    found = [
        {**row, "records": [one.record_id for one in naming(db, row["sha256"]) if not one.deleted and (lead.sites is None or one.site_id in lead.sites)]}
        for row in rows
    ]
    return [row for row in found if lead.sites is None or (row["records"] and _may_see(db, catalogue, lead, row["sha256"]))]


def _may_see(db: Database, catalogue: Catalogue, device: Device, sha256: str) -> bool:
    """Whether a device may see a photo's file: of the records that stand at its site, the one with the strictest class counts."""
    home, standing = standing_at_home(db, sha256)
    classes = {catalogue.kinds[one.kind].privacy for one in standing}
    return bool(classes) and classes.issubset(SEES[device.role]) and (device.sites is None or home in device.sites)


def standing_at_home(db: Database, sha256: str) -> tuple[str | None, list[Naming]]:
    """The site of a photo's file, None where no record names it, and the records that stand there and name it."""
    named = naming(db, sha256)
    home = _home(db, sha256, named)
    return home, [one for one in named if one.site_id == home and not one.deleted]


def _home(db: Database, sha256: str, named: list[Naming]) -> str | None:
    """
    The site of a photo, None where no record names it.

    It is the one that told of it first: whoever knows its name at another site and writes it down there, in a new record or an old
    one, sees nothing by that.

    Args:
        named: the records that name it, in the order in which they were begun.
    """
    earliest: int | None = None
    home: str | None = None
    for one in named:
        if earliest is not None and one.begun > earliest:
            break
        told = next(seq for seq, name in values_of(db, one.kind, one.record_id, "sha256") if name == sha256)
        if earliest is None or told < earliest:
            earliest, home = told, one.site_id
    return home


def _size(path: Path) -> int:
    return path.stat().st_size if path.is_file() else 0


def _rename(part: Path, final: Path) -> None:
    """Give a complete part, settled on the disk, its name; the receipt settles the name."""
    settle(part)
    part.rename(final)
