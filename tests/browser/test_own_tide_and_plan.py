"""A lead brings a logger's record and takes its tide, plans the visit; a crew phone follows the plan without a network."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest
from made import beside, tide_of, times, weather
from playwright.sync_api import expect

from fieldlog.records.listed import item_rows
from fieldlog.records.visit_plan import VISIT_PLAN
from fieldlog.stations import find
from tests.browser.app_page import CALM_MS

pytestmark = pytest.mark.browser

RECORD_BEGINS = datetime(2026, 9, 20, tzinfo=UTC)


def record(days: float = 40) -> bytes:
    rng = np.random.default_rng(7)
    t = times(RECORD_BEGINS, days)
    return lines_of("level m", t, tide_of(beside(find("noaa/8670870"), rng), RECORD_BEGINS, days)(t) + weather(len(t), 360.0, 0.05, rng) + 2.1)


def lines_of(column: str, t: np.ndarray, values: np.ndarray) -> bytes:
    lines = [f"{datetime.fromtimestamp(at, UTC):%Y-%m-%d %H:%M},{value:.3f}" for at, value in zip(t, values, strict=True)]
    return "\n".join([f"time UTC,{column}", *lines]).encode()


def an_allowance_goes_with_its_tide(lead, shore, site) -> None:
    """From one of the record's tides to the reference port, and to another of the record's: it never gets smaller by that."""

    def kept() -> tuple[float, str | None]:
        lead.all_taken()
        return shore.programme.db().execute("SELECT allowance_m, allowance_basis FROM site").fetchone()

    def on_screen() -> None:
        lead.go("#/site-tide", "The tide at this site")
        lead.page.wait_for_timeout(CALM_MS)

    proposed_m, basis = kept()
    assert 0.2 < proposed_m < 0.45 and basis.startswith("meant for at most 1 low in 20. In simulated years,"), "it goes with the tide"
    on_screen()
    expect(lead.page.get_by_text("After a year of record, upload it again.").first).to_be_visible()
    made_of = lead.page.get_by_text("On 95 of 100 lows of this record the water was less than").first
    expect(made_of).to_be_hidden()
    lead.page.locator("summary", has_text="Details: by season").first.click()
    expect(made_of).to_be_visible()
    expect(made_of).to_contain_text("more is added because 40 days do not show a year")
    expect(lead.page.get_by_text("5 % of low tides")).to_have_count(0)
    lead.go(f"#/set-up/site/{site['record_id']}", site["name"])
    lead.fill("tide_station", "noaa/8670870")
    lead.save("Save")
    lead.sees("Site")
    assert kept()[0] == proposed_m and kept()[1].startswith("said of another tide: meant for"), "it says of which tide it was said"
    on_screen()
    lead.page.get_by_role("button", name="Use this tide").last.click()
    expect(lead.page.locator(".told")).to_contain_text("The site uses this tide")
    assert kept()[0] >= proposed_m, "a tide taken never makes the allowance smaller"
    on_screen()
    lead.page.locator("button:has-text('Use its allowance'):enabled").click()
    expect(lead.page.locator(".told")).to_contain_text("The allowance follows the record.")
    assert (kept()[1] or "").startswith("meant for")
    a_lead_types_another_with_a_reason(lead, kept, on_screen)
    lead.go(f"#/set-up/site/{site['record_id']}", site["name"])
    lead.fill("allowance_m", "0.18")
    lead.save("Save")
    expect(lead.page.get_by_text("Say where this allowance comes from, then save.")).to_be_visible()
    assert kept()[0] == 0.35, "nothing was saved without a reason"
    on_screen()
    lead.page.get_by_role("button", name="Use this tide").last.click()
    expect(lead.page.locator(".told")).to_contain_text("The site uses this tide")


def a_lead_types_another_with_a_reason(lead, kept, on_screen) -> None:
    on_screen()
    use = lead.page.get_by_role("button", name="Use this allowance")
    lead.page.locator("#another").fill("0,35")
    expect(use).to_be_disabled()
    lead.page.locator("#reason").fill("surge of last March at the pier")
    use.click()
    expect(lead.page.locator(".told")).to_contain_text("The allowance is 0.35 m now.")
    assert kept() == (0.35, "set by a lead: surge of last March at the pier")
    on_screen()
    expect(lead.page.get_by_text("set by a lead: surge of last March at the pier").first).to_be_visible()


def test_a_lead_brings_a_record_sees_how_it_is_read_and_takes_its_tide(joined, shore, site) -> None:
    lead = joined("lead", "Ruth Okafor-Lind")
    lead.go("#/set-up", "Set-up")
    lead.follow("The tide at this site")
    lead.sees("The tide at this site")
    before = shore.programme.db().execute("SELECT count(*) FROM water_record").fetchone()
    lead.page.set_input_files("#file-logger", {"name": "post D.csv", "mimeType": "text/csv", "buffer": record()})
    expect(lead.page.get_by_text("on the clock of")).to_be_visible()
    assert shore.programme.db().execute("SELECT count(*) FROM water_record").fetchone() == before == (0,)
    expect(lead.page.locator("#file-barometer, #n-salinity_psu")).to_have_count(0)
    lead.page.locator("#zone-logger").fill("Mars")
    lead.page.locator("#zone-logger").blur()
    expect(lead.page.get_by_text("The time zone 'Mars' is not known")).to_be_visible()
    lead.page.locator("#zone-logger").fill("UTC")
    lead.page.locator("#zone-logger").blur()
    expect(lead.page.get_by_text("The time zone 'Mars' is not known")).to_have_count(0)
    lead.tap("Store it and work it out")
    expect(lead.page.get_by_role("heading", name="The site’s own constants")).to_be_visible(timeout=60_000)
    expect(lead.page.get_by_text("storms of other seasons are not in it").first).to_be_visible()
    lead.page.wait_for_timeout(CALM_MS)
    lead.page.get_by_role("button", name="Use this tide").first.click()
    expect(lead.page.get_by_role("button", name="In use")).to_be_visible()
    lead.all_taken()
    an_allowance_goes_with_its_tide(lead, shore, site)
    lead.go("#/today", "Today")
    expect(lead.page.get_by_text(re.compile("Predicted for Alder Spit, own (offsets|constants)")).first).to_be_visible(timeout=15_000)
    station_id = shore.programme.db().execute("SELECT tide_station FROM site").fetchone()[0]
    assert station_id.startswith("own/")
    assert lead.faults == []


@pytest.mark.long
def test_a_pressure_logger_is_asked_for_its_air_and_its_water(joined, shore) -> None:
    t = times(RECORD_BEGINS, 12)
    rng = np.random.default_rng(7)
    level = tide_of(beside(find("noaa/8670870"), rng), RECORD_BEGINS, 12)(t) + 2.1
    air = 101.3 + weather(len(t), 360.0, 0.8, rng)
    lead = joined("lead", "Ruth Okafor-Lind")
    lead.go("#/site-tide", "The tide at this site")
    lead.page.set_input_files("#file-logger", {"name": "D.csv", "mimeType": "text/csv", "buffer": lines_of("abs pressure kPa", t, air + level * 10.05)})
    lead.page.locator("#n-salinity_psu").fill("28")
    lead.page.set_input_files("#file-barometer", {"name": "air.csv", "mimeType": "text/csv", "buffer": lines_of("air hPa", t[::5], 10 * air[::5])})
    expect(lead.page.get_by_text("on the clock of")).to_have_count(2)
    lead.tap("Store it and work it out")
    expect(lead.page.get_by_text("Air pressure is from the barometer: 576 readings.")).to_be_visible(timeout=60_000)
    expect(lead.page.get_by_text("Density of the water")).to_be_visible()
    assert lead.page.locator("#file-logger").input_value() == ""
    assert lead.faults == []


def test_a_planned_visit_is_followed_without_a_network_and_the_clock_tells_when_to_turn(joined, shore, site) -> None:
    lead = joined("lead", "Ruth Okafor-Lind")
    lead.go("#/plan", "Visit plan")
    lead.follow("Make a plan")
    lead.sees("Make a plan")
    lead.page.get_by_role("radio", name="2", exact=True).check(force=True)
    lead.page.get_by_role("radio", name="Yes", exact=True).check(force=True)
    lead.tap("Plan the visit")
    expect(lead.page.get_by_role("button", name="Use this plan")).to_be_visible(timeout=30_000)
    expect(lead.page.get_by_role("heading", name="Proposed")).to_be_focused()
    expect(lead.page.get_by_role("heading", name="Proposed")).to_be_in_viewport()
    lead.save("Use this plan")
    expect(lead.page.get_by_text("The plan goes to every phone")).to_be_visible()
    lead.all_taken()
    a_plans_lists_say_what_its_texts_say(shore)

    crew = joined("crew", "Zora Plover")
    crew.all_taken()
    crew.offline_ready()
    crew.offline(True)
    crew.go("#/visit", "Visit")
    crew.save("Start the visit")
    crew.sees("People")
    crew.page.wait_for_timeout(CALM_MS)
    crew.page.locator("button.row:has-text('sign in')").first.click()
    crew.go("#/units", "Units")
    expect(crew.page.get_by_role("heading", name="Plan, team 1")).to_be_visible()
    crew.page.get_by_role("radio", name="Team 2").check(force=True)
    expect(crew.page.get_by_role("heading", name="Plan, team 2")).to_be_visible()
    follow_the_list(crew, shore)
    crew.go("#/plan", "Visit plan")
    expect(crew.page.get_by_text("To bring")).to_be_visible()
    crew.go("#/turn-back", "Turn-back clock")
    expect(crew.page.get_by_role("timer")).to_contain_text("Turn back in")
    expect(crew.page.get_by_text("does not know about waves, fog, lightning, soft mud")).to_be_visible()
    at = crew.page.locator(".arm .at").inner_text()
    expect(crew.page.get_by_text("Alarm on this phone: sound and vibration")).to_be_visible()
    crew.tap("Alarm is on: tap to hear it")
    expect(crew.page.get_by_role("button", name="tap to hear it")).to_have_attribute("aria-pressed", "true")
    crew.go("#/visit", "Visit")
    crew.fill("observed_level_m", "1.4")
    crew.save("Save the level")
    crew.go("#/turn-back", "Turn-back clock")
    expect(crew.page.locator(".arm .at")).not_to_have_text(at)
    assert crew.faults == []


def a_plans_lists_say_what_its_texts_say(shore) -> None:
    """The record stands as the server proposed it: as lists, and for older apps as texts."""
    (row,) = shore.programme.db().query("SELECT * FROM visit_plan")
    for name, text in (("planned_stops", "stops"), ("left_out_stops", "left_out")):
        listed = VISIT_PLAN.lists[name]
        both = [item_rows(listed, name, {**row, text: None}), item_rows(listed, name, {**row, name: None})]
        ids = [sorted(one["stop_id"] for one in rows) for rows in both]
        assert row[name] is not None and ids[0] == ids[1]
        assert name == "left_out_stops" or len(ids[0]) > 3


def walked_without_a_plan(shore) -> list[str]:
    """The tags in the order in which a phone leads through them on a visit without a plan: the lowest row first, since it floods first."""
    in_order = """SELECT unit.tag FROM unit JOIN row ON row.record_id = unit.row_id
                  ORDER BY row.bed_level_m, row.order_number, unit.slot_number"""
    return [tag for (tag,) in shore.programme.db().execute(in_order).fetchall()]


def follow_the_list(crew, shore) -> None:
    """Team 2's list stop by stop: a check leads to the plan's next unit, a plot is done once it is read, the team is remembered."""
    listed = crew.page.locator("section", has=crew.page.get_by_role("heading", name="Plan, team 2"))
    rows = listed.locator(".row")
    before = rows.count()
    plots = listed.locator("a[href^='#/plots/']")
    order = [tag.inner_text() for tag in listed.locator("a.row[href^='#/units/'] .tag").all()]
    assert len(order) >= 3 and plots.count() >= 1 and before == len(order) + plots.count()
    walked = walked_without_a_plan(shore)
    assert [walked.index(after) - walked.index(tag) for tag, after in pairwise(order[:3])] != [1, 1], "the plan leads elsewhere than the rows do"
    listed.locator("a.row[href^='#/units/']").first.click()
    for tag, after in pairwise(order[:3]):
        crew.sees(tag)
        crew.fill("exposed_height_mm", 265)
        crew.save(re.compile("^Save, "))
        crew.sees(after)
    crew.go("#/units", "Units")
    expect(crew.page.get_by_role("heading", name="Plan, team 2")).to_be_visible()
    expect(rows).to_have_count(before - 2)
    crew.page.wait_for_timeout(CALM_MS)
    plots.first.click()
    crew.page.get_by_role("link", name="Read this stake").click()
    crew.page.locator(".stake input[inputmode]").fill("230")
    crew.page.wait_for_timeout(CALM_MS)
    crew.page.get_by_role("button", name="Save the reading").click()
    crew.sees("Units")
    expect(rows).to_have_count(before - 3)
    crew.page.reload()
    crew.sees("Units")
    expect(crew.page.get_by_role("heading", name="Plan, team 2")).to_be_visible()
    expect(rows).to_have_count(before - 3)


def test_a_screen_that_needs_the_server_says_so_without_one(joined) -> None:
    lead = joined("lead", "Ruth Okafor-Lind")
    lead.offline_ready()
    lead.offline(True)
    lead.go("#/site-tide", "Needs the server")
