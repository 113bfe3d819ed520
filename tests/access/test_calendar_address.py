"""The calendar feed stands behind a secret address, one a site."""

from __future__ import annotations

import uuid

import icalendar
import pytest

from a_phone import Phone
from fieldlog.access.calendar_secrets import calendar_path, site_of_secret

SITE_1, SITE_2 = str(uuid.uuid4()), str(uuid.uuid4())
READY = {
    "lat_deg": 42.35, "lon_deg": -71.05, "zone": "America/New_York", "tide_station": "noaa/8443970", "level_datum": "MLLW",
    "work_level_m": 0.6, "route_low_level_m": 1.2, "walk_out_min": 10, "muster_min": 5, "least_usable_min": 30,
}  # fmt: skip


@pytest.fixture
def site(client_of, now) -> Phone:
    lead = Phone(client_of("lead"), int(now().timestamp() * 1000))
    lead.note("site", SITE_1, SITE_1, name="Alder Spit", **READY)
    lead.note("site", SITE_2, SITE_2, name="Gannet Reach")
    assert {ack[2] for ack in lead.sync().json["acks"]} == {"ok"}
    return lead


def test_a_secret_has_256_bits_stays_and_is_another_for_each_site(programme):
    path = calendar_path(programme.db(), SITE_1)
    secret = path.removeprefix("/calendar/").removesuffix(".ics")
    assert len(secret) == 43  # 32 bytes in base64 without padding
    assert calendar_path(programme.db(), SITE_1) == path
    assert calendar_path(programme.db(), SITE_2) != path
    assert site_of_secret(programme.db(), secret) == SITE_1


def test_the_feed_holds_the_sites_safe_windows_and_nobodys_name(site, app, programme):
    answer = app.test_client().get(calendar_path(programme.db(), SITE_1))
    assert answer.status_code == 200
    assert answer.mimetype == "text/calendar"
    events = icalendar.Calendar.from_ical(answer.data).walk("VEVENT")
    assert len(events) > 10
    assert all("Alder Spit" in event["SUMMARY"] for event in events)
    assert "ATTENDEE" not in answer.text and "ORGANIZER" not in answer.text


def test_a_changed_site_replaces_what_calendars_hold(site, app, programme):
    def sequence() -> int:
        answer = app.test_client().get(calendar_path(programme.db(), SITE_1))
        return icalendar.Calendar.from_ical(answer.data).walk("VEVENT")[0]["SEQUENCE"]

    before = sequence()
    site.note("site", SITE_1, SITE_1, muster_min=10)
    site.sync()
    assert sequence() == before + 1


@pytest.mark.parametrize("secret", ["x", "", "%C3%A4", "a" * 43, "/etc/passwd"])
def test_an_unknown_secret_is_no_address(site, app, secret):
    answer = app.test_client().get(f"/calendar/{secret}.ics")
    assert answer.status_code == 404


def test_a_site_that_is_not_ready_has_no_feed_but_a_reason(site, app, programme):
    answer = app.test_client().get(calendar_path(programme.db(), SITE_2))
    assert "Gannet Reach has no tide station yet" in answer.json["detail"]
