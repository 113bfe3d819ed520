"""Photos that arrive at one moment share the waits for the disk, and none has a receipt that is not on it."""

from __future__ import annotations

import hashlib
import threading
from pathlib import Path

import pytest

from fieldlog.errors import DiskFull
from fieldlog.sync import photo_receipts
from fieldlog.sync.photo_receipts import PhotoReceipts

NOW_MS = 1_790_000_000_000


def photo(programme, name: str) -> Path:
    content = name.encode() * 9
    path = programme.photos_folder / hashlib.sha256(content).hexdigest()
    path.write_bytes(content)
    return path


def rows(programme) -> set[str]:
    return {row[0] for row in programme.db().conn.execute("SELECT sha256 FROM photo_file")}


def given_at_once(receipts: PhotoReceipts, photos: list[Path], faults: list[BaseException]) -> list[threading.Thread]:
    def give(path: Path) -> None:
        try:
            receipts.give(path, NOW_MS)
        except DiskFull as fault:
            faults.append(fault)

    workers = [threading.Thread(target=give, args=(path,)) for path in photos]
    for worker in workers:
        worker.start()
    return workers


def test_photos_that_wait_together_are_settled_together(programme, monkeypatch: pytest.MonkeyPatch) -> None:
    settled: list[Path] = []
    first_waits, go_on = threading.Event(), threading.Event()

    def slow(path: Path) -> None:
        settled.append(path)
        first_waits.set()
        go_on.wait(10)

    monkeypatch.setattr(photo_receipts, "settle", slow)
    receipts = PhotoReceipts(programme)
    photos = [photo(programme, f"photo {turn}") for turn in range(6)]
    workers = given_at_once(receipts, photos[:1], [])
    first_waits.wait(10)
    workers += given_at_once(receipts, photos[1:], [])
    while len(receipts._waiting) < 5:
        go_on.wait(0.01)
    go_on.set()
    for worker in workers:
        worker.join()
    assert rows(programme) == {path.name for path in photos}
    assert len(settled) == 2, "each of those that waited synced the folder for itself"


def test_a_full_disk_gives_nobody_a_receipt_and_the_next_try_does(programme, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_path: Path) -> None:
        raise DiskFull("The server's disk is full.")

    receipts = PhotoReceipts(programme)
    photos = [photo(programme, f"photo {turn}") for turn in range(4)]
    faults: list[BaseException] = []
    with monkeypatch.context() as broken:
        broken.setattr(photo_receipts, "settle", full)
        for worker in given_at_once(receipts, photos, faults):
            worker.join()
    assert len(faults) == 4
    assert rows(programme) == set()
    for path in photos:
        receipts.give(path, NOW_MS)
        assert receipts.is_given(path.name)
