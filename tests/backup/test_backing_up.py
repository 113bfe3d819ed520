"""A server's backup is made in a process of its own, which ends with the server."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from fieldlog import child
from fieldlog.backup import own_backups
from fieldlog.errors import WorkFailed
from fieldlog.serving import back_up_nightly
from fieldlog.store import Programme, setting


def test_a_backup_is_made_by_a_child_and_moves_durable(demo_programme) -> None:
    made = child.run("fieldlog.backing_up", {"folder": str(demo_programme.folder), "now_ms": 1_800_000_000_000})
    (in_log,) = demo_programme.db().execute("SELECT count(*) FROM log").fetchone()
    assert made == {"entries": in_log, "missing": []}
    assert len(own_backups(demo_programme)) == 1
    assert demo_programme.db().execute("SELECT count(*) FROM lane WHERE durable < top").fetchone() == (0,)
    assert setting(demo_programme.db(), "backup_at") is not None


def test_a_backup_that_fails_tells_its_sentence(tmp_path: Path) -> None:
    with pytest.raises(WorkFailed, match="holds no program"):
        child.run("fieldlog.backing_up", {"folder": str(tmp_path), "now_ms": 0})


def test_a_child_ends_when_its_server_stops() -> None:
    stop = threading.Event()
    began = time.monotonic()
    threading.Timer(0.5, stop.set).start()
    with pytest.raises(WorkFailed):
        child.run("tests.backup.sleeper", {}, stop=stop)
    assert time.monotonic() - began < 20, "it slept for a minute"


def test_a_backup_that_failed_is_tried_again_after_an_hour_and_not_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    at, stop, tried = datetime(2026, 11, 25, 3, tzinfo=UTC), threading.Event(), []
    clock = [at + timedelta(minutes=minutes) for minutes in (0, 1, 59, 60, 61)]

    def now() -> datetime:
        if len(clock) == 1:
            stop.set()
        return clock.pop(0)

    def run(_module: str, job: dict[str, object], **_how: object) -> dict[str, object]:
        tried.append((job["now_ms"] - int(at.timestamp() * 1000)) // 60_000)
        if len(tried) == 1:
            raise WorkFailed("Busy.")
        return {"entries": 0, "missing": []}

    monkeypatch.setattr("fieldlog.serving.child.run", run)
    monkeypatch.setattr("fieldlog.serving.LOOK_S", 0.0)
    back_up_nightly(Programme(tmp_path), now, stop, SimpleNamespace(catch_up=lambda _seconds: None))
    assert tried == [0, 60]
