"""Devices: lists, revoking, changes of role, leaving, and what each role's pull brings."""

from __future__ import annotations

import uuid

import pytest

from a_phone import Phone, texts_pulled
from fieldlog.access.devices import Device, device_of_token, scope_of


def new_id() -> str:
    return str(uuid.uuid4())


SITE_1, SITE_2, PERSON = new_id(), new_id(), new_id()


@pytest.fixture
def now_ms(now) -> int:
    return int(now().timestamp() * 1000)


@pytest.fixture
def two_sites(client_of, now_ms) -> Phone:
    """A lead's lane that set up two sites, a unit row on each, and one person of the first with private records."""
    lane = Phone(client_of("lead"), now_ms)
    sign_in = new_id()
    for site_id, name in ((SITE_1, "Alder Spit"), (SITE_2, "Gannet Reach")):
        lane.note("site", site_id, site_id, name=name)
        lane.note("row", new_id(), site_id, name=f"row of {name}", order_number=1, bed_level_m=-0.2, level_datum="MLLW")
    lane.note("person", PERSON, SITE_1, display_name="Ines Calder", role="volunteer")
    lane.note("sign_in", sign_in, SITE_1, person_id=PERSON, in_at="2026-11-25T05:00:00Z")
    lane.note("person_private", new_id(), SITE_1, person_id=PERSON, phone="555 0100")
    lane.note("sign_in_private", new_id(), SITE_1, sign_in_id=sign_in, medical_note="carries an inhaler")
    answer = lane.sync()
    assert {ack[2] for ack in answer.json["acks"]} == {"ok"}, answer.json["acks"]
    return lane


def test_scope_changes_with_role_and_sites_and_with_nothing_else():
    one = Device("d", "crew", frozenset({"a", "b"}), None, False)
    assert scope_of(one) == scope_of(Device("e", "crew", frozenset({"b", "a"}), "p", True))
    others = {scope_of(Device("d", role, sites, None, False)) for role, sites in
              (("lead", one.sites), ("crew", frozenset({"a"})), ("crew", frozenset()), ("crew", None))}  # fmt: skip
    assert len(others | {scope_of(one)}) == 5


@pytest.mark.parametrize(
    ("role", "sees"),
    [("lead", {"person_private", "sign_in_private", "person", "row"}), ("crew", {"person", "row"}),
     ("desk", {"person", "row"}), ("reader", {"row"})],
)  # fmt: skip
def test_private_kinds_travel_down_to_leads_only(two_sites, client_of, now_ms, role, sees):
    lines = texts_pulled(Phone(client_of(role), now_ms).sync())
    private = ("person_private", "sign_in_private", "person", "row")
    assert {kind for kind in private if any(f'"t":"{kind}"' in line for line in lines)} == sees
    if role != "lead":
        assert not any("555 0100" in line or "inhaler" in line for line in lines)


def test_a_device_of_one_site_sees_nothing_of_the_other(two_sites, client_of, now_ms):
    lines = texts_pulled(Phone(client_of("crew", SITE_2), now_ms).sync())
    assert any("Gannet Reach" in line for line in lines)
    assert not any("Alder Spit" in line or "Ines" in line for line in lines)


def test_a_device_of_one_site_cannot_write_to_the_other(two_sites, client_of, now_ms):
    lane = Phone(client_of("crew", SITE_2), now_ms)
    lane.note("visit", new_id(), SITE_1, purpose="walk", started_at="2026-11-25T05:00:00Z")
    lane.note("visit", new_id(), SITE_2, purpose="walk", started_at="2026-11-25T05:00:00Z")
    first, second = lane.sync().json["acks"]
    assert (first[2], first[4], second[2]) == ("q", "not-permitted", "ok")


def test_a_lead_reads_a_persons_private_records_by_name(two_sites):
    said = two_sites.client.get(f"/api/private/{PERSON}").json
    assert [row["phone"] for row in said["contact"]] == ["555 0100"]
    assert [row["medical_note"] for row in said["sign_ins"]] == ["carries an inhaler"]


def test_a_lead_of_another_site_reads_nothing_of_that_person(two_sites, client_of):
    said = client_of("lead", SITE_2).get(f"/api/private/{PERSON}").json
    assert (said["contact"], said["sign_ins"]) == ([], [])


def test_changing_sites_makes_the_phone_start_its_pull_again(two_sites, client_of, now_ms):
    phone = Phone(client_of("crew", SITE_1), now_ms)
    phone.sync()
    assert not phone.sync().json["reset"]
    changed = two_sites.client.patch(f"/api/devices/{phone.client.device_id}", json={"role": "crew", "sites": [SITE_2]})
    assert changed.json["sites"] == [SITE_2]
    answer = phone.sync()
    assert answer.json["reset"]
    assert any("Gannet Reach" in line for line in texts_pulled(answer))


def test_changing_the_role_makes_the_phone_start_its_pull_again(two_sites, client_of, now_ms):
    phone = Phone(client_of("reader"), now_ms)
    phone.sync()
    two_sites.client.patch(f"/api/devices/{phone.client.device_id}", json={"role": "crew", "sites": None})
    answer = phone.sync()
    assert answer.json["reset"]
    assert any("Ines Calder" in line for line in texts_pulled(answer))


@pytest.mark.parametrize("body", [{"role": "boss", "sites": None}, {"role": "crew", "sites": []}, {"role": "crew"},
                                  {"role": "crew", "sites": ["nowhere"]}, {"role": "crew", "sites": "all"}, {"sites": None}])  # fmt: skip
def test_an_impossible_change_of_a_device_is_refused(two_sites, client_of, body):
    phone = client_of("crew")
    assert two_sites.client.patch(f"/api/devices/{phone.device_id}", json=body).status_code == 400


def test_a_revoked_device_is_told_at_its_sync_and_its_lines_go_to_the_tray(two_sites, client_of, now_ms, programme):
    phone = Phone(client_of("crew"), now_ms)
    phone.sync()
    assert two_sites.client.delete(f"/api/devices/{phone.client.device_id}").status_code == 204
    two_sites.note("row", new_id(), SITE_1, name="written after", order_number=2, bed_level_m=0, level_datum="MLLW")
    two_sites.sync()
    phone.note("visit", new_id(), SITE_1, purpose="walk", started_at="2026-11-25T05:00:00Z")
    answer = phone.sync()
    assert (answer.status_code, answer.json["revoked"]) == (200, True)
    assert answer.json["pull"] == []
    assert answer.json["acks"][0][2:5] == ["q", 0, "revoked"]
    assert programme.db()["tray"].count_where("why = 'revoked'") == 1


def test_elsewhere_a_revoked_device_is_refused_with_a_word_of_its_own(two_sites, client_of):
    phone = client_of("lead")
    two_sites.client.delete(f"/api/devices/{phone.device_id}")
    for path in ("/api/devices", "/api/photos", f"/api/private/{PERSON}", f"/api/photos/{'0' * 64}"):
        answer = phone.get(path)
        assert (answer.status_code, answer.json["word"]) == (403, "revoked"), path


def test_an_unknown_token_is_told_to_join_again(app, two_sites):
    client = app.test_client()
    client.set_cookie("fieldlog", "not a token of this server")
    answer = client.post("/api/sync", data=two_sites.body())
    assert (answer.status_code, answer.json["word"]) == (401, "not-joined")
    assert "nothing is lost" in answer.json["detail"]
    assert app.test_client().get("/api/devices").status_code == 401


def test_a_device_that_was_taken_off_and_then_leaves_is_told_as_taken_off_with_its_day(two_sites, client_of, now_ms):
    """Leaving must not hide from the next lead that somebody ended its access."""
    gone = client_of("crew", SITE_1)
    assert two_sites.client.delete(f"/api/devices/{gone.device_id}").status_code == 204
    assert gone.post("/api/leave").status_code == 204
    (row,) = [row for row in two_sites.client.get("/api/devices").json["devices"] if row["device_id"] == gone.device_id]
    assert (row["state"], row["revoked_at"]) == ("revoked", now_ms)


def test_a_device_that_left_is_unknown_but_still_owns_its_lane(two_sites, client_of, now_ms, programme):
    phone = Phone(client_of("crew", SITE_1), now_ms)
    phone.note("sighting", new_id(), SITE_1)
    phone.sync()
    answer = phone.client.post("/api/leave")
    assert answer.status_code == 204
    assert "Max-Age=0" in answer.headers["Set-Cookie"]
    assert phone.sync().status_code == 401
    (row,) = [row for row in two_sites.client.get("/api/devices").json["devices"] if row["device_id"] == phone.client.device_id]
    assert row["state"] == "left"
    assert programme.db()["lane"].get(phone.lane_id)["device_id"] == phone.client.device_id


def test_the_list_of_devices_says_what_a_lead_asks_of_a_phone(two_sites, client_of, now_ms):
    phone = Phone(client_of("crew", SITE_1), now_ms)
    phone.note("visit", new_id(), SITE_1, purpose="walk", started_at="2026-11-25T05:00:00Z")
    phone.note("visit", new_id(), SITE_2, purpose="walk", started_at="2026-11-25T05:00:00Z")
    phone.sync()
    (row,) = [row for row in two_sites.client.get("/api/devices").json["devices"] if row["device_id"] == phone.client.device_id]
    assert (row["name"], row["role"], row["sites"], row["state"]) == ("crew's phone", "crew", [SITE_1], "joined")
    assert (row["entries"], row["held"], row["unsent"], row["skew_ms"], row["seen_at"]) == (1, 1, 0, 2000, now_ms)
    assert not any("token" in name for name in row)


def test_a_lead_of_one_site_gives_away_no_more_than_that_site(two_sites, client_of):
    lead, phone = client_of("lead", SITE_1), client_of("crew", SITE_2)
    own = {"role": "crew", "uses": 1, "hours": 1}
    assert lead.post("/api/invitations", json={**own, "site_id": SITE_1}).status_code == 201
    assert lead.post("/api/invitations", json={**own, "site_id": SITE_2}).status_code == 403
    assert lead.post("/api/invitations", json={**own, "site_id": None}).status_code == 403
    assert lead.delete(f"/api/devices/{phone.device_id}").status_code == 403
    assert lead.patch(f"/api/devices/{lead.device_id}", json={"role": "lead", "sites": None}).status_code == 403
    assert phone.device_id not in {row["device_id"] for row in lead.get("/api/devices").json["devices"]}


def test_a_sync_sets_the_cookie_again(two_sites):
    answer = two_sites.sync()
    token = two_sites.client.get_cookie("fieldlog").value
    assert answer.headers["Set-Cookie"].startswith(f"fieldlog={token};")


def test_a_token_finds_its_device(programme, client_of):
    client = client_of("desk")
    found = device_of_token(programme.db(), client.get_cookie("fieldlog").value)
    assert found == Device(client.device_id, "desk", None, None, False)
