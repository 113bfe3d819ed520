"""What a device wrote before it was confirmed leaves the tray some lines at a time, and whoever comes next goes on with it."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from flask import Flask
from flask.testing import FlaskClient

from fieldlog import create_app
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme
from fieldlog.sync import confirm_routes, confirming
from fieldlog.sync.release import CONFIRMED_AT_ONCE
from tests.sync.lines import REQUIRED, Lane, keyed_lane, record_id

SITE, NOW_MS = record_id("Alder Spit"), 1_790_001_000_000
MANY = 3 * CONFIRMED_AT_ONCE + 10


@pytest.fixture
def lead(client_of: Callable[..., FlaskClient]) -> FlaskClient:
    client, lane = client_of("lead"), keyed_lane("lead")
    lane.write("site", SITE, REQUIRED["site"], g=SITE)
    assert client.post("/api/sync", data=lane.body()).json["acks"][0][2] == "ok"
    return client


def unconfirmed(programme: Programme, client: FlaskClient, name: str, count: int) -> Lane:
    """A device that nobody confirmed, after it sent so many lines."""
    programme.db().conn.execute("UPDATE device SET unconfirmed = 1 WHERE device_id = ?", (client.device_id,))
    lane = keyed_lane(name, SITE)
    for number in range(count):
        lane.write("sighting", record_id(f"{name} {number}"), REQUIRED["sighting"])
    assert {ack[4] for ack in client.post("/api/sync", data=lane.body()).json["acks"]} == {"unconfirmed"}
    return lane


def held(programme: Programme) -> int:
    return int(programme.db().conn.execute("SELECT count(*) FROM tray").fetchone()[0])


def test_a_confirmation_releases_in_many_transactions(lead, client_of, programme: Programme) -> None:
    crew = client_of("crew", SITE)
    lane = unconfirmed(programme, crew, "crew", MANY)
    said: list[str] = []
    conn = programme.db().conn
    conn.set_trace_callback(said.append)
    confirming.confirm_device(programme.db(), CATALOGUE, None, crew.device_id, NOW_MS)
    conn.set_trace_callback(None)
    at_once = [part.count("INSERT INTO log VALUES") for part in "\n".join(said).split("BEGIN")]
    assert (sum(at_once), max(at_once)) == (MANY, CONFIRMED_AT_ONCE)
    assert {ack[2] for ack in crew.post("/api/sync", data=lane.body()).json["acks"]} == {"ok"}


def test_a_request_that_confirms_is_answered_and_leaves_the_rest_to_a_thread_of_its_own(
    lead, client_of, programme: Programme, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server has eight threads for requests; a day's entries took one for seconds."""
    monkeypatch.setattr(confirm_routes, "ANSWERED_AFTER_S", 0.0)
    crew = client_of("crew", SITE)
    lane = unconfirmed(programme, crew, "crew", MANY)
    said: list[str] = []
    conn = app.extensions["programme"].db().conn
    conn.set_trace_callback(said.append)
    assert lead.post(f"/api/devices/{crew.device_id}/confirm").json["role"] == "crew"
    conn.set_trace_callback(None)
    assert not [statement for statement in said if "INTO log" in statement]
    assert app.extensions["releases"].wait()
    assert held(programme) == 0
    assert {ack[2] for ack in crew.post("/api/sync", data=lane.body()).json["acks"]} == {"ok"}


def test_a_request_that_confirms_a_device_with_little_has_done_all_of_it(lead, client_of, programme: Programme, app: Flask) -> None:
    crew = client_of("crew", SITE)
    unconfirmed(programme, crew, "crew", 3)
    assert lead.post(f"/api/devices/{crew.device_id}/confirm").status_code == 200
    assert held(programme) == 0
    assert app.extensions["releases"].wait(0)


def test_a_server_that_starts_takes_up_what_a_killed_one_left(stopped, programme: Programme, now) -> None:
    made = create_app(programme.folder, now)
    assert made.extensions["releases"].wait()
    assert held(programme) == 0
    made.extensions["photo_copies"].close()
    made.extensions["programme"].close()


def test_a_release_that_cannot_be_written_is_told_and_tried_again_by_the_next(stopped, programme: Programme, app: Flask, caplog) -> None:
    db = programme.db()
    db.conn.execute("CREATE TRIGGER full BEFORE DELETE ON tray BEGIN SELECT RAISE(ABORT, 'on purpose'); END")
    releases = app.extensions["releases"]
    releases.resume()
    assert releases.wait()
    assert "Each request goes on with it." in caplog.text
    assert held(programme) == MANY - 2 * CONFIRMED_AT_ONCE
    db.conn.execute("DROP TRIGGER full")
    releases.resume()
    assert releases.wait()
    assert held(programme) == 0


def test_who_was_confirmed_is_told_with_role_and_sites(lead, client_of, programme: Programme) -> None:
    two, every = client_of("crew", SITE), client_of("desk")
    sites = sorted([SITE, record_id("Birch Point")], reverse=True)
    programme.db().conn.execute("UPDATE device SET sites = ? WHERE device_id = ?", (json.dumps(sites), two.device_id))
    for client, role, of in ((two, "crew", sites[::-1]), (every, "desk", None)):
        programme.db().conn.execute("UPDATE device SET unconfirmed = 1 WHERE device_id = ?", (client.device_id,))
        told = lead.post(f"/api/devices/{client.device_id}/confirm").json
        assert told == {"device_id": client.device_id, "role": role, "sites": of, "person_id": None}


def test_only_leads_confirm(lead, client_of, programme: Programme) -> None:
    crew = client_of("crew", SITE)
    unconfirmed(programme, crew, "crew", 1)
    for role in ("crew", "desk", "reader"):
        assert client_of(role).post(f"/api/devices/{crew.device_id}/confirm").status_code == 403, role
    assert held(programme) == 1


@pytest.fixture
def stopped(lead, client_of, programme: Programme, monkeypatch: pytest.MonkeyPatch) -> tuple[FlaskClient, Lane]:
    """A device whose confirmation was killed after two transactions, and its lane."""
    crew = client_of("crew", SITE)
    lane = unconfirmed(programme, crew, "crew", MANY)
    steps = iter([None])

    def killed(_pause_s: float) -> None:
        if next(steps, "over") == "over":
            raise KeyboardInterrupt

    with monkeypatch.context() as patched, pytest.raises(KeyboardInterrupt):
        patched.setattr(confirming, "sleep", killed)
        confirming.confirm_device(programme.db(), CATALOGUE, None, crew.device_id, NOW_MS)
    assert held(programme) == MANY - 2 * CONFIRMED_AT_ONCE
    return crew, lane


def test_killed_halfway_it_goes_on_with_each_request_of_anybody(stopped, lead, programme: Programme) -> None:
    left = [held(programme)]
    while left[-1]:
        assert lead.post("/api/sync", data=keyed_lane("asks").body()).status_code == 200
        left.append(held(programme))
    assert left == [60, 10, 0]
    assert {ack[2] for ack in stopped[0].post("/api/sync", data=stopped[1].body()).json["acks"]} == {"ok"}


def test_killed_halfway_the_command_goes_on_with_it(stopped, call, programme: Programme) -> None:
    assert call("confirm", data=programme.folder).out.strip() == "Every device is confirmed."
    assert held(programme) == 0


def test_lines_of_devices_that_are_not_confirmed_stay_and_so_do_those_that_may_not_be_taken(lead, client_of, programme: Programme) -> None:
    crew, other, taken_off = (client_of("crew", SITE) for _ in range(3))
    unconfirmed(programme, other, "other", 3)
    unconfirmed(programme, taken_off, "taken off", 2)
    lane = unconfirmed(programme, crew, "crew", 4)
    lane.write("closure", record_id("closed"), {"from_date": "2026-12-01", "to_date": "2026-12-02", "reason": "nests"})
    assert crew.post("/api/sync", data=lane.body(5)).json["acks"][0][4] == "unconfirmed"
    assert lead.delete(f"/api/devices/{taken_off.device_id}").status_code == 204
    for client in (crew, taken_off):
        assert lead.post(f"/api/devices/{client.device_id}/confirm").status_code == 200
    rows = programme.db().conn.execute("SELECT device_id, why, count(*) FROM tray JOIN lane USING (lane_id) GROUP BY 1, 2").fetchall()
    assert sorted(rows) == sorted([
        (other.device_id, "unconfirmed", 3), (taken_off.device_id, "unconfirmed", 2), (crew.device_id, rows_why(programme, lane), 1),
    ])  # fmt: skip
    assert rows_why(programme, lane) != "unconfirmed"
    assert programme.db().conn.execute("SELECT value FROM setting WHERE name = 'releasing'").fetchone() is None
    assert lead.post(f"/api/devices/{other.device_id}/confirm").status_code == 200
    assert held(programme) == 3


def rows_why(programme: Programme, lane: Lane) -> str:
    return str(programme.db().conn.execute("SELECT why FROM tray WHERE lane_id = ?", (lane.lane_id,)).fetchone()[0])


def test_a_lane_that_its_phone_took_to_a_new_device_is_released_by_that(lead, client_of, programme: Programme) -> None:
    """The phone lost its token and joined again: nobody will confirm what it was."""
    lost, again = client_of("crew", SITE), client_of("crew", SITE)
    lane = unconfirmed(programme, lost, "crew", 3)
    lane.write("sighting", record_id("later"), REQUIRED["sighting"])
    assert [ack[2] for ack in again.post("/api/sync", data=lane.body()).json["acks"]] == ["q", "q", "q", "ok"]
    assert lead.post(f"/api/devices/{again.device_id}/confirm").status_code == 200
    assert held(programme) == 0
