"""A small programme with entries and a photo, and its backup."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from fieldlog.backup import make_backup
from fieldlog.store import Programme
from fieldlog.sync.photos import PhotoShelf, Sender
from some_pictures import drawn, encoded, name_of
from tests.a_phone import Phone
from tests.commands.conftest import call, refused  # noqa: F401

PHOTO = encoded(drawn())


def write_species(phone: Phone, *numbers: int) -> None:
    """One entry a number, sent."""
    for number in numbers:
        phone.note("species", f"{number:08d}-0000-4000-8000-000000000000", None, scientific_name=f"Invented {number}")
    answer = phone.sync()
    assert answer.status_code == 200
    assert answer.json["err"] is None


@pytest.fixture
def phone(client_of, now) -> Phone:
    """A lead's phone whose three entries were taken."""
    made = Phone(client_of("lead"), int(now().timestamp() * 1000))
    write_species(made, 1, 2, 3)
    return made


@pytest.fixture
def full(programme: Programme, phone: Phone, now) -> Programme:
    """The programme with three entries and a photo."""
    PhotoShelf(programme).take(name_of(PHOTO), Sender("a" * 32, may_know=True), 0, len(PHOTO), PHOTO, int(now().timestamp() * 1000))
    return programme


@pytest.fixture
def backup(full: Programme, now, tmp_path: Path) -> Path:
    """A backup of it in a folder of its own."""
    file = tmp_path / "kept" / "all.zip"
    make_backup(full, file, int(now().timestamp() * 1000))
    return file


@pytest.fixture
def rewritten(backup: Path, tmp_path: Path) -> Callable[..., Path]:
    """rewritten({name: bytes or None}, **manifest): the backup with members added, replaced or left out."""

    def made(members: dict[str, bytes | None], **manifest: object) -> Path:
        file = tmp_path / "crafted.zip"
        with zipfile.ZipFile(backup) as packed, zipfile.ZipFile(file, "w") as crafted:
            said = {**json.loads(packed.read("manifest.json")), **manifest}
            found = {name: packed.read(name) for name in packed.namelist()}
            for name, data in {**found, "manifest.json": json.dumps(said).encode(), **members}.items():
                if data is not None:
                    crafted.writestr(name, data)
        return file

    return made


def sha256_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def everything_in(folder: Path) -> dict[str, bytes | None]:
    """Every path below a folder with its bytes."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None for path in sorted(folder.rglob("*"))}
