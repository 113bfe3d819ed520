"""Ready is who can also write: a quota, a limit on files and a disk that takes nothing are found by trying."""

from __future__ import annotations

import resource
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from fieldlog.errors import DiskReadOnly, NotReady
from fieldlog.readiness import TRIED_BYTES, Readiness
from fieldlog.store import Programme, set_setting, write


@contextmanager
def files_of_at_most(size: int) -> Iterator[None]:
    """This process can make no file larger, as under `ulimit -f` or a unit's LimitFSIZE."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def reached(programme: Programme) -> int:
    return max(path.stat().st_size for path in programme.folder.glob("fieldlog.sqlite*"))


def names_in(programme: Programme) -> set[str]:
    return {path.name for path in programme.folder.iterdir()}


@pytest.mark.parametrize("room", [0, 1000, TRIED_BYTES - 1])
def test_a_limit_on_files_that_the_database_has_reached_is_not_ready_and_says_so(app, programme, room: int) -> None:
    set_setting(programme.db(), "some", "thing")
    before = names_in(programme)
    with files_of_at_most(reached(programme) + room):
        answer = app.test_client().get("/readyz")
    assert (answer.status_code, answer.json["word"]) == (503, "not-ready")
    assert "256 KB" in answer.json["detail"] and "limit" in answer.json["detail"] and str(programme.folder) not in answer.json["detail"]
    assert names_in(programme) == before


def test_a_limit_that_leaves_room_is_ready(app, programme) -> None:
    before = names_in(programme)
    with files_of_at_most(reached(programme) + TRIED_BYTES):
        assert app.test_client().get("/readyz").json == {"ready": True}
    assert names_in(programme) == before


def test_what_the_last_try_said_holds_for_some_seconds(programme, monkeypatch) -> None:
    """Everybody may ask, so the disk is not written to at each question."""
    now_s = [100.0]
    monkeypatch.setattr("fieldlog.readiness.time.monotonic", lambda: now_s[0])
    readiness = Readiness(programme)
    readiness.check()
    with files_of_at_most(1000):
        now_s[0] += 9.9
        readiness.check()
        now_s[0] += 0.1
        with pytest.raises(NotReady):
            readiness.check()
    now_s[0] += 9.9
    with pytest.raises(NotReady):
        readiness.check()
    now_s[0] += 0.1
    readiness.check()


def test_a_disk_that_refused_the_last_change_is_not_ready_until_it_takes_one(app, programme) -> None:
    """A file beside it may be written while the database's own takes nothing."""
    db = app.extensions["programme"].db()
    db.conn.execute("PRAGMA query_only = ON")
    with pytest.raises(DiskReadOnly), write(db):
        set_setting(db, "some", "thing")
    answer = app.test_client().get("/readyz")
    assert (answer.status_code, answer.json["word"]) == (503, "not-ready")
    assert "cannot write to its disk" in answer.json["detail"]
    db.conn.execute("PRAGMA query_only = OFF")
    Readiness(programme).check()
    with write(db):
        set_setting(db, "some", "thing")
    Readiness(programme).check()


def test_a_link_that_stands_under_the_name_of_the_trial_is_not_followed(app, programme, tmp_path) -> None:
    (tmp_path / "other").write_bytes(b"kept")
    (programme.folder / ".tried").symlink_to(tmp_path / "other")
    assert app.test_client().get("/readyz").json == {"ready": True}
    assert (tmp_path / "other").read_bytes() == b"kept"
