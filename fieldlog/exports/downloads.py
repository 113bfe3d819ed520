"""The downloads of one server: each asked for once, begun once, written by a child, and gone with it however it ends."""

from __future__ import annotations

import secrets
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from fieldlog import child
from fieldlog.errors import ExportsBusy, NotHere, WorkFailed
from fieldlog.exports.asking import AskedExport
from fieldlog.exports.working import job_of

AT_ONCE = 2
"""Downloads under way: each takes a thread of the server's and most of a core."""

MOST_KEPT = 50
"""Of which somebody may still ask how far they are."""

WAITING, UNDER_WAY, DONE, STOPPED = STATES = ("waiting", "under way", "done", "stopped")


@dataclass
class Download:
    """
    One download.

    Attributes:
        rows: how many are written.
        about: how many there will be, about.
        state: waiting, under way, done, or stopped.
    """

    device_id: str
    asked: AskedExport
    about: int
    rows: int = 0
    state: str = WAITING
    stop: threading.Event = field(default_factory=threading.Event)


class Downloads:
    """
    What was asked for, the newest last.

    Args:
        path: the programme's database file.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._mutex = threading.Lock()
        self._kept: dict[str, Download] = {}

    def ask(self, device_id: str, asked: AskedExport, about: int) -> str:
        """Keep a download that may be begun; returns the ticket it is begun by."""
        ticket = secrets.token_hex(16)
        with self._mutex:
            ended = [one for one, kept in self._kept.items() if kept.state != UNDER_WAY]
            for one in ended[: max(0, len(self._kept) - MOST_KEPT + 1)]:
                del self._kept[one]
            self._kept[ticket] = Download(device_id, asked, about)
        return ticket

    def of(self, device_id: str, ticket: str) -> Download:
        """
        A device's own download.

        Raises:
            NotHere: it has none of that ticket.
        """
        with self._mutex:
            kept = self._kept.get(ticket)
        if kept is None or kept.device_id != device_id:
            raise NotHere("There is no such download. Start it again.")
        return kept

    def begin(self, device_id: str, ticket: str, now: datetime) -> Iterator[bytes]:
        """
        The bytes of a download; when they are no longer wanted, the child that writes them ends.

        Raises:
            NotHere: there is none, or it was begun before.
            ExportsBusy: as many as may be are under way.
        """
        download = self.of(device_id, ticket)
        with self._mutex:
            if download.state != WAITING:
                raise NotHere("This download was started before. Start it again.")
            if sum(kept.state == UNDER_WAY for kept in self._kept.values()) >= AT_ONCE:
                raise ExportsBusy(f"{AT_ONCE} downloads are under way on this server. Wait until one is done, then start again.")
            download.state = UNDER_WAY
        parts = self._parts(download, now)
        # What fails at once is still answered by a sentence.
        try:
            first = next(parts)
        except StopIteration:
            raise WorkFailed("Nothing was written. Start the download again.") from None
        return _led_by(first, parts)

    def _parts(self, download: Download, now: datetime) -> Iterator[bytes]:
        job = job_of(self._path, download.asked.form, download.asked.wanted, now)

        def count(rows: str) -> None:
            download.rows = int(rows)

        try:
            yield from child.streamed("fieldlog.exports.working", job, count, download.stop)
            download.state = DONE
        finally:
            if download.state != DONE:
                download.state = STOPPED


def _led_by(first: bytes, parts: Iterator[bytes]) -> Iterator[bytes]:
    yield first
    yield from parts
