"""The roster on paper: whom to expect with boxes, and nothing of contacts, health or signatures."""

from __future__ import annotations

import uuid

import pytest
from flask.testing import FlaskClient

from fieldlog.store import Programme
from tests.a_phone import Phone
from tests.conftest import Clock
from tests.live_server import code_for

SECRETS = ("555 0177", "planted allergy", "Guarda Planted", "M20 60L60 20")


@pytest.fixture
def lead(app, programme: Programme, now: Clock, site_id: str) -> Phone:
    """A lead who has set up a site with a waiver, somebody who signed it, somebody who did not, and what is private of both."""
    now_ms = int(now().timestamp() * 1000)
    client = app.test_client()
    client.device_id = client.post("/api/join", json={"code": code_for(programme, "lead", None, now_ms), "device_name": "a lead"}).json["device_id"]
    phone = Phone(client, now_ms)
    ids = {name: str(uuid.uuid4()) for name in ("waiver", "Ana Ruiz", "Bo <b>Sandvik</b>", "in")}
    phone.note("site", site_id, site_id)
    phone.note("waiver", ids["waiver"], site_id, version="2026-03", language="en", paragraphs=["At my own risk."], keep_until="2029-12-31", used_from_at="2026-03-01T12:00:00Z")
    phone.note("person", ids["Ana Ruiz"], site_id, display_name="Ana Ruiz", role="student", minor=True, waiver_valid=True, waiver_version="2026-03")
    phone.note("person", ids["Bo <b>Sandvik</b>"], site_id, display_name="Bo <b>Sandvik</b>", role="volunteer", minor=False, waiver_valid=True, waiver_version="2025")
    phone.note("sign_in", ids["in"], site_id, person_id=ids["Ana Ruiz"], in_at="2026-09-22T06:12:00Z")
    phone.note("person_private", str(uuid.uuid4()), site_id, person_id=ids["Ana Ruiz"], phone=SECRETS[0], guardian_name=SECRETS[2])
    phone.note("sign_in_private", str(uuid.uuid4()), site_id, sign_in_id=ids["in"], medical_note=SECRETS[1])
    phone.note("waiver_signed", str(uuid.uuid4()), site_id, person_id=ids["Ana Ruiz"], waiver_id=ids["waiver"], signed_as="guardian", signed_name=SECRETS[2],
               signature=[SECRETS[3]], signed_at="2026-09-22T06:12:00Z")  # fmt: skip
    assert {ack[2] for ack in phone.sync().json["acks"]} == {"ok"}
    return phone


@pytest.fixture
def site_id() -> str:
    return str(uuid.uuid4())


def test_the_roster_has_everyone_with_what_is_still_to_sign_and_nothing_private(lead: Phone, site_id: str) -> None:
    page = lead.client.get(f"/api/sites/{site_id}/roster").text
    assert "Ana Ruiz<br><small>Student, minor</small></td><td>signed" in page
    assert "Bo &lt;b&gt;Sandvik&lt;/b&gt;<br><small>Volunteer</small></td><td>sign 2026-03" in page
    assert [secret for secret in SECRETS if secret in page] == []


@pytest.mark.parametrize(("role", "status"), [("lead", 200), ("crew", 200), ("desk", 200), ("reader", 403)])
def test_who_prints_the_roster(lead: Phone, app, programme: Programme, now: Clock, site_id: str, role: str, status: int) -> None:
    client: FlaskClient = app.test_client()
    client.post("/api/join", json={"code": code_for(programme, role, site_id, int(now().timestamp() * 1000)), "device_name": role})
    assert client.get(f"/api/sites/{site_id}/roster").status_code == status
