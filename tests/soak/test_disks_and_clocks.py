"""A full disk, a disk that takes no writes, a bad page, two servers, an older backup, and clocks that jump."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fieldlog import create_app
from fieldlog.backup import make_backup, nightly_backup, own_backups
from fieldlog.doctor import examine
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import restore_backup
from fieldlog.store import Programme
from tests.conftest import Clock
from tests.soak.served import (
    ROOT,
    Server,
    WirePhone,
    check_all_arrived,
    check_receipts,
    come_to_rest,
    new_programme,
    now_ms,
)
from tests.soak.whole_again import confirm_all

SEED = int(os.environ.get("FIELDLOG_SEED", "1"))
FULL_AT = 700_000
"""Bytes that a file may have on the disk that is full: a database that has just begun fits."""


def test_a_full_disk_takes_nothing_it_does_not_keep_and_goes_on_when_there_is_room(tmp_path: Path) -> None:
    phones = new_programme(tmp_path / "programme", SEED)
    server = Server(tmp_path / "programme", limit_bytes=FULL_AT)
    server.start()
    full = 0
    for _ in range(60):
        for phone in phones:
            for _ in range(25):
                phone.sow()
            full += phone.go_on(server.port)
        if full > 5:
            break
    assert full > 5, "the disk never was full"
    status, _, body = phones[0].ask(server.port, "GET", "/healthz")
    assert status == 200, body
    server.kill()
    check_receipts(server.folder, phones)
    server.limit_bytes = None
    server.start()
    come_to_rest(phones, server.port)
    server.stop()
    check_all_arrived(server.folder, phones)


def test_a_disk_that_takes_no_writes_is_told_and_nothing_is_receipted(client_of, app, programme) -> None:
    client = client_of("lead")
    app.extensions["programme"].db().conn.execute("PRAGMA query_only = ON")
    phone = WirePhone(programme, random.Random(SEED), "lead")
    phone.set_up_site()
    body = phone.phone.request(phone.phone.lane)
    client.set_cookie("fieldlog", phone.token)
    answer = client.post("/api/sync", data=body)
    assert (answer.status_code, answer.json["word"]) == (507, "disk-read-only")
    assert "cannot write to its disk" in answer.json["detail"]
    app.extensions["programme"].db().conn.execute("PRAGMA query_only = OFF")
    assert [ack[2] for ack in client.post("/api/sync", data=body).json["acks"]] == ["ok"]


def test_a_bad_page_is_told_and_the_newest_backup_under_phones_loses_nothing(tmp_path: Path) -> None:
    phones = new_programme(tmp_path / "programme", SEED)
    server = Server(tmp_path / "programme")
    server.start()
    for phone in phones:
        for _ in range(40):
            phone.sow()
        phone.take_photo()
    come_to_rest(phones, server.port)
    server.stop()
    server.start()  # it backs up, in a process of its own
    until_s = time.monotonic() + 60
    while not own_backups(Programme(server.folder)) and time.monotonic() < until_s:
        time.sleep(0.1)
    for phone in phones:
        phone.sow()
        phone.take_photo()
    come_to_rest(phones, server.port)
    server.kill()
    _spoil_the_log(server.folder)
    server.start()
    for phone in phones:
        phone.sow()
        phone.go_on(server.port)
    server.kill()
    findings = examine(server.folder, CATALOGUE, now_ms())
    assert any(one.word == "unsound" and not one.ok for one in findings)
    restore_backup(str(own_backups(Programme(server.folder))[-1]), server.folder, CATALOGUE, now_ms())
    confirm_all(server.folder)
    server.start()
    come_to_rest(phones, server.port)
    server.stop()
    check_all_arrived(server.folder, phones)


def _spoil_the_log(folder: Path) -> None:
    """A page in the middle of the log's table, as a bad sector leaves it."""
    programme = Programme(folder)
    db = programme.db()
    db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (page,) = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'log'").fetchone()
    programme.close()
    with programme.path.open("r+b") as file:
        file.seek((page - 1) * 4096)
        file.write(b"\xff" * 4096)


def test_a_second_server_on_the_folder_is_refused_and_the_first_goes_on(tmp_path: Path) -> None:
    phones = new_programme(tmp_path / "programme", SEED)
    server = Server(tmp_path / "programme")
    server.start()
    second = subprocess.run(
        [sys.executable, "-m", "fieldlog", "--data", str(server.folder), "serve", "--port", "0"], capture_output=True, text=True,
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, timeout=60, check=False,
    )  # fmt: skip
    assert (second.returncode, second.stdout) == (2, "")
    assert "in use by another server" in second.stderr
    for phone in phones:
        phone.sow()
    come_to_rest(phones, server.port)
    server.stop()
    check_all_arrived(server.folder, phones)


def test_an_older_backup_under_phones_is_filled_up_by_them(tmp_path: Path) -> None:
    phones = new_programme(tmp_path / "programme", SEED)
    server = Server(tmp_path / "programme")
    server.start()
    for phone in phones:
        phone.sow()
        phone.take_photo()
    come_to_rest(phones, server.port)
    programme = Programme(server.folder)
    make_backup(programme, tmp_path / "older.zip", now_ms())
    programme.close()
    for _ in range(3):
        for phone in phones:
            phone.sow()
            phone.take_photo()
        come_to_rest(phones, server.port)
    server.kill()
    restored = restore_backup(str(tmp_path / "older.zip"), server.folder, CATALOGUE, now_ms())
    assert restored.unconfirmed == ()
    server.start()
    come_to_rest(phones, server.port)
    server.stop()
    check_all_arrived(server.folder, phones)


JUMPS = [timedelta(days=3650), timedelta(days=-3650), timedelta(hours=-1), timedelta(days=-4000), timedelta(days=4000), timedelta(0)]


@pytest.mark.parametrize("seed", range(SEED, SEED + 3))
def test_a_running_server_whose_clock_jumps_keeps_every_entry_once(tmp_path: Path, seed: int) -> None:
    phones = new_programme(tmp_path / "programme", seed)
    rnd, true = random.Random(seed), datetime.now(UTC)
    clock = Clock(true)
    app = create_app(tmp_path / "programme", clock)
    for phone in phones:
        client = app.test_client()
        client.set_cookie("fieldlog", phone.token)
        phone.ask = _through(client)  # type: ignore[method-assign]
    programme = Programme(tmp_path / "programme")
    for jump in [*rnd.choices(JUMPS, k=12), timedelta(0)]:
        clock.at = true + jump
        for phone in phones:
            phone.sow()
            phone.go_on(0)
        before = len(own_backups(programme))
        nightly_backup(programme, int(clock().timestamp() * 1000))
        assert len(own_backups(programme)) in (before, before + 1)
    come_to_rest(phones, 0)
    nightly_backup(programme, int(clock().timestamp() * 1000))
    tops = programme.db().execute("SELECT top, durable FROM lane").fetchall()
    assert all(top == durable for top, durable in tops)
    last = [one for one in examine(tmp_path / "programme", CATALOGUE, int(true.timestamp() * 1000)) if one.word in ("sound", "backup")]
    assert [one.ok for one in last] == [True, True]
    programme.close()
    app.extensions["photo_copies"].close()
    app.extensions["programme"].close()
    check_all_arrived(tmp_path / "programme", phones)


def _through(client):
    def ask(_port: int, method: str, path: str, body: bytes = b"", **headers: str) -> tuple[int, dict[str, str], bytes]:
        answer = client.open(path, method=method, data=body, headers=headers)
        return answer.status_code, dict(answer.headers), answer.data

    return ask
