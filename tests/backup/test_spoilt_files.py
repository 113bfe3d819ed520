"""A backup that was spoilt anywhere on its way is told in a sentence, whatever zipfile makes of it."""

from __future__ import annotations

import random
import sqlite3
import struct
import zipfile
from collections.abc import Callable

import pytest

from fieldlog.backup_file import opened_backup
from fieldlog.errors import BackupUnsound

ENTRY, END = b"PK\x01\x02", b"PK\x05\x06"
"""Where the zip's directory begins an entry, and where it ends (PKWARE's APPNOTE 6.3.10, sections 4.3.12 and 4.3.16)."""


def put(at: int, value: bytes, after: bytes = ENTRY) -> Callable[[bytearray], None]:
    def spoil(file: bytearray) -> None:
        start = file.index(after) + at
        file[start : start + len(value)] = value

    return spoil


def name_that_is_no_utf8(file: bytearray) -> None:
    start = file.rindex(ENTRY)
    file[start + 9] |= 0x08
    file[start + 46 + 3] = 0xB1


@pytest.mark.parametrize(
    "spoil",
    [
        put(6, b"\x91"), name_that_is_no_utf8, put(16, struct.pack("<I", 0xFFFFFFF0), END), put(12, struct.pack("<I", 0x7FFFFFF0), END),
        put(42, struct.pack("<I", 0xFFFFFFF0)), put(10, b"\x0c"), put(10, b"\x63"), put(8, b"\x01"),
    ],
    ids=["a version to come", "a name", "the directory's place", "its size", "an entry's place", "bzip2", "no known way", "a password"],
)  # fmt: skip
def test_each_spoilt_part_is_a_sentence(backup, tmp_path, spoil) -> None:
    spoilt = tmp_path / "spoilt.zip"
    file = bytearray(backup.read_bytes())
    spoil(file)
    spoilt.write_bytes(file)
    with pytest.raises(BackupUnsound), opened_backup(spoilt, tmp_path):
        pass


def test_whatever_byte_is_wrong_it_is_a_backup_or_a_sentence(backup, tmp_path) -> None:
    drawn = random.Random(31)
    whole, spoilt = backup.read_bytes(), tmp_path / "spoilt.zip"
    directory = whole.index(ENTRY)
    refused = 0
    for _ in range(200):
        file = bytearray(whole)
        file[drawn.randrange(directory, len(file))] = drawn.randrange(256)
        spoilt.write_bytes(file)
        try:
            with opened_backup(spoilt, tmp_path):
                pass
        except BackupUnsound as fault:
            assert str(spoilt) in fault.sentence
            refused += 1
    assert refused > 100


def test_a_device_with_sites_that_are_no_list_is_refused(backup, tmp_path) -> None:
    crafted = tmp_path / "crafted.zip"
    with zipfile.ZipFile(backup) as source, zipfile.ZipFile(crafted, "w") as target:
        for name in source.namelist():
            data = source.read(name)
            if name == "fieldlog.sqlite":
                copy = tmp_path / "copy.sqlite"
                copy.write_bytes(data)
                db = sqlite3.connect(copy)
                db.execute("UPDATE device SET sites = 'x'")
                assert db.total_changes
                db.commit()
                db.close()
                data = copy.read_bytes()
            target.writestr(name, data)
    with pytest.raises(BackupUnsound, match="'x', which is not a list of sites"), opened_backup(crafted, tmp_path):
        pass
