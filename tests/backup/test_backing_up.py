"""A server's backup is made in a process of its own, which ends with the server."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest

from fieldlog import child
from fieldlog.backup import own_backups
from fieldlog.errors import WorkFailed
from fieldlog.store import setting


def test_a_backup_is_made_by_a_child_and_moves_durable(demo_programme) -> None:
    entries = child.run("fieldlog.backing_up", {"folder": str(demo_programme.folder), "now_ms": 1_800_000_000_000})
    (in_log,) = demo_programme.db().execute("SELECT count(*) FROM log").fetchone()
    assert entries == in_log
    assert len(own_backups(demo_programme)) == 1
    assert demo_programme.db().execute("SELECT count(*) FROM lane WHERE durable < top").fetchone() == (0,)
    assert setting(demo_programme.db(), "backup_at") is not None


def test_a_backup_that_fails_tells_its_sentence(tmp_path: Path) -> None:
    with pytest.raises(WorkFailed, match="holds no programme"):
        child.run("fieldlog.backing_up", {"folder": str(tmp_path), "now_ms": 0})


def test_a_child_ends_when_its_server_stops() -> None:
    stop = threading.Event()
    began = time.monotonic()
    threading.Timer(0.5, stop.set).start()
    with pytest.raises(WorkFailed):
        child.run("tests.backup.sleeper", {}, stop=stop)
    assert time.monotonic() - began < 20, "it slept for a minute"
