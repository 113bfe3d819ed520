"""The calendar feed stands behind a secret address, one a device and a site; a dead one takes back what it told, then ends."""

from __future__ import annotations

import hashlib
import uuid

import icalendar
import pytest

from a_phone import Phone
from fieldlog import create_app
from fieldlog.access import calendar_secrets
from fieldlog.access.calendar_secrets import calendar_paths
from fieldlog.access.devices import device_of_id
from fieldlog.disk import disk_full
from fieldlog.store import connect, set_setting

SITE_1, SITE_2 = str(uuid.uuid4()), str(uuid.uuid4())
READY = {
    "lat_deg": 42.35, "lon_deg": -71.05, "zone": "America/New_York", "tide_station": "noaa/8443970", "level_datum": "MLLW",
    "work_level_m": 0.6, "route_low_level_m": 1.2, "walk_out_min": 10, "muster_min": 5, "least_usable_min": 30,
}  # fmt: skip


@pytest.fixture
def site(client_of, now) -> Phone:
    lead = Phone(client_of("lead"), int(now().timestamp() * 1000))
    lead.note("site", SITE_1, SITE_1, name="Alder Spit", **READY)
    lead.note("site", SITE_2, SITE_2, name="Gannet Reach", lat_deg=42.0, lon_deg=-71.0)
    lead.sync()
    return lead


@pytest.fixture
def address(programme):
    """address(client, site_id): the path that the device of a client is given."""

    def path(client, site_id: str = SITE_1) -> str:
        return calendar_paths(programme.db(), device_of_id(programme.db(), client.device_id), [site_id])[site_id]

    return path


@pytest.fixture
def fetch(app):
    """fetch(path): what a calendar program gets, which has no cookie."""
    return lambda path: app.test_client().get(path)


def events(answer) -> dict[str, icalendar.Event]:
    assert answer.status_code == 200, answer.text
    return {str(event["UID"]): event for event in icalendar.Calendar.from_ical(answer.data).walk("VEVENT")}


def is_alive(answer) -> bool:
    return any(str(event["STATUS"]) != "CANCELLED" for event in events(answer).values())


def secret_of(path: str) -> str:
    return path.removeprefix("/calendar/").removesuffix(".ics")


def test_a_secret_has_256_bits_stays_and_is_another_for_each_device_and_site(site, client_of, address):
    one, other = client_of("crew"), client_of("crew")
    assert len(secret_of(address(one))) == 43  # 32 bytes in base64 without padding
    assert address(one) == address(one)
    assert len({address(one), address(other), address(one, SITE_2), address(other, SITE_2)}) == 4


def test_a_secret_is_found_by_its_hash_alone(site, client_of, address, programme):
    client = client_of("crew")
    secret = secret_of(address(client))
    (row,) = programme.db().query("SELECT * FROM calendar_address WHERE device_id = ?", [client.device_id])
    assert row["secret_sha256"] == hashlib.sha256(secret.encode()).hexdigest()
    (plan,) = programme.db().conn.execute(
        "EXPLAIN QUERY PLAN SELECT * FROM calendar_address WHERE secret_sha256 = ?", ("x",)
    ).fetchall()
    assert "SEARCH" in plan[3]


def test_each_device_gets_its_own_address_in_its_pack(site, client_of, address):
    one, other = client_of("crew", SITE_1), client_of("crew", SITE_1)
    found = []
    for client in (one, other):
        answer = client.get("/api/pack")
        assert f'"{address(client)}"' in answer.text
        assert client.get("/api/pack", headers={"If-None-Match": answer.headers["ETag"]}).status_code == 304
        found.append(address(client))
    assert found[0] != found[1]
    assert found[0] not in other.get("/api/pack").text


def test_the_pack_of_a_device_names_no_address_of_a_site_that_is_not_its_own(site, client_of, programme):
    client_of("lead").get("/api/pack")
    client = client_of("crew", SITE_2)
    client.get("/api/pack")
    rows = programme.db().query("SELECT site_id FROM calendar_address WHERE device_id = ?", [client.device_id])
    assert {row["site_id"] for row in rows} == {SITE_2}


def test_the_feed_holds_the_sites_safe_windows_and_nobodys_name(site, client_of, address, fetch):
    answer = fetch(address(client_of("reader")))
    assert answer.mimetype == "text/calendar"
    assert len(events(answer)) > 10
    assert all("Alder Spit" in event["SUMMARY"] for event in events(answer).values())
    assert "ATTENDEE" not in answer.text and "ORGANIZER" not in answer.text


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"level_datum": "NAVD88"}, "NAVD88"),
        ({"work_level_m": -5.0}, "The low stays above the work level"),
    ],
    ids=["levels on a datum not known here", "every low too high"],
)
def test_a_site_whose_windows_are_gone_cancels_each_event_without_an_alarm_and_says_why(site, address, fetch, change, reason):
    path = address(site.client)
    told = events(fetch(path))
    site.note("site", SITE_1, SITE_1, **change)
    site.sync()
    after = events(fetch(path))
    assert set(after) == set(told)
    for event in after.values():
        assert str(event["STATUS"]) == "CANCELLED"
        assert event["SUMMARY"] == "Canceled: low tide at Alder Spit"
        assert reason in event["DESCRIPTION"]
        assert event.walk("VALARM") == []


def test_a_changed_site_replaces_what_calendars_hold(site, address, fetch):
    def sequence() -> int:
        return next(iter(events(fetch(address(site.client))).values()))["SEQUENCE"]

    before = sequence()
    site.note("site", SITE_1, SITE_1, travel_min=75)
    site.sync()
    assert sequence() == before + 1


def test_a_fetch_that_finds_nothing_new_writes_nothing(site, client_of, address, fetch, programme):
    paths = [address(client_of("crew")) for _ in range(2)]
    for path in paths:
        fetch(path)
    before = programme.db().conn.execute("PRAGMA data_version").fetchone()
    for path in paths * 2:
        assert is_alive(fetch(path))
    assert programme.db().conn.execute("PRAGMA data_version").fetchone() == before


def test_a_fetch_waits_for_no_writer_where_nothing_changed(site, client_of, address, fetch, programme):
    path = address(client_of("crew"))
    before = fetch(path).data
    writer = connect(programme.path)
    writer.conn.execute("BEGIN IMMEDIATE")
    assert fetch(path).data == before
    writer.conn.execute("ROLLBACK")
    writer.conn.close()


@pytest.mark.parametrize("secret", ["x", "", "%C3%A4", "a" * 43, "/etc/passwd", "x" * 5000])
def test_an_unknown_secret_is_no_address(site, fetch, secret):
    assert fetch(f"/calendar/{secret}.ics").status_code == 404


def test_a_site_that_is_not_ready_has_no_feed_but_a_reason(site, client_of, address, fetch, programme):
    programme.db().execute("UPDATE site SET tide_station = NULL WHERE record_id = ?", [SITE_2])
    answer = fetch(address(client_of("crew"), SITE_2))
    assert "Gannet Reach has no tide station yet" in answer.json["detail"]


def revoke(lead, client) -> None:
    assert lead.delete(f"/api/devices/{client.device_id}").status_code == 204


def leave(lead, client) -> None:
    assert client.post("/api/leave").status_code == 204


def move(lead, client) -> None:
    assert lead.patch(f"/api/devices/{client.device_id}", json={"role": "crew", "sites": [SITE_2]}).status_code == 200


ENDINGS = [revoke, leave, move]


@pytest.mark.parametrize("end", ENDINGS)
def test_a_dead_address_cancels_all_that_it_told_and_says_what_to_do(site, client_of, address, fetch, end):
    client = client_of("crew", SITE_1)
    path = address(client)
    told = events(fetch(path))
    end(site.client, client)
    answer = fetch(path)
    after = events(answer)
    assert set(after) == set(told)
    for uid, event in after.items():
        assert str(event["STATUS"]) == "CANCELLED"
        assert int(event["SEQUENCE"]) > int(told[uid]["SEQUENCE"])
        assert event.decoded("DTSTART") == told[uid].decoded("DTSTART")
        assert event["SUMMARY"] == "Canceled: ask for a new calendar address"
        assert "This calendar address no longer works" in event["DESCRIPTION"]
        assert event.walk("VALARM") == []
    assert "new calendar address" in str(icalendar.Calendar.from_ical(answer.data)["X-WR-CALNAME"])


@pytest.mark.parametrize("end", ENDINGS)
def test_it_answers_for_60_days_and_then_is_gone(site, client_of, address, fetch, now, end):
    client = client_of("crew", SITE_1)
    path = address(client)
    fetch(path)
    end(site.client, client)
    now.forward(days=60)
    assert not is_alive(fetch(path))
    now.forward(minutes=1)
    answer = fetch(path)
    assert (answer.status_code, answer.json["word"]) == (410, "address-ended")
    assert "new address" in answer.json["detail"]


def test_a_dead_address_tells_nothing_that_came_after_its_end(site, client_of, address, fetch, now):
    client = client_of("crew", SITE_1)
    path = address(client)
    fetch(path)
    revoke(site.client, client)
    before = events(fetch(path))
    now.forward(days=5)
    site.note("site", SITE_1, SITE_1, name="Renamed Since", work_level_m=1.5)
    site.sync()
    fetch(address(site.client))
    after = fetch(path)
    assert set(events(after)) == set(before)
    assert "Renamed Since" not in after.text


def test_an_address_that_was_never_fetched_told_nothing(site, client_of, address, fetch):
    fetch(address(site.client))
    client = client_of("crew", SITE_1)
    path = address(client)
    revoke(site.client, client)
    assert events(fetch(path)) == {}


def test_a_device_that_gets_its_site_back_gets_a_new_address(site, client_of, address, fetch):
    client = client_of("crew", SITE_1)
    old = address(client)
    fetch(old)
    move(site.client, client)
    site.client.patch(f"/api/devices/{client.device_id}", json={"role": "crew", "sites": [SITE_1]})
    assert not is_alive(fetch(old))
    assert address(client) != old
    assert is_alive(fetch(address(client)))


def test_another_role_on_the_same_site_keeps_the_address(site, client_of, address, fetch):
    client = client_of("crew", SITE_1)
    path = address(client)
    site.client.patch(f"/api/devices/{client.device_id}", json={"role": "desk", "sites": [SITE_1, SITE_2]})
    assert is_alive(fetch(path))
    assert address(client) == path


def test_the_address_of_a_removed_site_is_dead(site, client_of, address, fetch, now):
    path = address(client_of("crew"))
    fetch(path)
    site.note("site", SITE_1, SITE_1, _deleted=True)
    site.sync()
    assert not is_alive(fetch(path))
    now.forward(days=61)
    assert fetch(path).status_code == 410


def test_a_token_ended_by_other_means_ends_its_address_at_the_next_fetch(site, client_of, address, fetch, now, programme):
    client = client_of("crew")
    path = address(client)
    fetch(path)
    programme.db().conn.execute("UPDATE device SET revoked_at = 5 WHERE device_id = ?", (client.device_id,))
    assert not is_alive(fetch(path))
    now.forward(days=61)
    assert fetch(path).status_code == 410


def test_the_secret_of_a_dead_address_is_forgotten(site, client_of, address, programme):
    client = client_of("crew")
    secret = secret_of(address(client))
    revoke(site.client, client)
    assert secret not in "\n".join(programme.db().conn.iterdump())


def test_the_one_a_site_addresses_of_older_folders_cancel_what_they_told_and_end(site, address, fetch, app, now, programme):
    told = events(fetch(address(site.client)))
    folder = programme.folder
    as_left_by_0_2_0(programme.path)
    later = create_app(folder, now)
    old = later.test_client().get("/calendar/the-old-secret.ics")
    assert set(events(old)) == set(told)
    assert not is_alive(old)
    assert "calendar_secret" not in "\n".join(programme.db().conn.iterdump())
    now.forward(days=61)
    assert later.test_client().get("/calendar/the-old-secret.ics").status_code == 410
    later.extensions["photo_copies"].close()
    later.extensions["programme"].close()


def as_left_by_0_2_0(path) -> None:
    """Take a folder back to the addresses of version 0.2.0: a setting a site, no table of addresses."""
    db = connect(path)
    set_setting(db, f"calendar_secret:{SITE_1}", "the-old-secret")
    db.conn.execute("DROP TABLE calendar_address")
    db.conn.execute("DELETE FROM _sqlite_migrations WHERE name = 'm014_calendar_addresses'")
    db.conn.close()


def test_a_disk_that_takes_nothing_hinders_nobody_who_asks(site, client_of, address, fetch, monkeypatch):
    def no_room(_db):
        raise disk_full()

    one, later = client_of("crew"), client_of("crew")
    known = address(one)
    with monkeypatch.context() as full:
        full.setattr(calendar_secrets, "write", no_room)
        assert set(later.get("/api/pack/index").json["calendars"].values()) == {None}
        assert is_alive(fetch(known))
    assert later.get("/api/pack/index").json["calendars"][SITE_1].startswith("/calendar/")
