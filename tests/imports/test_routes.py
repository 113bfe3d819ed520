"""Imports over HTTP: for leads, each of whom sees their own uploads; nothing is stored before they say so."""

from __future__ import annotations

from typing import Any

import pytest

from fieldlog.imports.limits import MOST_BYTES

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
