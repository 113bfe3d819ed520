"""The forms in which a programme's data leaves it, and how a file of one is put in its place."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from fieldlog.disk import disk_full_is_named, settle
from fieldlog.errors import AlreadyHere
from fieldlog.exports.csv_package import write_csv_package
from fieldlog.exports.geojson import write_geojson
from fieldlog.exports.parts import Tell
from fieldlog.exports.photo_folder import write_photos
from fieldlog.exports.sqlite_file import write_sqlite
from fieldlog.exports.stream import Export
from fieldlog.exports.workbook import write_workbook


@dataclass(frozen=True)
class Format:
    """
    A form.

    Attributes:
        suffix: how the names of its files end.
        media_type: what it is served as.
        write: writes an export to a stream that need not be seekable.
    """

    suffix: str
    media_type: str
    write: Callable[[Export, IO[bytes], Tell], None]


FORMATS = {
    "csv": Format(".zip", "application/zip", write_csv_package),
    "xlsx": Format(".xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", write_workbook),
    "geojson": Format(".zip", "application/zip", write_geojson),
    "photos": Format(".zip", "application/zip", write_photos),
    "sqlite": Format(".sqlite", "application/vnd.sqlite3", write_sqlite),
}
"""By the name that is asked for."""


def write_file(export: Export, form: Format, path: Path, tell: Tell) -> None:
    """
    Write an export to a file, which has its name when it is whole; what stops on the way leaves nothing behind.

    Raises:
        AlreadyHere: something of that name is here; it is never overwritten.
        DiskFull: the disk took no more.
    """
    _check_free(path)
    begun = path.with_name(f".{path.name}.{os.getpid()}.begun")
    try:
        with disk_full_is_named():
            with begun.open("xb") as file:
                form.write(export, file, tell)
            settle(begun)
            _check_free(path)
            begun.rename(path)
            settle(path.parent)
    finally:
        begun.unlink(missing_ok=True)


def _check_free(path: Path) -> None:
    if path.exists() or path.is_symlink():
        raise AlreadyHere(f"{path} is already here, and an export overwrites nothing. Name another file, or move that one away.")
    if not path.parent.is_dir():
        raise AlreadyHere(f"The folder {path.parent} does not exist. Make it first, or name another one.")
