"""Rows for programs, and the sentence of a site without a window."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from fieldlog.windows.access import Window, access_windows
from fieldlog.windows.daylight import Light
from fieldlog.windows.rows import no_window_sentence, window_row
from fieldlog.windows.rules import SiteRules
from windows.drawn_tides import CosineTide

LOW = datetime(2026, 12, 3, 15, 30, 5, tzinfo=UTC)
LIGHT = [Light(0, 2**40)]
RULES = SiteRules("s-1", "America/New_York", 41.0, -72.0, 0.5, 0.8, 0.2, 10, 10, None, 60)


def windows_of(
    lowest_m: float, rules: SiteRules = RULES, light: list[Light] = LIGHT, count: int = 3
) -> list[Window]:
    tide = CosineTide(LOW, 2.0, lowest_m, count=count)
    return access_windows(tide, rules, light, LOW, LOW + timedelta(days=60))


def test_a_row_is_what_scripts_rely_on() -> None:
    row = window_row(windows_of(0.0)[0], "Alder Spit", RULES)
    times = {"opens_at", "low_at", "turn_back_at", "closes_at"}
    assert times | {"site", "low_level_m", "usable_min", "daylight", "safe", "cautions"} <= set(row)
    assert row["low_at"] == "2026-12-03T15:30:05.000Z"
    assert (row["site"], row["row"], row["safe"], row["daylight"]) == ("Alder Spit", None, True, "day")
    assert row["cautions"][-1]["word"] == "predicted"
    assert json.loads(json.dumps(row)) == row


def test_a_low_above_the_work_level_has_a_reason_and_null_times() -> None:
    row = window_row(windows_of(0.4)[0], "Alder Spit", RULES)
    assert [row[name] for name in ("opens_at", "turn_back_at", "closes_at", "usable_from")] == [None] * 4
    assert (row["safe"], row["usable_min"], row["cautions"][0]["stops"]) == (False, 0, True)


def test_a_site_with_a_window_needs_no_sentence() -> None:
    assert no_window_sentence(windows_of(0.0), RULES, 60) is None


def test_a_site_without_a_low_below_its_work_level_is_told_so() -> None:
    sentence = no_window_sentence(windows_of(0.4), RULES, 60)
    assert sentence is not None
    assert sentence.startswith(
        "No low in the next 60 days falls below the work level 0.50 m (lowest: 0.60 m on Dec 3, "
    )


def test_a_site_in_polar_night_is_told_so() -> None:
    sentence = no_window_sentence(windows_of(0.0, light=[]), RULES, 60)
    assert sentence == "No usable low in the next 60 days. Of 3 lows: 3 in the polar night."


def test_the_reasons_are_counted_most_first() -> None:
    day = Light(int(LOW.timestamp()) - 3600 * 20, int(LOW.timestamp()) + 3600 * 20)
    asked = replace(RULES, least_usable_min=600)
    sentence = no_window_sentence(windows_of(0.0, asked, [day]), asked, 60)
    assert (
        sentence
        == "No usable low in the next 60 days. Of 3 lows: 2 too short, 1 in the dark."
    )


def test_no_lows_at_all_is_a_sentence_too() -> None:
    assert "tide station" in (no_window_sentence([], RULES, 60) or "")


def test_a_lead_is_told_the_zone_of_a_place_and_where_its_longitude_has_the_wrong_sign(client_of) -> None:
    lead = client_of("lead")
    right, wrong = (lead.get(f"/api/stations?near=44.63,{lon}").json for lon in (-124.04, 124.04))
    assert (right["zone"], right["mirrored"]) == ("America/Los_Angeles", None)
    assert wrong["stations"][0]["distance_km"] > 300
    assert wrong["mirrored"]["distance_km"] < 50
    assert wrong["mirrored"]["id"] == right["stations"][0]["id"]


def test_a_lead_is_told_the_stations_near_a_place_and_others_are_not(client_of) -> None:
    lead = client_of("lead")
    found = lead.get("/api/stations?near=32.03,-80.92").json["stations"]
    assert found[0]["distance_km"] <= found[-1]["distance_km"]
    assert {"id", "name", "kind", "source", "chart_datum"} <= set(found[0])
    for wrong in ("", "?near=", "?near=here", "?near=1,2,3", "?near=95,0", "?near=nan,0"):
        answer = lead.get(f"/api/stations{wrong}")
        assert answer.status_code == 400, wrong
        assert answer.json["detail"]
    assert client_of("crew").get("/api/stations?near=32,-80").status_code == 403
