"""Downloads over HTTP: who gets what, progress, and that a stop or a visitor who goes leaves nothing behind."""

from __future__ import annotations

import io
import logging
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from zipfile import ZipFile

import openpyxl
import pytest

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, write
from fieldlog.sync.opening import open_programme
from tests.exports.conftest import BAR, SPIT
from tests.sync.lines import START_MS


@pytest.fixture
def programme(shore_folder: Path, tmp_path: Path) -> Iterator[Programme]:
    shutil.copytree(shore_folder, tmp_path / "programme")
    opened = open_programme(tmp_path / "programme", CATALOGUE, START_MS)
    yield opened
    opened.close()


def children() -> list[str]:
    """The processes of ours that write an export."""
    found = []
    for folder in Path("/proc").iterdir():
        try:
            if folder.name.isdigit() and f"\nPPid:\t{os.getpid()}\n" in (folder / "status").read_text():
                found.append((folder / "cmdline").read_text())
        except OSError:
            continue
    return [line for line in found if "fieldlog.exports.working" in line]


def test_a_lead_takes_a_file_once_and_sees_how_far_it_is(client_of) -> None:
    lead = client_of("lead")
    asked = lead.post("/api/exports", json={"as": "xlsx", "names": True})
    assert asked.status_code == 201
    ticket, rows = asked.json["ticket"], asked.json["rows"]
    assert lead.get(f"/api/exports/{ticket}").json == {"rows": 0, "about": rows, "state": "waiting"}
    assert lead.head(f"/api/exports/{ticket}/file").status_code == 200
    answer = lead.get(f"/api/exports/{ticket}/file")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="fieldlog 2026-11-25.xlsx"'
    book = openpyxl.load_workbook(io.BytesIO(answer.data), read_only=True)
    assert "People" not in book.sheetnames
    assert "Sign-in" in book.sheetnames
    told = lead.get(f"/api/exports/{ticket}").json
    assert (told["state"], told["rows"] >= rows) == ("done", True)
    again = lead.get(f"/api/exports/{ticket}/file")
    assert (again.status_code, again.json["detail"]) == (404, "This download was started before. Start it again.")
    answer.close()


@pytest.mark.parametrize("role", ["crew", "desk", "reader"])
def test_others_take_what_is_open_and_neither_names_nor_contacts(client_of, role: str) -> None:
    client = client_of(role)
    for name in ("names", "private"):
        refused = client.post("/api/exports", json={"as": "csv", name: True})
        assert refused.status_code == 403
        assert "for leads" in refused.json["detail"]
    asked = client.post("/api/exports", json={"as": "csv", "kinds": ["unit", "sighting"]})
    assert asked.status_code == 201
    if role != "crew":
        return
    ticket = asked.json["ticket"]
    answer = client.get(f"/api/exports/{ticket}/file")
    assert set(ZipFile(io.BytesIO(answer.data)).namelist()) == {"unit.csv", "sighting.csv", "dictionary.csv", "datapackage.json"}
    assert client.post("/api/exports", json={"as": "csv", "kinds": ["visit"]}).status_code == 400


def test_a_device_of_one_site_has_that_sites_data_alone(client_of) -> None:
    lead = client_of("lead", BAR)
    assert lead.post("/api/exports", json={"as": "csv", "site_id": SPIT}).status_code == 403
    ticket = lead.post("/api/exports", json={"as": "csv"}).json["ticket"]
    package = ZipFile(io.BytesIO(lead.get(f"/api/exports/{ticket}/file").data))
    assert SPIT.encode() not in b"".join(package.read(name) for name in package.namelist())
    stranger = client_of("lead")
    assert stranger.get(f"/api/exports/{ticket}").status_code == 404
    assert stranger.get(f"/api/exports/{ticket}/file").status_code == 404


def test_contacts_are_logged_without_a_name(client_of, caplog: pytest.LogCaptureFixture) -> None:
    lead = client_of("lead")
    with caplog.at_level(logging.INFO, "fieldlog.exports"):
        lead.post("/api/exports", json={"as": "csv", "private": True})
        lead.post("/api/exports", json={"as": "csv"})
    assert [record.getMessage() for record in caplog.records if record.name == "fieldlog.exports"] == [
        f"Contacts are exported to the lead's device {lead.device_id}."
    ]


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"as": "pdf"}, "as"), ({}, "as"), ({"as": "csv", "from_day": "14.6.2026"}, "from_day"), ({"as": "csv", "to_day": 5}, "to_day"),
        ({"as": "csv", "from_day": "2026-06-02", "to_day": "2026-06-01"}, "to_day"), ({"as": "csv", "kinds": []}, "kinds"),
        ({"as": "csv", "kinds": ["nothing"]}, "kinds"), ({"as": "csv", "history": "yes"}, "history"), ({"as": "csv", "site_id": 7}, "site_id"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said_with_its_field(client_of, said: dict, field: str) -> None:
    refused = client_of("lead").post("/api/exports", json=said)
    assert refused.status_code == 400
    assert field in refused.json["fields"]


def long_history(programme: Programme) -> None:
    """So much that a child waits for its reader: more than a pipe takes."""
    notes = [(os.urandom(700).hex(), f"noted {n}") for n in range(400)]
    programme.db().conn.executemany("INSERT INTO unit_event(record_id, site_id, deleted, note) SELECT ?2, NULL, 0, ?1", notes)


@pytest.mark.parametrize("form", ["csv", "sqlite"])
def test_a_visitor_who_goes_ends_the_child_and_leaves_no_file(client_of, programme: Programme, monkeypatch, tmp_path, form: str) -> None:
    long_history(programme)
    monkeypatch.setenv("TMPDIR", str(tmp_path / "temporary"))
    (tmp_path / "temporary").mkdir()
    lead, before = client_of("lead"), sorted(path.name for path in programme.folder.rglob("*"))
    ticket = lead.post("/api/exports", json={"as": form}).json["ticket"]
    answer = lead.get(f"/api/exports/{ticket}/file", buffered=False)
    assert next(answer.response)
    assert len(children()) == 1
    answer.close()
    assert children() == []
    assert lead.get(f"/api/exports/{ticket}").json["state"] == "stopped"
    assert sorted(path.name for path in programme.folder.rglob("*")) == before
    assert list((tmp_path / "temporary").iterdir()) == []


def test_a_stop_ends_it_and_the_file_is_never_whole(client_of, programme: Programme) -> None:
    long_history(programme)
    lead = client_of("lead")
    ticket = lead.post("/api/exports", json={"as": "csv"}).json["ticket"]
    answer = lead.get(f"/api/exports/{ticket}/file", buffered=False)
    parts = iter(answer.response)
    next(parts)
    assert lead.delete(f"/api/exports/{ticket}").status_code == 204
    with pytest.raises(Exception, match="stopped before its end"):
        list(parts)
    answer.close()
    assert children() == []


def test_no_more_than_two_are_under_way(client_of, programme: Programme) -> None:
    long_history(programme)
    lead = client_of("lead")
    tickets = [lead.post("/api/exports", json={"as": "csv"}).json["ticket"] for _ in range(3)]
    begun = [lead.get(f"/api/exports/{ticket}/file", buffered=False) for ticket in tickets[:2]]
    third = lead.get(f"/api/exports/{tickets[2]}/file")
    assert (third.status_code, third.headers["Retry-After"]) == (503, "10")
    for answer in begun:
        answer.close()
    assert lead.get(f"/api/exports/{tickets[2]}/file").status_code == 200


def test_a_ticket_is_worth_what_its_device_may_have_when_it_is_begun(client_of, programme: Programme) -> None:
    lead = client_of("lead")
    ticket = lead.post("/api/exports", json={"as": "csv", "names": True}).json["ticket"]
    with write(programme.db()) as db:
        db.conn.execute("UPDATE device SET role = 'crew' WHERE device_id = ?", (lead.device_id,))
    assert lead.get(f"/api/exports/{ticket}/file").status_code == 404
    with write(programme.db()) as db:
        db.conn.execute("UPDATE device SET role = 'lead', sites = ? WHERE device_id = ?", (f'["{SPIT}"]', lead.device_id))
    assert lead.get(f"/api/exports/{ticket}/file").status_code == 404
