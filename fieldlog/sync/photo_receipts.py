"""Receipts of photos: a row each, given when the photo and its name are on the disk."""

from __future__ import annotations

import threading
from pathlib import Path

from fieldlog.disk import settle
from fieldlog.store import Programme, write


class PhotoReceipts:
    """Photos that arrive at the same moment share one sync of the folder and one commit: each waits for the disk."""

    def __init__(self, programme: Programme) -> None:
        self._programme = programme
        self._waiting: dict[str, tuple[str, int, int, int]] = {}
        self._adding = threading.Lock()
        self._giving = threading.Lock()

    def is_given(self, sha256: str) -> bool:
        """Whether a photo has its row, which does not say that its file was lost."""
        row = self._programme.db().conn.execute("SELECT 1 FROM photo_file WHERE sha256 = ? AND lost_at IS NULL", (sha256,)).fetchone()
        return row is not None

    def give(self, final: Path, now_ms: int) -> None:
        """
        Return when a photo that was just given its name has its row, both on the disk.

        Raises:
            DiskFull, WriterBusy: it has no row; the others that waited try for themselves.
        """
        sha256, size = final.name, final.stat().st_size
        with self._adding:
            self._waiting[sha256] = (sha256, size, size, now_ms)
        with self._giving:
            with self._adding:
                if sha256 not in self._waiting:
                    return
                some, self._waiting = self._waiting, {}
            is_done = False
            try:
                settle(final.parent)
                db = self._programme.db()
                with write(db):
                    db.conn.executemany(
                        """INSERT INTO photo_file(sha256, bytes, received_bytes, complete_at) VALUES (?, ?, ?, ?)
                           ON CONFLICT(sha256) DO UPDATE SET lost_at = NULL""",
                        some.values(),
                    )
                is_done = True
            finally:
                if not is_done:
                    some.pop(sha256)
                    with self._adding:
                        self._waiting = {**some, **self._waiting}
