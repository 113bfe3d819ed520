"""Imports over HTTP: for leads, each of whom sees their own uploads; nothing is stored before they say so."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pytest

from fieldlog.imports.limits import MOST_BYTES
from fieldlog.store import write
from tests.imports.test_reading import book, packed

CHECKS = b"tag,Date,Time,found,exposed in.\nB019,2025-07-05,8:10,seen,16.5\nB024,2025-07-05,25:10,seen,3\n"


@pytest.fixture
def site(demo_programme: Any) -> str:
    return str(demo_programme.db().conn.execute("SELECT record_id FROM site").fetchone()[0])


def test_a_lead_brings_a_file_in(demo_app: Any, lead_of_demo: Any, site: str) -> None:
    client, works = lead_of_demo, demo_app.extensions["imports"]
    answer = client.post(f"/api/imports?name=summer.csv&site_id={site}", data=CHECKS, content_type="application/octet-stream")
    assert answer.status_code == 201
    path = f"/api/imports/{answer.json['upload_id']}"
    assert client.post(f"{path}/try").json["detail"].startswith("Something about the columns is still open")
    looked = client.post(f"{path}/look", json={}).json
    assert (looked["kind"], looked["rows"], looked["questions"]) == ("unit_check", 2, [])
    assert client.post(f"{path}/try").status_code == 202
    assert works.wait()
    tried = client.get(path).json
    assert (tried["state"], tried["result"]["good"], tried["result"]["to_mend"]) == ("tried", 1, 1)
    fix = client.get(f"{path}/to-fix.csv")
    assert (fix.mimetype, fix.headers["Cache-Control"]) == ("text/csv", "no-store")
    assert "25:10" in fix.text
    assert client.post(f"{path}/take").status_code == 202
    assert works.wait()
    assert client.get(path).status_code == 404
    (one,) = client.get("/api/imports").json["imports"]
    assert (one["file_name"], one["records_made"], one["unchanged"], one["changed"], one["removed"]) == ("summer.csv", 1, 1, 0, 0)


def test_the_rows_to_fix_have_the_columns_of_the_file_in_its_order_and_no_sentence_in_a_cell(demo_app: Any, lead_of_demo: Any, site: str) -> None:
    client, works = lead_of_demo, demo_app.extensions["imports"]
    data = packed(book(["tag", "found", "Date", "exposed in."], ["B019", "seen", "2025-07-05", "=1+1"]))
    path = f"/api/imports/{client.post(f'/api/imports?name=s.xlsx&site_id={site}', data=data, content_type='application/octet-stream').json['upload_id']}"
    looked = client.post(f"{path}/look", json={}).json
    client.post(f"{path}/look", json=json.loads(json.dumps(looked["mapping"], sort_keys=True)))
    assert client.post(f"{path}/try").status_code == 202
    assert works.wait()
    header, row = csv.reader(io.StringIO(client.get(f"{path}/to-fix.csv").text))
    assert header == ["Row", "tag", "found", "Date", "exposed in.", "What to fix"]
    assert row[1:5] == ["B019", "seen", "2025-07-05", ""]
    assert row[5].startswith("This cell is a formula that has no value in the file.")


def test_a_file_that_is_too_large_is_refused_with_both_numbers(lead_of_demo: Any, site: str) -> None:
    claims = {"CONTENT_LENGTH": str(MOST_BYTES + 3 * 1024 * 1024)}
    answer = lead_of_demo.post(f"/api/imports?site_id={site}", environ_overrides=claims, data=b"x", content_type="application/octet-stream")
    assert (answer.status_code, answer.json["detail"]) == (413, "The file has 53.0 MB; the limit is 50 MB. Split it into smaller files, then try again.")


@pytest.mark.parametrize("role", ["crew", "desk", "reader"])
def test_imports_are_for_leads(client_of: Any, role: str) -> None:
    client = client_of(role)
    for verb, path in (("post", "/api/imports"), ("get", "/api/imports"), ("get", "/api/imports/" + "0" * 32), ("post", "/api/import-mappings")):
        assert getattr(client, verb)(path).status_code == 403, path


def test_choices_are_kept_by_name(lead_of_demo: Any) -> None:
    said = {"name": "Paper sheets", "mapping": {"kind": "unit_check", "columns": {"tag": {"field": "unit_id"}}}}
    assert lead_of_demo.post("/api/import-mappings", json=said).status_code == 204
    assert [one["name"] for one in lead_of_demo.get("/api/imports").json["mappings"]] == ["Paper sheets"]
    assert lead_of_demo.delete("/api/import-mappings/Paper%20sheets").status_code == 204
    assert lead_of_demo.get("/api/imports").json["mappings"] == []


def test_a_dropped_file_is_gone(lead_of_demo: Any, site: str) -> None:
    upload_id = lead_of_demo.post(f"/api/imports?site_id={site}", data=CHECKS, content_type="application/octet-stream").json["upload_id"]
    assert lead_of_demo.delete(f"/api/imports/{upload_id}").status_code == 204
    assert lead_of_demo.get(f"/api/imports/{upload_id}").status_code == 404
    assert lead_of_demo.get("/api/imports").json["uploads"] == []


@pytest.fixture
def two_leads(client_of: Any, programme: Any) -> tuple[Any, Any]:
    """Leads of two sites of one programme, each with a person."""
    with write(programme.db()) as db:
        for site_id, name, person_id in ((SPIT, "Alder Spit", ANN), (BAR, "Heron Bar", BEA)):
            db.conn.execute("INSERT INTO site(record_id, site_id, name, zone, deleted, created_eff, changed_eff) VALUES (?, ?, ?, 'America/New_York', 0, '0', '0')", (site_id, site_id, name))
            db.conn.execute("INSERT INTO person(record_id, site_id, display_name, deleted, created_eff, changed_eff) VALUES (?, ?, ?, 0, '0', '0')", (person_id, site_id, f"Person of {name}"))
    return client_of("lead", SPIT), client_of("lead", BAR)


SPIT, BAR = "00000000-0000-4000-8000-00000000000a", "00000000-0000-4000-8000-00000000000b"
ANN, BEA = "00000000-0000-4000-8000-0000000000a1", "00000000-0000-4000-8000-0000000000b1"


def test_a_leads_kept_choices_are_read_replaced_and_forgotten_at_their_site_alone(two_leads: tuple[Any, Any]) -> None:
    """They hold what people wrote in cells: names of who was there."""
    of_spit, of_bar = two_leads
    said = {"name": "Sheets", "site_id": SPIT, "mapping": {"kind": "sign_in", "columns": {"who": {"field": "person_id", "words": {"Ann W.": ANN}}}}}
    assert of_spit.post("/api/import-mappings", json=said).status_code == 204
    assert of_bar.get("/api/imports").json["mappings"] == []
    assert of_bar.post("/api/import-mappings", json=said).status_code == 403
    assert of_bar.post("/api/import-mappings", json=said | {"site_id": None}).status_code == 403
    assert of_bar.post("/api/import-mappings", json={"name": "Sheets", "site_id": BAR, "mapping": {"kind": "unit"}}).status_code == 204
    assert of_bar.delete(f"/api/import-mappings/Sheets?site_id={BAR}").status_code == 204
    assert [one["mapping"]["kind"] for one in of_spit.get("/api/imports").json["mappings"]] == ["sign_in"]


def test_an_id_of_another_site_names_nobody(two_leads: tuple[Any, Any]) -> None:
    of_spit, _ = two_leads
    rows = f"person_id,in_at\n{BEA},2025-07-05T08:00:00Z\n".encode()
    upload_id = of_spit.post(f"/api/imports?site_id={SPIT}", data=rows, content_type="application/octet-stream").json["upload_id"]
    mapping = {"kind": "sign_in", "columns": {"person_id": {"field": "person_id", "words": {BEA: BEA}}}}
    for said in ({"kind": "sign_in"}, mapping):
        assert "Person of Heron Bar" not in of_spit.post(f"/api/imports/{upload_id}/look", json=said).text


def test_an_upload_is_there_for_the_rights_that_it_was_chosen_with(two_leads: tuple[Any, Any], programme: Any) -> None:
    of_spit, _ = two_leads
    upload_id = of_spit.post(f"/api/imports?site_id={SPIT}", data=CHECKS, content_type="application/octet-stream").json["upload_id"]
    with write(programme.db()) as db:
        db.conn.execute("UPDATE device SET sites = ? WHERE device_id = ?", (f'["{BAR}"]', of_spit.device_id))
    assert of_spit.get(f"/api/imports/{upload_id}").status_code == 404
    assert of_spit.post(f"/api/imports/{upload_id}/look", json={}).status_code == 404
    assert of_spit.get("/api/imports").json["uploads"] == []
