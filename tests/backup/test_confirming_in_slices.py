"""What a device wrote before it was confirmed leaves the tray some lines at a time, and whoever comes next goes on with it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from flask import Flask
from flask.testing import FlaskClient

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme
from fieldlog.sync import confirming
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


def test_a_confirmation_releases_in_many_transactions(lead, client_of, programme: Programme, app: Flask) -> None:
    crew = client_of("crew", SITE)
    lane = unconfirmed(programme, crew, "crew", MANY)
    said: list[str] = []
    conn = app.extensions["programme"].db().conn
    conn.set_trace_callback(said.append)
    assert lead.post(f"/api/devices/{crew.device_id}/confirm").status_code == 200
    conn.set_trace_callback(None)
    at_once = [part.count("INSERT INTO log VALUES") for part in "\n".join(said).split("BEGIN")]
    assert (sum(at_once), max(at_once)) == (MANY, CONFIRMED_AT_ONCE)
    assert {ack[2] for ack in crew.post("/api/sync", data=lane.body()).json["acks"]} == {"ok"}


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
