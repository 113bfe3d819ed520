"""Invitations are their own site's leads' to see and to end; those to the whole programme are its leads' alone."""

from __future__ import annotations

import uuid

import pytest

from a_phone import Phone

ONE, TWO = str(uuid.uuid4()), str(uuid.uuid4())


@pytest.fixture
def leads(client_of, now):
    """Leads of the whole programme, of one site and of another, each with one invitation made."""
    whole = client_of("lead")
    lane = Phone(whole, int(now().timestamp() * 1000))
    for site_id in (ONE, TWO):
        lane.note("site", site_id, site_id, name="Alder Spit")
    assert {ack[2] for ack in lane.sync().json["acks"]} == {"ok"}
    return {None: whole, ONE: client_of("lead", ONE), TWO: client_of("lead", TWO)}


def made_by(client, site_id: str | None) -> str:
    answer = client.post("/api/invitations", json={"role": "reader", "site_id": site_id, "uses": 1, "hours": 2})
    assert answer.status_code == 201, answer.json
    return answer.json["invitation_id"]


def listed(client) -> set[str]:
    return {row["invitation_id"] for row in client.get("/api/invitations").json["invitations"] if row["role"] == "reader"}


def test_a_lead_sees_the_invitations_of_the_own_sites_and_no_others(leads) -> None:
    made = {site_id: made_by(client, site_id) for site_id, client in leads.items()}
    assert listed(leads[None]) == set(made.values())
    assert listed(leads[ONE]) == {made[ONE]}
    assert listed(leads[TWO]) == {made[TWO]}


def test_a_lead_ends_no_invitation_of_another_site_nor_one_to_the_whole_programme(leads) -> None:
    made = {site_id: made_by(client, site_id) for site_id, client in leads.items()}
    for foreign in (made[TWO], made[None]):
        answer = leads[ONE].delete(f"/api/invitations/{foreign}")
        assert (answer.status_code, answer.json["word"]) == (404, "not-here")
    assert listed(leads[None]) == set(made.values())
    assert leads[None].delete(f"/api/invitations/{made[ONE]}").status_code == 204


def test_the_newest_invitation_is_listed_first(leads, now) -> None:
    first = made_by(leads[ONE], ONE)
    now.forward(seconds=1)
    second = made_by(leads[ONE], ONE)
    rows = leads[ONE].get("/api/invitations").json["invitations"]
    assert [row["invitation_id"] for row in rows if row["role"] == "reader"] == [second, first]


def test_ending_an_invitation_twice_keeps_the_first_moment(leads, now, programme) -> None:
    made = made_by(leads[ONE], ONE)
    moments = []
    for _ in range(2):
        leads[ONE].delete(f"/api/invitations/{made}")
        moments += programme.db().execute("SELECT revoked_at FROM invitation WHERE invitation_id = ?", [made]).fetchone()
        now.forward(minutes=1)
    assert moments[0] == moments[1] is not None


def test_only_invitations_that_still_count_are_listed(leads, app, now) -> None:
    old = made_by(leads[ONE], ONE)
    now.forward(hours=1)
    withdrawn, stands = made_by(leads[ONE], ONE), made_by(leads[ONE], ONE)
    used = leads[ONE].post("/api/invitations", json={"role": "reader", "site_id": ONE, "uses": 1, "hours": 2}).json
    assert listed(leads[ONE]) == {old, withdrawn, stands, used["invitation_id"]}
    leads[ONE].delete(f"/api/invitations/{withdrawn}")
    assert app.test_client().post("/api/join", json={"code": used["code"], "device_name": "x"}).status_code == 200
    now.forward(hours=1)
    assert listed(leads[ONE]) == {stands}


@pytest.mark.parametrize(("uses", "hours", "status"), [(500, 8784, 201), (1, 1, 201), (501, 1, 400), (0, 1, 400), (1, 8785, 400), (1, 0, 400), (True, 1, 400)])
def test_an_invitation_holds_for_1_to_500_devices_and_an_hour_to_a_year(leads, uses: object, hours: int, status: int) -> None:
    answer = leads[None].post("/api/invitations", json={"role": "reader", "site_id": None, "uses": uses, "hours": hours})
    assert answer.status_code == status, answer.json
