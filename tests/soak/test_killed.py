"""The server killed at any step, with and without its disk: every entry once, chains sound, no receipt for what is not there."""

from __future__ import annotations

import os
import random
import shutil
import threading
import time
from pathlib import Path

import pytest

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import restore_backup
from tests.soak.served import Server, check_all_arrived, check_receipts, come_to_rest, new_programme, now_ms
from tests.soak.whole_again import confirm_all

ROUNDS = int(os.environ.get("FIELDLOG_KILLS", "5"))
"""How often the server is killed; `make soak` asks for 200."""

SEED = int(os.environ.get("FIELDLOG_SEED", "1"))
BEGINS_AFTER_S = 2.5
"""About what a start takes on two busy cores: a kill falls before, in and after it."""


def test_a_server_killed_at_any_step_keeps_every_entry_once(tmp_path: Path) -> None:
    rnd = random.Random(SEED)
    phones = new_programme(tmp_path / "programme", SEED)
    server = Server(tmp_path / "programme")
    server.start()
    stop = threading.Event()

    def live(phone) -> None:
        while not stop.is_set():
            phone.sow()
            if phone.rnd.random() < 0.3:
                phone.take_photo()
            phone.go_on(server.port)
            time.sleep(0.01)

    for _ in range(ROUNDS):
        stop.clear()
        lives = [threading.Thread(target=live, args=(phone,)) for phone in phones]
        for one in lives:
            one.start()
        time.sleep(rnd.uniform(0, BEGINS_AFTER_S) if rnd.random() < 0.5 else rnd.uniform(0, 0.3))
        server.kill()
        stop.set()
        for one in lives:
            one.join()
        check_receipts(server.folder, phones)
        server.start(wait=rnd.random() < 0.8)
        if server.process is not None and rnd.random() < 0.2:
            server.kill()
            server.start()
    server.kill()
    server.start()
    come_to_rest(phones, server.port)
    server.stop()
    check_all_arrived(server.folder, phones)


@pytest.mark.alone
@pytest.mark.parametrize("seed", range(SEED, SEED + max(1, ROUNDS // 40)))
def test_a_server_killed_with_its_disk_goes_on_elsewhere_from_the_replica(tmp_path: Path, seed: int) -> None:
    """At most the last second is missing on the server, and nothing overall: phones still have it."""
    phones = new_programme(tmp_path / "programme", seed)
    server = Server(tmp_path / "programme", "--replica", str(tmp_path / "other disk"))
    server.start()
    come_to_rest(phones, server.port)
    told_at: list[float] = []
    for phone in phones * 5:
        phone.sow()
        phone.take_photo()
        phone.go_on(server.port)
        told_at.append(time.monotonic())
        time.sleep(0.2)
    time.sleep(0.3)
    killed_at = time.monotonic()
    server.lose()
    shutil.copytree(tmp_path / "other disk", tmp_path / "at that moment")
    restored = restore_backup(str(tmp_path / "at that moment"), tmp_path / "elsewhere", CATALOGUE, now_ms())
    assert restored.backup.entries >= 1 + sum(1 for at in told_at if at < killed_at - 1)
    assert len(restored.unconfirmed) == 3
    again = Server(tmp_path / "elsewhere", "--replica", str(tmp_path / "other disk"))
    again.start()
    for phone in phones:
        phone.sow()
        phone.go_on(again.port)
    confirm_all(again.folder)
    come_to_rest(phones, again.port)
    again.stop()
    check_all_arrived(again.folder, phones)
