"""How often a database was committed, read off its write-ahead log, so that a floor can commit as often."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

HEADER_BYTES, FRAME_BYTES = 32, 24


@dataclass(frozen=True)
class WalEnd:
    """Where a write-ahead log stood: its salts, and how many frames under them."""

    salts: bytes
    frames: int


def wal_end(wal: Path) -> WalEnd:
    """
    Where the log stands now. Frames of an earlier round of the file follow the current ones and bear other salts.

    Source: SQLite's documentation of the WAL file's format: 32 bytes of header, the salts at 16; frames of 24 bytes and a page,
    the size after a commit at 4 (0 in all but a commit's last frame), the salts at 8.
    """
    return WalEnd(_salts(wal), len(_frames(wal, 0)))


def commits_since(wal: Path, end: WalEnd) -> int:
    """Commits after `end`; where the file began anew meanwhile, those of the new round, at least one."""
    skipped = end.frames if _salts(wal) == end.salts else 0
    return max(1, sum(size > 0 for size in _frames(wal, skipped)))


def _salts(wal: Path) -> bytes:
    with wal.open("rb") as file:
        return file.read(HEADER_BYTES)[16:24]


def _frames(wal: Path, skipped: int) -> list[int]:
    """The size after the commit, or 0, of the frames of the current round after the first so many."""
    found = []
    with wal.open("rb") as file:
        header = file.read(HEADER_BYTES)
        if len(header) < HEADER_BYTES:
            return []
        (page_bytes,) = struct.unpack(">I", header[8:12])
        file.seek(HEADER_BYTES + skipped * (FRAME_BYTES + page_bytes))
        while len(frame := file.read(FRAME_BYTES)) == FRAME_BYTES and frame[8:16] == header[16:24]:
            found.append(struct.unpack(">I", frame[4:8])[0])
            file.seek(page_bytes, 1)
    return found
