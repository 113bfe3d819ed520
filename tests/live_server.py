"""The production server on a free port of this machine, with a clock of the test's choice."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from flask import Flask

from fieldlog import create_app
from fieldlog.access.bodies import MAX_RECORD_BYTES
from fieldlog.access.invitations import invite
from fieldlog.commands.windows import site_windows
from fieldlog.connections import open_server
from fieldlog.store import Programme


def code_for(programme: Programme, role: str, site_id: str | None, now_ms: int) -> str:
    """A code that lets ten devices in, as the command line makes it."""
    return invite(programme.db(), None, role, site_id, 10, 24, now_ms).code


def at_an_opening(programme: Programme, day: date, after: timedelta) -> Callable[[], datetime]:
    """A clock that runs on from so long after the first safe window of the programme's one site from `day` on opens."""
    (site,) = programme.db().query("SELECT * FROM site")
    windows, _ = site_windows(programme.db(), site, day, 30, rows=False)
    opens = next(window["opens_at"] for window in windows if window["safe"])
    ahead = datetime.fromisoformat(opens) + after - datetime.now(UTC)
    return lambda: datetime.now(UTC) + ahead


@dataclass
class LiveServer:
    """A server that runs, and the programme it serves."""

    url: str
    programme: Programme
    app: Flask
    now: Callable[[], datetime]

    def join_link(self, role: str, site_id: str | None = None) -> str:
        now_ms = int(self.now().timestamp() * 1000)
        return f"{self.url}/#join={code_for(self.programme, role, site_id, now_ms)}"


@contextmanager
def serving(programme: Programme, now: Callable[[], datetime], port: int = 0) -> Iterator[LiveServer]:
    """Serve until the end of the block, on a free port where none is named."""
    made = create_app(programme.folder, now)
    server = open_server(made, "127.0.0.1", port, threads=4, most_body_bytes=MAX_RECORD_BYTES + 4096, is_behind_proxy=False)
    running = threading.Thread(target=server.run, name="live server", daemon=True)
    running.start()
    yield LiveServer(f"http://127.0.0.1:{server.effective_port}", programme, made, now)
    server.stop()
    running.join(timeout=30)
    assert not running.is_alive(), "the live server did not end"
    made.extensions["photo_copies"].close()
    made.extensions["programme"].close()
