"""
The shipped server killed while something goes on beside it: its backup, the replay in its child, a confirmation; and a restore that is
killed. Afterwards everything is whole, and phones come to rest.

Run by `make soak` alone, since each round starts servers; `tests/backup/test_killed_at_each_step.py` is the quick form.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest

from fieldlog.backup import make_backup, own_backups
from fieldlog.backup_file import opened_backup
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import restore_backup
from fieldlog.soundness import faults_of
from fieldlog.store import Programme, is_replaying, set_setting
from tests.soak.served import (
    NOT_NOW,
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

ROUNDS = max(1, int(os.environ.get("FIELDLOG_KILLS", "60")) // 20)
SEED = int(os.environ.get("FIELDLOG_SEED", "1"))
MANY = 400
"""Entries of a phone that nobody confirmed: eight transactions."""

PATIENCE_S = 60.0


def until(is_so: Callable[[], bool]) -> None:
    deadline_s = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < deadline_s, "it never came to pass"
        time.sleep(0.002)


@pytest.fixture
def rnd() -> random.Random:
    return random.Random(SEED)


@pytest.fixture
def phones(tmp_path: Path) -> list[WirePhone]:
    return new_programme(tmp_path / "programme", SEED)


def write_and_send(phones: list[WirePhone], port: int, count: int = 20) -> None:
    for phone in phones:
        for _ in range(count):
            phone.sow()
        phone.take_photo()
        phone.go_on(port)


def end_whole(server: Server, phones: list[WirePhone]) -> None:
    """The server started once more, until nobody has more to say."""
    server.start()
    come_to_rest(phones, server.port)
    server.stop()
    check_all_arrived(server.folder, phones)


def check_durable(folder: Path) -> None:
    """Every backup that has its name is whole, and no lane is durable beyond what the fullest holds."""
    programme = Programme(folder)
    tops: dict[str, int] = {}
    for file in own_backups(programme):
        with opened_backup(file, None) as opened:
            for lane, top in opened.db.execute("SELECT lane_id, top FROM lane"):
                tops[lane] = max(top, tops.get(lane, 0))
    lanes = programme.db().execute("SELECT lane_id, durable FROM lane").fetchall()
    programme.close()
    assert all(durable <= tops.get(lane, 0) for lane, durable in lanes)


def check_kept_once(folder: Path, phones: list[WirePhone]) -> None:
    """All that phones were told is taken or held is here once. What they were told is held may be taken by now; they hear of it later."""
    programme = Programme(folder)
    db = programme.db()
    assert faults_of(db, None) == []
    here = Counter(row[0] for row in db.execute("SELECT entry_id FROM log UNION ALL SELECT entry_id FROM tray"))
    programme.close()
    lines = [line for phone in phones for lane in phone.phone.lanes.values() for line in lane]
    assert {here[line.entry_id] for line in lines if line.state in ("taken", "held")} <= {1}
    assert set(here.values()) == {1}


def test_killed_in_its_backup(tmp_path: Path, phones: list[WirePhone], rnd: random.Random) -> None:
    server = Server(tmp_path / "programme")
    backups = server.folder / "backups"
    for _ in range(ROUNDS):
        server.start()
        write_and_send(phones, server.port)
        until(lambda: any(backups.glob(".backup-*")) or bool(list(backups.glob("*.zip"))))
        time.sleep(rnd.uniform(0, 0.2))
        server.kill()
        check_receipts(server.folder, phones)
        check_durable(server.folder)
    end_whole(server, phones)


def test_killed_in_the_replay_of_its_child(tmp_path: Path, phones: list[WirePhone], rnd: random.Random) -> None:
    server = Server(tmp_path / "programme")
    server.start()
    write_and_send(phones, server.port, 200)
    come_to_rest(phones, server.port)
    server.stop()
    for _ in range(ROUNDS):
        programme = Programme(server.folder)
        set_setting(programme.db(), "tables", "of an older version")
        programme.close()
        server.start()
        until(lambda: is_replaying(server.folder))
        write_and_send(phones, server.port, 1)
        # The child takes about a second to start and half of one to make the tables: before, in and right after the swap.
        time.sleep(rnd.uniform(0, 2.5))
        server.kill()
        check_receipts(server.folder, phones)
    end_whole(server, phones)


@pytest.mark.parametrize("turn", range(ROUNDS))
def test_killed_in_a_confirmation(tmp_path: Path, phones: list[WirePhone], turn: int) -> None:
    rnd = random.Random(f"{SEED} {turn}")
    server = Server(tmp_path / "programme")
    server.start()
    come_to_rest(phones, server.port)
    server.kill()
    programme = Programme(server.folder)
    make_backup(programme, tmp_path / "all.zip", now_ms())
    programme.close()
    lead, *crew = phones
    elsewhere = Server(tmp_path / "elsewhere")
    restore_backup(str(tmp_path / "all.zip"), elsewhere.folder, CATALOGUE, now_ms())
    elsewhere.start()
    write_and_send(crew, elsewhere.port, MANY)
    said = subprocess.run(_command(elsewhere.folder, "confirm", lead.device_id), capture_output=True, text=True, cwd=ROOT, env=_environment(), check=True)
    assert "is confirmed" in said.stdout

    def confirm_crew() -> None:
        for phone in crew:
            with suppress(*NOT_NOW):
                assert lead.ask(elsewhere.port, "POST", f"/api/devices/{phone.device_id}/confirm")[0] == 200

    confirming = threading.Thread(target=confirm_crew)
    confirming.start()
    time.sleep(rnd.uniform(0, 0.8))
    elsewhere.kill()
    confirming.join()
    check_kept_once(elsewhere.folder, phones)
    confirm_all(elsewhere.folder)
    end_whole(elsewhere, phones)


@pytest.mark.parametrize("turn", range(ROUNDS))
def test_a_restore_that_is_killed_is_done_again(tmp_path: Path, phones: list[WirePhone], turn: int) -> None:
    rnd = random.Random(f"{SEED} {turn}")
    server = Server(tmp_path / "programme")
    server.start()
    write_and_send(phones, server.port)
    come_to_rest(phones, server.port)
    programme = Programme(server.folder)
    make_backup(programme, tmp_path / "all.zip", now_ms())
    programme.close()
    write_and_send(phones, server.port)
    come_to_rest(phones, server.port)
    server.kill()
    for _ in range(3):
        restoring = subprocess.Popen(_command(server.folder, "restore", str(tmp_path / "all.zip")), cwd=ROOT, env=_environment(), stdout=subprocess.DEVNULL)
        time.sleep(rnd.uniform(0.2, 2.0))
        restoring.kill()
        restoring.wait()
    restore_backup(str(tmp_path / "all.zip"), server.folder, CATALOGUE, now_ms())
    confirm_all(server.folder)
    end_whole(server, phones)


def _command(folder: Path, *words: str) -> list[str]:
    return [sys.executable, "-m", "fieldlog", "--data", str(folder), *words]


def _environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT)}
