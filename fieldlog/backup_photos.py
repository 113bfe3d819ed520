"""
The photos of a backup: each from the programme's folder, else from an older backup or the replica, from where it goes back to the
folder. What is nowhere is named, and stops nothing.
"""

from __future__ import annotations

import hashlib
import sqlite3
import tempfile
import zipfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from fieldlog.backup_file import UNREADABLE
from fieldlog.disk import settle
from fieldlog.errors import FieldlogError
from fieldlog.replica.checking import place_of_programme
from fieldlog.replica.place import PHOTOS, Place
from fieldlog.store import Programme

ENDING = ".back"
"""Of a photo that is being put back and has not got its name yet."""

Source = Callable[[str], bytes | None]
"""Gives a photo's bytes by its SHA-256, or None."""


def pack_photos(packed: zipfile.ZipFile, programme: Programme, names: Iterable[str], older: Iterable[Path]) -> tuple[str, ...]:
    """
    Write photos into a backup.

    Args:
        names: the SHA-256 of every photo that was received.
        older: backups to look in for those that the folder lacks, the one to ask first in front.

    Returns:
        The names of those that are nowhere.
    """
    missing = []
    with other_sources(programme, older) as others:
        for sha256 in names:
            path = programme.photos_folder / sha256
            data = _whole(sha256, path.read_bytes)
            if data is None:
                data = next((found for source in others() if (found := source(sha256)) is not None), None)
                if data is None:
                    missing.append(sha256)
                    continue
                _put_back(path, data)
            packed.writestr(f"photos/{sha256}", data)
    return tuple(missing)


@contextmanager
def other_sources(programme: Programme, older: Iterable[Path]) -> Iterator[Callable[[], list[Source]]]:
    """Where to look for photos that the folder lacks; opened when it is asked for first."""
    opened: list[Source] = []
    with ExitStack() as until_the_end:

        def sources() -> list[Source]:
            if not opened:
                opened.append(lambda _sha256: None)
                for file in older:
                    with suppress(OSError, *UNREADABLE):
                        opened.append(_in_backup(until_the_end.enter_context(zipfile.ZipFile(file))))
                with suppress(OSError, FieldlogError, sqlite3.Error):
                    place = place_of_programme(programme)
                    if place is not None:
                        opened.append(_in_replica(place, place.names(PHOTOS)))
            return opened

        yield sources


def _in_backup(packed: zipfile.ZipFile) -> Source:
    return lambda sha256: _whole(sha256, lambda: packed.read(f"photos/{sha256}"))


def _in_replica(place: Place, names: set[str]) -> Source:
    def fetch(sha256: str) -> bytes | None:
        if sha256 not in names:
            return None
        with tempfile.TemporaryDirectory(prefix="fieldlog-photo-") as folder:
            place.get(f"{PHOTOS}/{sha256}", Path(folder) / sha256)
            return (Path(folder) / sha256).read_bytes()

    return lambda sha256: _whole(sha256, lambda: fetch(sha256))


def _whole(sha256: str, read: Callable[[], bytes | None]) -> bytes | None:
    """What is read, if it is the bytes that the name promises."""
    try:
        data = read()
    except (OSError, FieldlogError, *UNREADABLE):
        return None
    return data if data is not None and hashlib.sha256(data).hexdigest() == sha256 else None


def _put_back(path: Path, data: bytes) -> None:
    """Best effort: the backup holds it already, and a disk that takes it tomorrow gets it tomorrow."""
    with suppress(OSError):
        path.parent.mkdir(exist_ok=True)
        part = path.with_name(path.name + ENDING)
        part.write_bytes(data)
        settle(part)
        part.replace(path)
        settle(path.parent)
