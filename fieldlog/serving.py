"""
Serving a programme: the production server, the lock, and a backup at start and every night.

One process with a few threads, since SQLite takes one writer at a time.
"""

from __future__ import annotations

import ctypes
import gc
import logging
import resource
import signal
import sqlite3
import threading
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from datetime import datetime, timedelta
from ipaddress import ip_address
from typing import Any

from fieldlog import child, create_app
from fieldlog.backup import photos_named
from fieldlog.connections import MOST, open_server
from fieldlog.errors import FieldlogError
from fieldlog.imports.limits import MOST_BYTES
from fieldlog.imports.works import tend_hourly
from fieldlog.metrics import open_metrics
from fieldlog.pack.ahead import make_ahead
from fieldlog.readiness import gauges
from fieldlog.rebuilding import Rebuild
from fieldlog.replica.running import Replication
from fieldlog.store import Programme, ProgrammeLock, is_closed
from fieldlog.sync.opening import must_be_rebuilt
from fieldlog.sync.photo_tending import tend_photos
from fieldlog.web import is_behind_proxy

THREADS = 8
BODY_LIMIT = MOST_BYTES + 1024 * 1024
"""A little over the largest body that a route takes, so that the route's own sentence answers."""

NIGHT_HOUR = 2
"""Backups are made at the first look after this hour, by the server's own clock and zone."""

FILES_BESIDE = 500
"""Of the database, its threads and children, beside the connections."""

LOOK_S = 60.0
BACKUP_PATIENCE_S = 6 * 3600.0
TRIED_AGAIN_AFTER = timedelta(hours=1)
CATCH_UP_S = 60.0
"""How long a backup waits for the replica, so that `durable` can move for both. Our own proposal."""

M_ARENA_MAX = -8
"""The number of this option in glibc's malloc.h."""

log = logging.getLogger("fieldlog")


def serve_programme(
    programme: Programme, host: str, port: int, now: Callable[[], datetime], announce: Callable[[str], None],
    metrics_port: int | None = None,
) -> None:  # fmt: skip
    """
    Serve until interrupted.

    Args:
        metrics_port: where this machine's Prometheus may fetch numbers, None for nowhere.
        announce: told the address once requests are taken, such as http://localhost:8080.

    Raises:
        ProgrammeBusy: another server holds the folder.
        OSError: the port is taken or not allowed.
    """
    _share_free_memory()
    _raise_file_limit()
    with ExitStack() as until_the_end:
        until_the_end.enter_context(ProgrammeLock(programme.folder))
        app = create_app(programme.folder, now, is_rebuilt_later=True)
        server = open_server(app, host, port, threads=THREADS, most_body_bytes=BODY_LIMIT, is_behind_proxy=is_behind_proxy())
        if metrics_port is not None:
            metrics = open_metrics(metrics_port, app.extensions["requests"], lambda: gauges(programme))
            until_the_end.callback(metrics.server_close)
            until_the_end.callback(metrics.shutdown)
        if not is_loopback(host):
            log.warning(
                "Serving plain HTTP beyond this machine, at %s. Anyone on that network can read everything, and phones cannot store anything. Serve at 127.0.0.1 behind an HTTPS proxy; fieldlog service prints one.", host,
            )  # fmt: skip
        _begin_beside(until_the_end, programme, app.extensions, now)
        for ending in (signal.SIGTERM, signal.SIGINT):
            signal.signal(ending, server.stop)
        # What is loaded by now stays: the collector need not look through it again at each request.
        gc.collect()
        gc.freeze()
        announce(f"http://{'localhost' if host in ('127.0.0.1', 'localhost') else host}:{server.effective_port}")
        server.run()


def _begin_beside(
    until_the_end: ExitStack, programme: Programme, parts: Mapping[str, Any], now: Callable[[], datetime]
) -> None:
    """Begin what goes on beside the requests: a rebuild where one is due, the replica, backups, the photos' folder, tomorrow's packs."""
    stop = threading.Event()
    rebuild = Rebuild(programme, now, parts["take_up"])
    if must_be_rebuilt(programme):
        rebuild.start()
        until_the_end.callback(rebuild.close)
    replication = Replication(programme, now)
    replication.start()
    night = threading.Thread(target=back_up_nightly, args=(programme, now, stop, replication), name="backups")
    night.start()
    until_the_end.callback(night.join)
    until_the_end.callback(replication.close)
    tending = threading.Thread(target=tend_photos, args=(programme, parts["photo_shelf"], now, stop), name="photos")
    tending.start()
    until_the_end.callback(tending.join)
    uploads = threading.Thread(target=tend_hourly, args=(programme, now, stop), name="uploads")
    uploads.start()
    until_the_end.callback(uploads.join)
    ahead = threading.Thread(target=make_ahead, args=(programme, parts["pack_parts"], now, stop), name="packs")
    ahead.start()
    until_the_end.callback(ahead.join)
    until_the_end.callback(stop.set)


def _share_free_memory() -> None:
    """
    Let all threads take from one pool of free memory where the C library is glibc.

    By default each of the eight threads keeps what it once needed: 25 MB more after 30,000 entries.
    """
    libc = ctypes.CDLL(None)
    if hasattr(libc, "mallopt"):
        libc.mallopt(M_ARENA_MAX, 1)


def is_loopback(host: str) -> bool:
    """Whether an address to listen at is reached from this machine alone."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _raise_file_limit() -> None:
    """Let the process hold as many connections as it takes; many systems give 1,024 files unless asked."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = MOST + FILES_BESIDE
    if soft != resource.RLIM_INFINITY and soft < wanted:
        most = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))


def back_up_nightly(
    programme: Programme, now: Callable[[], datetime], stop: threading.Event, replication: Replication
) -> None:
    """Back up at once, then whenever a night has begun without one, until `stop` is set; the replica catches up first."""
    last = failed = None
    while not stop.is_set():
        at = now()
        is_put_off = failed is not None and timedelta() <= at - failed < TRIED_AGAIN_AFTER
        # A backup that meets a replay would wait for it in vain; the next look comes in a minute.
        if (last is None or is_due(at, last)) and not is_put_off and not is_closed(programme.db()):
            try:
                replication.catch_up(CATCH_UP_S)
                job = {"folder": str(programme.folder), "now_ms": int(at.timestamp() * 1000)}
                made = child.run("fieldlog.backing_up", job, patience_s=BACKUP_PATIENCE_S, stop=stop)
                last, failed = at, None
                if made["missing"]:
                    log.error(
                        "The backup was made without photos that are gone or unreadable: %s. They stay on the phones that have them.",
                        photos_named(made["missing"]),
                    )
            except (FieldlogError, OSError, sqlite3.Error) as fault:
                if stop.is_set():
                    break
                # The phones keep their entries until a backup succeeds, so serving goes on.
                failed = at
                log.error("The backup failed: %s `fieldlog doctor` shows how old the last one is.", fault)
        stop.wait(LOOK_S)
    programme.close()


def is_due(at: datetime, last: datetime) -> bool:
    """Whether a night, which begins at 02:00 local time, lies between the last backup and now, or the clock was set back."""
    local, before = at.astimezone(), last.astimezone()
    night = local.replace(hour=NIGHT_HOUR, minute=0, second=0, microsecond=0)
    if local < night:
        night -= timedelta(days=1)
    return before < night or local < before
