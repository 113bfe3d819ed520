"""
Where a replica lies: a folder, or a bucket that speaks S3.

Below it are `photos/<sha256>` and one `db-<number>` a generation. A generation is one unbroken history of the database: a restored
programme begins the next one, so that what it replaced is never written over.
"""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path
from typing import Any, Protocol, cast

from fieldlog.errors import BadReplica
from fieldlog.replica.folder import FolderPlace

PHOTOS = "photos"
_GENERATION = re.compile(r"db-(\d{6,})")
_BUCKET = re.compile(r"s3://([a-z0-9][a-z0-9.-]{1,61}[a-z0-9])(?:/([A-Za-z0-9._/-]*))?")


class Place(Protocol):
    """What is asked of a place; names have `/` between their parts."""

    @property
    def text(self) -> str:
        """The place as it is written in the setting."""

    def names(self, under: str) -> set[str]:
        """The names directly below one."""

    def put(self, source: Path, name: str) -> None:
        """Copy a file there; when it returns, the bytes are kept and are the file's."""

    def get(self, name: str, target: Path) -> bool:
        """Copy a file from there; whether it is there."""

    def remove(self, under: str) -> None:
        """Remove all below a name."""

    def engine_target(self, name: str) -> dict[str, Any]:
        """How Litestream's configuration names a place below this one."""


def place_of(text: str, programme_folder: Path | None) -> Place:
    """
    The place of a folder's path or of `s3://bucket/prefix`. Keys, region and endpoint come from the environment under the
    names that every S3 client knows (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_DEFAULT_REGION, AWS_ENDPOINT_URL).

    Raises:
        BadReplica: it is neither, it lies in the programme's own folder, or the S3 client is not installed.
    """
    if "://" not in text:
        folder = Path(text).expanduser().resolve()
        if programme_folder is not None and folder.is_relative_to(programme_folder.resolve()):
            raise BadReplica(f"The replica {text} is inside the data folder and would be lost with it. Name a folder on another disk.")
        return FolderPlace(folder)
    found = _BUCKET.fullmatch(text)
    if found is None:
        raise BadReplica(f"{text} cannot hold a replica. Give a folder, or s3://bucket/prefix in small letters, digits and dashes.")
    try:
        # Only who uses a bucket installs the client, and loading it takes a third of a second.
        bucket = import_module("fieldlog.replica.bucket")
    except ModuleNotFoundError as missing:
        raise BadReplica(
            f"A replica in a bucket needs the package {missing.name}. Install it: pip install 'fieldlog[replica]'"
        ) from None
    return cast(Place, bucket.BucketPlace(found[1], (found[2] or "").strip("/")))


def generations(place: Place) -> list[int]:
    """The numbers of the generations at a place, oldest first."""
    found = (_GENERATION.fullmatch(name) for name in place.names(""))
    return sorted(int(one[1]) for one in found if one is not None)


def generation_name(number: int) -> str:
    """A generation's name below its place."""
    return f"db-{number:06d}"


def remove_older(place: Place, number: int) -> None:
    """Remove the generations before this one: they hold what was purged since, and what was restored over."""
    for older in generations(place):
        if older < number:
            place.remove(generation_name(older))
