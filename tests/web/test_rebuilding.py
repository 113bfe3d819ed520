"""A server whose tables an older version made answers at once: old tables to read, pushes wait until a child has made new ones."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from fieldlog import child
from fieldlog.errors import ProgrammeBusy, Rebuilding, WorkFailed
from fieldlog.rebuilding import Rebuild
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import REPLAYING, ProgrammeLock, is_replaying, set_setting, setting, write
from fieldlog.sync import tables
from fieldlog.sync.opening import open_programme, open_to_serve
from tests.a_phone import Phone
from tests.backup.conftest import write_species
from tests.soak.served import Server

PATIENCE_S = 60


@pytest.fixture
def phone(client_of, now) -> Phone:
    made = Phone(client_of("lead"), int(now().timestamp() * 1000))
    write_species(made, 1, 2, 3)
    return made


@pytest.fixture
def held_child(monkeypatch):
    """The child's work waits for the test; what it is to raise before it is done may be put into the list."""
    real, go_on, faults = child.run, threading.Event(), []

    def run(module: str, job: dict, **how):
        assert go_on.wait(PATIENCE_S)
        if faults:
            raise faults.pop(0)
        return real(module, job, **how)

    monkeypatch.setattr("fieldlog.rebuilding.child.run", run)
    monkeypatch.setattr("fieldlog.rebuilding.FIRST_WAIT_S", 0.1)
    return go_on, faults


@pytest.fixture
def rebuild(app, programme, now):
    made = Rebuild(programme, now, app.extensions["take_up"])
    yield made
    made.close()


def made_by_an_older_version(programme) -> None:
    set_setting(programme.db(), "tables", "older")
    programme.db().conn.execute("UPDATE species SET scientific_name = 'as an older version says'")


def names(programme) -> set[str]:
    return {row[0] for row in programme.db().execute("SELECT scientific_name FROM species")}


def test_old_tables_are_read_and_pushes_wait_until_the_swap(app, programme, phone, held_child, rebuild) -> None:
    made_by_an_older_version(programme)
    go_on, _ = held_child
    rebuild.start()
    client = phone.client
    assert client.get("/healthz").json == {"ok": True, "entries": 3, "rebuilding": True}
    ready = client.get("/readyz")
    assert (ready.status_code, ready.json["word"]) == (503, "not-ready")
    assert client.get("/api/pack/index").status_code == 200
    pulled = client.post("/api/sync", data=phone.body(first=4, cursor=None))
    assert (pulled.status_code, len(pulled.json["pull"])) == (200, 3)
    begun = time.monotonic()
    phone.note("species", "00000004-0000-4000-8000-000000000000", None, scientific_name="Invented 4")
    for answer in (phone.sync(), client.patch(f"/api/photos/{'0' * 64}", data=b"x", headers={"Upload-Offset": "0", "Upload-Length": "1"}),
                   client.post("/api/invitations", json={"role": "crew", "site_id": None, "uses": 1, "hours": 1})):  # fmt: skip
        assert (answer.status_code, answer.json["word"]) == (503, "rebuilding")
        assert int(answer.headers["Retry-After"]) >= 1
        assert "rebuilding" in answer.json["detail"]
    assert time.monotonic() - begun < 2, "nobody holds a thread meanwhile"
    assert names(programme) == {"as an older version says"}
    go_on.set()
    assert rebuild.wait(PATIENCE_S)
    assert names(programme) == {"Invented 1", "Invented 2", "Invented 3"}
    assert setting(programme.db(), "tables") == tables.MADE_AS
    assert phone.sync().json["acks"][-1][2] == "ok"
    assert client.get("/readyz").status_code == 200
    assert client.get("/healthz").json["rebuilding"] is False


def test_a_device_that_was_never_seen_pulls_meanwhile_too(programme, phone, client_of, now, held_child, rebuild) -> None:
    other = Phone(client_of("crew"), int(now().timestamp() * 1000))
    site = "00000000-0000-4000-8000-00000000000a"
    phone.note("site", site, site)
    assert phone.sync().json["acks"][-1][2] == "ok"
    made_by_an_older_version(programme)
    rebuild.start()
    answer = other.sync()
    assert (answer.status_code, len(answer.json["pull"])) == (200, 4)
    index = other.client.get("/api/pack/index")
    assert (index.status_code, index.json["calendars"]) == (200, {site: None})
    assert other.client.get("/api/pack").json["sites"][site]["calendar"] is None
    held_child[0].set()
    assert rebuild.wait(PATIENCE_S)
    assert other.sync().json["pack"] != index.json["etag"]
    assert other.client.get("/api/pack/index").json["calendars"][site].startswith("/calendar/")


def test_a_child_that_dies_is_told_and_tried_again(app, programme, phone, held_child, rebuild, caplog) -> None:
    made_by_an_older_version(programme)
    go_on, faults = held_child
    faults += [WorkFailed("The work stopped without an answer."), WorkFailed("The work stopped without an answer.")]
    go_on.set()
    rebuild.start()
    assert rebuild.wait(PATIENCE_S)
    told = [record.message for record in caplog.records if "stopped without an answer" in record.message]
    assert len(told) == 2 and all("tried again" in message for message in told)
    assert setting(programme.db(), "tables") == tables.MADE_AS


def test_old_tables_that_lack_a_column_are_rebuilt_before_the_first_answer(programme, phone, caplog) -> None:
    made_by_an_older_version(programme)
    programme.db().conn.execute("ALTER TABLE species RENAME COLUMN scientific_name TO another_name")
    with caplog.at_level("WARNING"):
        opened = open_to_serve(programme.folder, CATALOGUE, 5)
    assert setting(opened.db(), "tables") == tables.MADE_AS
    assert any("species.scientific_name" in record.message and "rebuilt" in record.message for record in caplog.records)
    opened.close()


def test_old_tables_that_can_be_read_are_left_as_they_are(programme, phone) -> None:
    made_by_an_older_version(programme)
    opened = open_to_serve(programme.folder, CATALOGUE, 5)
    assert setting(opened.db(), "tables") == "older"
    opened.close()
    open_programme(programme.folder, CATALOGUE, 5).close()
    assert setting(programme.db(), "tables") == tables.MADE_AS


def test_no_writer_of_the_server_gets_in_while_the_tables_are_rebuilt(programme, held_child, rebuild) -> None:
    rebuild.start()
    with pytest.raises(Rebuilding), write(programme.db()):
        raise AssertionError("written beside a replay")
    held_child[0].set()
    assert rebuild.wait(PATIENCE_S)
    with write(programme.db()):
        pass


def test_asking_whether_tables_are_rebuilt_is_in_no_replays_way(programme) -> None:
    stop = threading.Event()

    def ask() -> None:
        while not stop.is_set():
            is_replaying(programme.folder)

    asking = [threading.Thread(target=ask) for _ in range(2)]
    with ProgrammeLock(programme.folder, REPLAYING):
        pass
    for one in asking:
        one.start()
    try:
        for _ in range(300):
            with ProgrammeLock(programme.folder, REPLAYING):
                pass
    finally:
        stop.set()
        for one in asking:
            one.join()
    with ProgrammeLock(programme.folder, REPLAYING), pytest.raises(ProgrammeBusy), ProgrammeLock(programme.folder, REPLAYING):
        pass


def test_a_child_ends_with_its_killed_server() -> None:
    """Left behind, it would write beside the next server's child."""
    script = "from fieldlog import child\nprint('began', flush=True)\nchild.run('tests.backup.sleeper', {})\n"
    server = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(Path.cwd())})
    assert server.stdout is not None
    server.stdout.readline()
    deadline = time.monotonic() + PATIENCE_S
    while not (children := Path(f"/proc/{server.pid}/task/{server.pid}/children").read_text().split()) and time.monotonic() < deadline:
        time.sleep(0.05)
    time.sleep(1)
    server.send_signal(signal.SIGKILL)
    server.wait()
    server.stdout.close()
    while Path(f"/proc/{children[0]}").exists() and time.monotonic() < deadline:
        if Path(f"/proc/{children[0]}/stat").read_text().split(") ")[1][0] == "Z":
            break
        time.sleep(0.05)
    assert time.monotonic() < deadline, "the child went on"


def test_serve_of_a_folder_of_an_older_version_answers_and_then_takes(demo_folder, tmp_path) -> None:
    subprocess.run(["cp", "-r", str(demo_folder), str(tmp_path / "programme")], check=True)
    programme = open_programme(tmp_path / "programme", CATALOGUE, 5)
    flags = programme.db().execute("SELECT * FROM flag ORDER BY flag_id").fetchall()
    set_setting(programme.db(), "tables", "older")
    programme.db().conn.execute("DELETE FROM flag")
    server = Server(tmp_path / "programme")
    server.start()
    deadline = time.monotonic() + PATIENCE_S
    while setting(programme.db(), "tables") != tables.MADE_AS and time.monotonic() < deadline:
        time.sleep(0.1)
    server.stop()
    assert flags
    assert programme.db().execute("SELECT * FROM flag ORDER BY flag_id").fetchall() == flags
    programme.close()
