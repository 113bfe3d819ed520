"""Windows by command where there are none to give: a site that never dries, a polar night, a site half set up."""

from __future__ import annotations

import sqlite3
from zoneinfo import ZoneInfo

import pytest

from fieldlog.commands.windows import window_line
from tests.a_phone import Phone

SITE = "11111111-1111-4111-8111-111111111111"
FIELDS = {
    "name": "Heron Bar", "lat_deg": 32.03, "lon_deg": -80.92, "zone": "America/New_York", "tide_station": "noaa/8670870",
    "level_datum": "MLLW", "work_level_m": 0.5, "route_low_level_m": 0.9, "walk_out_min": 12, "muster_min": 10,
    "least_usable_min": 45,
}  # fmt: skip


@pytest.fixture
def site(client_of, programme, now):
    """site(**changes): a programme with this one site."""

    def made(**changes: object):
        phone = Phone(client_of("lead"), int(now().timestamp() * 1000))
        fields = {name: value for name, value in (FIELDS | changes).items() if value is not None}
        phone.note("site", SITE, SITE, **fields)
        assert phone.sync().json["acks"][0][2] == "ok"
        return programme.folder

    return made


def test_a_site_without_a_low_below_its_work_level_is_told_so(call, site) -> None:
    said = call("windows", "--days", 60, data=site(work_level_m=-1.5, route_low_level_m=-1.0))
    assert said.status == 0
    assert "The low stays above the work level" in said.out
    assert "Are the work level, its datum and the tide station right?" in said.out


def test_a_polar_night_leaves_no_daylight_window(call, site) -> None:
    """Ny-Ålesund, 78.9 degrees north, station of Kartverket: the sun stays down from late October to mid-February."""
    folder = site(lat_deg=78.93, lon_deg=11.95, zone="Arctic/Longyearbyen", tide_station="Ny-Ålesund", level_datum="CD", work_level_m=1.3, route_low_level_m=1.5)
    said = call("windows", "--from", "2026-12-01", "--days", 20, "--json", data=folder)
    assert said.status == 0, said.err
    assert [window for window in said.document if window["safe"]] == []
    assert "in the polar night" in call("windows", "--from", "2026-12-01", "--days", 20, data=folder).out


@pytest.mark.parametrize("missing", ["work_level_m", "tide_station", "zone"])
def test_a_site_half_set_up_says_what_is_missing(call, site, missing: str) -> None:
    """Older apps could make such a site."""
    folder = site()
    db = sqlite3.connect(folder / "fieldlog.sqlite")
    db.execute(f"UPDATE site SET {missing} = NULL")
    db.commit()
    db.close()
    said = call("windows", data=folder)
    assert said.status == 2
    assert "Heron Bar" in said.err


def test_an_unknown_station_is_told_by_name(call, site) -> None:
    said = call("windows", data=site(tide_station="noaa/0000000"))
    assert said.status == 2
    assert "noaa/0000000" in said.err


def test_a_low_of_nothing_is_written_as_the_phone_writes_it() -> None:
    times = dict.fromkeys(("leave_home_at", "route_dries_at", "usable_from", "leave_row_at", "turn_back_at"))
    row = {**times, "site": "Heron Bar", "row": None, "unit": None, "low_at": "2026-12-03T15:30:05.000Z", "low_level_m": -0.004, "safe": False, "cautions": []}
    assert window_line(row, ZoneInfo("UTC")) == "Heron Bar  Thu, Dec 3, 2026  low 15:30  0.00 m  not to use: "


def test_a_path_without_a_time_to_dry_says_that_it_stays_dry() -> None:
    times = dict.fromkeys(("leave_home_at", "usable_from", "leave_row_at", "turn_back_at"), "2026-12-03T15:00:00.000Z")
    row = {
        **times, "route_dries_at": None, "site": "Heron Bar", "row": None, "unit": None, "low_at": "2026-12-03T15:30:05.000Z", "low_level_m": 0.1,
        "safe": True, "usable_min": 60, "turn_back_reason": "the work area floods at 15:00", "cautions": [],
    }  # fmt: skip
    assert "path dry over a day before  work 15:00" in window_line(row, ZoneInfo("UTC"))
    stays = {**row, "cautions": [{"word": "route-stays-dry", "sentence": "", "stops": False}]}
    assert "path dry all the time  work 15:00" in window_line(stays, ZoneInfo("UTC"))
