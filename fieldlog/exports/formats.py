"""The forms in which a programme's data leaves it, and how a file of one is put in its place."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import IO

from fieldlog.disk import disk_full_is_named, settle
from fieldlog.errors import AlreadyHere, WorkFailed
from fieldlog.exports.csv_package import write_csv_package
from fieldlog.exports.geojson import write_geojson
from fieldlog.exports.left_behind import sweep_begun
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
        needs: a package of the extra of the form's name, without which it cannot be written.
    """

    suffix: str
    media_type: str
    write: Callable[[Export, IO[bytes], Tell], None]
    needs: str | None = None


def _write_parquet(export: Export, to: IO[bytes], tell: Tell) -> None:
    """Loaded only where it is asked for: DuckDB, 69 MB, is installed by who wants such files."""
    check_installed("parquet")
    import_module("fieldlog.exports.parquet").write_parquet(export, to, tell)


FORMATS = {
    "csv": Format(".zip", "application/zip", write_csv_package),
    "xlsx": Format(".xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", write_workbook),
    "geojson": Format(".zip", "application/zip", write_geojson),
    "photos": Format(".zip", "application/zip", write_photos),
    "parquet": Format(".zip", "application/zip", _write_parquet, needs="duckdb"),
    "sqlite": Format(".sqlite", "application/vnd.sqlite3", write_sqlite),
}
"""By the name that is asked for."""


def check_installed(form: str) -> None:
    """
    Look whether a form can be written here.

    Raises:
        WorkFailed: it needs a package that is not installed.
    """
    needs = FORMATS[form].needs
    if needs is not None and find_spec(needs) is None:
        raise WorkFailed(f"This form needs the package {needs} on the server. Install it: pip install 'fieldlog[{form}]'")


def write_file(export: Export, form: Format, path: Path, tell: Tell) -> None:
    """
    Write an export to a file, which has its name when it is whole; what stops on the way leaves nothing behind.

    Raises:
        AlreadyHere: something of that name is here; it is never overwritten.
        DiskFull: the disk took no more.
    """
    _check_free(path)
    sweep_begun(path)
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
