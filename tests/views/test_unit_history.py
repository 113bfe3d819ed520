"""A unit's history over all years: what is drawn of its measures and positions, and the same in words."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from tests.screen_checks import words_in
from views import stage_pack
from views.stage_server import block_photo

pytestmark = pytest.mark.browser

MEASURED = """async ({ checks, events = [], site = {}, now }) => {
  const { measuredOf } = await import('/views/measure-series.js');
  const { seriesWords } = await import('/views/measure-charts.js');
  const titles = { exposed_height_mm: 'Exposed height', tilt_deg: 'Tilt', crest_level_mm: 'Crest level' };
  const told = (name) => (titles[name] ? { title: titles[name], unit: name === 'tilt_deg' ? '\\u00b0' : 'mm' } : null);
  const measured = measuredOf({ checks, events, design: { height_mm: 450 }, site }, told, Date.parse(now));
  if (!measured) return null;
  const day = (ms) => new Date(ms).toISOString().slice(0, 10);
  return {
    from: day(measured.fromMs), to: day(measured.toMs), looks: measured.looks.map(day), missed: measured.missed.map(day), unread: measured.unread,
    series: Object.fromEntries(measured.series.map((each) => [each.field, {
      pieces: each.pieces.map((piece) => piece.map(({ value }) => value)), gaps: each.gaps.map(({ fromMs, toMs }) => [day(fromMs), day(toMs)]),
      limit: each.limit?.value ?? null, words: seriesWords(each, 'UTC'),
    }])),
  };
}"""


def check(day: str, height: float | None = None, **more: Any) -> dict[str, Any]:
    return {"checked_at": f"{day}T12:00:00Z", "found_state": "seen", "exposed_height_mm": height, **more}


def event(day: str, name: str) -> dict[str, str]:
    return {"event_at": f"{day}T12:00:00Z", "event": name}


def measured(page: Page, *checks: dict, events: tuple[dict, ...] = (), now: str = "2026-06-20T00:00:00Z", **site: Any) -> Any:
    return page.evaluate(MEASURED, {"checks": checks, "events": events, "site": {"check_every_days": 30, **site}, "now": now})


def test_a_line_joins_readings_in_order_of_time(modules_page: Page) -> None:
    got = measured(modules_page, check("2026-06-01", 390, tilt_deg=5), check("2026-04-20", 400), check("2026-05-10", 395))
    height = got["series"]["exposed_height_mm"]
    assert (height["pieces"], height["gaps"], height["limit"]) == ([[400, 395, 390]], [], 450)
    assert height["words"] == "Exposed height: 3 readings, Apr 20, 2026 to Jun 1, 2026: 390 mm to 400 mm, first 400 mm, last 390 mm."
    assert got["series"]["tilt_deg"]["words"] == "Tilt: read once, 5\u00b0 on Jun 1, 2026."
    assert got["series"]["tilt_deg"]["limit"] == 15, "our own proposal where a site sets no limit"
    assert (got["from"], got["to"], got["unread"]) == ("2026-04-20", "2026-06-20", ["Crest level"])


def test_a_gap_is_a_gap_also_up_to_now(modules_page: Page) -> None:
    """At least one check of the site's interval is missing: more than one and a half times that, our own proposal."""
    days = ("2026-01-01", "2026-02-10", "2026-05-01")
    height = measured(modules_page, *(check(day, 400) for day in days))["series"]["exposed_height_mm"]
    assert height["pieces"] == [[400, 400], [400]]
    assert height["gaps"] == [["2026-02-10", "2026-05-01"], ["2026-05-01", "2026-06-20"]]
    assert height["words"].endswith("2 gaps; the longest: no reading between Feb 10, 2026 and May 1, 2026.")
    last = measured(modules_page, check("2026-02-10", 400), check("2026-01-15", 400))["series"]["exposed_height_mm"]
    assert last["words"].endswith("always 400 mm, first 400 mm, last 400 mm. Not read since Feb 10, 2026.")
    retired = measured(modules_page, check("2026-01-01", 400), check("2026-02-01", 400), events=(event("2026-02-02", "retired"),))
    assert (retired["to"], retired["series"]["exposed_height_mm"]["gaps"]) == ("2026-02-02", []), "nobody reads what was taken out of use"


def test_a_line_ends_where_a_unit_was_set_anew_or_searched_in_vain(modules_page: Page) -> None:
    days = ("2026-04-01", "2026-04-15", "2026-05-01", "2026-05-15")
    checks = [check(day, 400 - n) for n, day in enumerate(days)]
    anew = measured(modules_page, *checks, events=(event("2026-04-20", "righted"), event("2026-05-05", "cleaned")))
    assert anew["series"]["exposed_height_mm"]["pieces"] == [[400, 399], [398, 397]]
    alone = measured(modules_page, *checks[:3], check("2026-05-15", 397, time_known=False), events=({**event("2026-05-15", "righted"), "event_at": "2026-05-15T09:00:00Z"},))
    assert alone["series"]["exposed_height_mm"]["pieces"] == [[400, 399, 398, 397]], "of a day alone nobody knows that it came after"
    vain = measured(modules_page, *checks, check("2026-05-10", found_state="not_found_dry"), check("2026-04-05", found_state="not_visited"))
    assert (vain["series"]["exposed_height_mm"]["pieces"], vain["missed"]) == ([[400, 399, 398], [397]], ["2026-05-10"])


def test_a_mere_look_reads_nothing_and_a_crest_is_compared_above_one_mark_only(modules_page: Page) -> None:
    crests = [check(f"2026-05-{day}", crest_level_mm=1060 - day, crest_datum=mark) for day, mark in ((10, "M1"), (15, "M1"), (20, "M2"))]
    got = measured(modules_page, *crests, check("2026-05-25", 400, looked_only=True), {**check("2026-05-26", 1), "checked_at": None})
    assert got["series"]["crest_level_mm"]["pieces"] == [[1050, 1045], [1040]]
    assert (list(got["series"]), got["looks"]) == (["crest_level_mm"], ["2026-05-25"])
    assert measured(modules_page) is None


def test_an_axis_holds_its_values_in_round_steps(modules_page: Page) -> None:
    many = [[400], [0], [0, 0], [-0.2, 0.3], [390, 450], [3, 19, 15], [1011.4, 1060], [-5, -4.999], [0.001, 0.0012], [449.9, 450.1], [0, 3000], [99, 101]]
    scales = modules_page.evaluate("async (many) => { const { scaleOf } = await import('/views/measure-charts.js'); return many.map(scaleOf); }", many)
    for values, scale in zip(many, scales, strict=True):
        assert scale["lo"] <= min(values) + 1e-9 and max(values) <= scale["hi"] + 1e-9, values
        assert scale["count"] in (2, 3) and scale["hi"] - scale["lo"] == pytest.approx(scale["count"] * scale["step"])
        assert f"{scale['step']:.3e}"[0] in "125", values


@pytest.mark.parametrize("days", [1, 20, 100, 400, 1500, 3700, 20_000])
def test_years_and_months_of_an_axis_have_room(modules_page: Page, days: int) -> None:
    ticks = modules_page.evaluate(
        """async (days) => {
          const { ticksOf } = await import('/views/measure-charts.js');
          const fromMs = Date.parse('2016-03-05T15:00:00Z');
          const toMs = fromMs + days * 86400e3;
          return ticksOf({ fromMs, toMs }, 358, 'UTC').filter(({ words }) => words).map(({ ms, words }) => [(ms - fromMs) / (toMs - fromMs) * 302, words]);
        }""",
        days,
    )
    places = [at for at, _ in ticks]
    assert all(0 <= at <= 302 for at in places)
    assert all(after - before >= 30 for before, after in pairwise(places))
    assert len(ticks) >= (1 if days > 366 else 0)


PLAN = """async ({ fixes, marks, planned, azimuthDeg, verdict, leastShiftM }) => {
  const { planOf, planDrawn, planWords } = await import('/views/position-plan.js');
  const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const plan = planOf({ fixes, marks, planned, azimuthDeg, leastShiftM, events: [{ event: 'placed', event_at: '2025-01-01T00:00:00Z' }], surveyOf: (fix) => fix.fixed_at.slice(0, 10) });
  if (!plan) return null;
  const root = document.createElement('div');
  render(planDrawn(plan, { zone: 'UTC', feet: false, verdict }), root);
  const all = (of, names) => [...root.querySelectorAll(`svg[role=img] ${of}`)].map((one) => Object.fromEntries(names.map((name) => [name, one.getAttribute(name)])));
  return {
    words: planWords(plan, { zone: 'UTC', feet: false }), label: root.querySelector('svg').getAttribute('aria-label'), dots: all('circle.was, circle.place', ['cx', 'cy']),
    ellipses: all('ellipse', ['rx', 'ry', 'transform']), circle: all('circle.dash', ['cx', 'cy', 'r']), arrows: all('.look-line', ['class']),
    planned: all('.planned', ['d']).length, north: root.querySelector('svg g').getAttribute('transform'), bar: [...root.querySelectorAll('svg text')].at(-1).textContent,
    barPx: Number(root.querySelectorAll('svg .ink-line')[1].getAttribute('d').match(/h([\\d.]+)v/)[1]),
  };
}"""


def typed(day: str, east_m: float, north_m: float, **more: Any) -> dict[str, Any]:
    return {"record_id": day, "fixed_at": f"{day}T12:00:00Z", "method": "typed", "east_m": east_m, "north_m": north_m, "sigma_m": 0.02, **more}


def plan(page: Page, *fixes: dict[str, Any], **more: Any) -> Any:
    usual = {"marks": [], "planned": None, "azimuthDeg": 24, "verdict": None, "leastShiftM": 0.125}
    return page.evaluate(PLAN, {"fixes": fixes, **usual, **more})


def test_a_plan_is_to_scale_and_says_the_same_in_words(modules_page: Page) -> None:
    got = plan(modules_page, typed("2025-07-02", 4, 6), typed("2026-01-05", 4.02, 6), typed("2026-06-02", 4.3, 6.4), verdict="moved", planned={"east_m": 4.1, "north_m": 6})
    first, _, last = [(float(dot["cx"]), float(dot["cy"])) for dot in got["dots"]]
    east_px, north_px = last[0] - first[0], first[1] - last[1]
    assert east_px / north_px == pytest.approx(0.3 / 0.4, abs=0.01)
    assert float(got["circle"][0]["r"]) / math.hypot(east_px, north_px) == pytest.approx(0.125 / 0.5, abs=0.01)
    assert (float(got["circle"][0]["cx"]), float(got["circle"][0]["cy"])) == first
    metres = float(got["bar"].split()[0])
    assert got["barPx"] / metres == pytest.approx(math.hypot(east_px, north_px) / 0.5, rel=0.01)
    assert got["north"].endswith("rotate(-24.0)") and got["planned"] == 1
    assert [arrow["class"] for arrow in got["arrows"]] == ["look-line moved", "look-line"]
    # East 0.3, north 0.4 lies 36.87 degrees from the grid's north, which points to 24: 60.87 is nearest to north-east.
    assert got["words"] == got["label"] == (
        "Measured on Jun 2, 2026 0.50 m north-east of where it was on Jul 2, 2025. 1 position between. The least shift that matters here is 0.13 m."
    )


def test_a_plan_of_tapes_turns_its_ellipse_as_the_covariance_lies(modules_page: Page) -> None:
    """The long axis is the first eigenvector of (A'WA)^-1 and 2.4477 sigmas long (chi-square, two degrees of freedom, 95 %), worked out by numpy."""
    marks = [{"record_id": "m1", "label": "M1", "east_m": 0, "north_m": 0, "sigma_m": 0.01}, {"record_id": "m2", "label": "M2", "east_m": 8, "north_m": 3, "sigma_m": 0.01}]
    place = np.array([5.0, 9.0])
    at = [np.array([mark["east_m"], mark["north_m"]], dtype=float) for mark in marks]
    tapes = {f"{name}_{n}_{unit}": value for n, mark in enumerate(marks, 1) for name, unit, value in (("mark", "id", mark["record_id"]), ("range", "m", float(np.linalg.norm(place - at[n - 1]))))}
    fix = {"record_id": "f", "fixed_at": "2026-01-01T12:00:00Z", "method": "tapes", "tape_sigma_m": 0.1, **tapes}
    (ellipse,) = plan(modules_page, fix, marks=marks, planned={"east_m": 5, "north_m": 9})["ellipses"]
    design = np.array([(place - one) / np.linalg.norm(place - one) for one in at])
    variances, axes = np.linalg.eigh(np.linalg.inv(design.T @ design / 0.1**2))
    east, north = axes[:, 1]
    turned = float(ellipse["transform"].split("(")[1].split()[0])
    # A drawing turns clockwise since its y runs down: a long axis to the north-east is turned back from the east.
    assert math.sin(math.radians(turned) + math.atan2(north, east)) == pytest.approx(0, abs=0.01)
    assert float(ellipse["rx"]) / float(ellipse["ry"]) == pytest.approx(math.sqrt(variances[1] / variances[0]), rel=0.02)


def test_a_plan_of_one_place_asks_for_a_second_and_of_none_is_none(modules_page: Page) -> None:
    one = plan(modules_page, typed("2024-07-02", 1, 1), typed("2025-07-02", 4, 6))
    assert one["words"] == "One position since it was placed, on Jul 2, 2025. A second one is needed to see a movement. The least shift that matters here is 0.13 m."
    assert (len(one["dots"]), len(one["circle"]), one["arrows"]) == (1, 1, [])
    again = plan(modules_page, typed("2025-07-02", 4, 6), typed("2026-07-02", 4.2, 6), verdict="again", planned={"east_m": 90, "north_m": 6})
    assert [arrow["class"] for arrow in again["arrows"]] == ["look-line again", "look-line"]
    assert again["planned"] == 0, "a planned place far off would make dots of all else"
    assert plan(modules_page, typed("2025-07-02", 4, 6, method="phone_gnss")) is None
    same = plan(modules_page, typed("2025-07-02", 4, 6), typed("2026-07-02", 4, 6.001))
    assert same["words"].startswith("Measured on Jul 2, 2026 0.00 m from where it was on Jul 2, 2025. The least")


SETTLED = """async ({ flag, story, role }) => {
  const { settledWords } = await import('/views/unit-story.js');
  return settledWords(flag, { ...story, nameOf: (record) => (role === 'reader' ? '' : record.by) }, (at) => at.slice(0, 10));
}"""


def test_a_flag_says_who_settled_it_and_a_reader_is_told_no_name(modules_page: Page) -> None:
    story = {
        "events": [], "flags": [], "onBoard": None,
        "decisions": [{"record_id": "d", "flag_id": "f", "decided_at": "2026-05-02T10:00:00Z", "reason": "old chip", "by": "Ines Calder"}],
        "observations": [{"record_id": "c", "checked_at": "x", "by": "Sam Petrel"}, {"record_id": "p", "fixed_at": "x", "by": "Noor Halim"}],
    }  # fmt: skip

    def said(state: str, by: str | None, role: str = "crew", **more: str) -> str:
        flag = {"flag_id": "f", "state": state, "settled_by": by, "settled_at": "2026-05-01T10:00:00Z", **more}
        return modules_page.evaluate(SETTLED, {"flag": flag, "story": story, "role": role})

    assert said("open", None) == ""
    assert said("accepted", "d", settled_reason="old chip") == "Accepted as it is 2026-05-02 by Ines Calder: old chip"
    assert said("settled", "d", "reader", settled_reason="old chip") == "Settled 2026-05-02 by a lead: old chip"
    assert said("settled", "c", settled_reason="looked at again: 4\u00b0.") == "Settled 2026-05-01 by the check of Sam Petrel. Looked at again: 4\u00b0."
    assert said("settled", "p") == "Settled 2026-05-01 by the measurement of Noor Halim."
    assert said("settled", "c", "reader") == "Settled 2026-05-01 by a later check."
    assert said("settled", "elsewhere") == "Settled 2026-05-01."
    assert said("accepted", "elsewhere", settled_reason="old chip") == "Accepted as it is 2026-05-01 by a lead: Old chip"


HISTORY = f"#/units/{stage_pack.unit_id(18)}"
EARLIER_FLAG = {
    "flag_id": "7" * 32, "rule": "leaning", "title": "Leaning", "severity": "look", "subject": {"kind": "unit", "id": stage_pack.unit_id(18)},
    "sentence": "B075: leaning 19\u00b0 (flagged from 15\u00b0).", "evidence": {}, "raised_at": "2023-06-01T10:00:00Z", "state": "settled",
    "settled_at": "2023-07-20T10:00:00Z", "settled_by": "elsewhere", "settled_reason": "Set upright.",
}  # fmt: skip


@pytest.mark.parametrize("role", ["lead", "reader"])
def test_ten_years_of_a_unit_stand_on_its_page(one_page: Page, stage: str, role: str) -> None:
    page = one_page
    page.goto("about:blank")
    page.goto(f"{stage}?years&role={role}{HISTORY}")
    page.wait_for_selector("html[data-ready]")
    # Photos come last: the oldest first, two of them beside each other, each with its day.
    strip = page.locator(".strip [role=listitem]")
    expect(strip).to_have_count(6)
    days = [words_in(one) for one in strip.all()]
    assert [int(day[-4:]) for day in days] == sorted(int(day[-4:]) for day in days) and days[0].endswith("2017")
    pair = page.locator(".beside-photos figure")
    assert [pair.nth(n).locator("select").evaluate("one => one.selectedOptions[0].textContent.replace('\u00a0', ' ')") for n in (0, 1)] == [days[0], days[-1]]
    pair.nth(1).locator("select").select_option(label=days[2].replace(" ", "\u00a0", 1))
    expect(pair.nth(1).locator("img")).to_have_attribute("alt", f"From the north mark, {days[2]}")
    # The flag whose sentence stands at the top is not said a second time.
    assert words_in(page.locator("main")).count("B075: moved 0.32 m east") == 1
    told = words_in(page.locator("section", has=page.get_by_role("heading", name="What happened")))
    assert ("by Ines Calder: The chip is old" in told, "by a lead: The chip is old" in told) == (role == "lead", role == "reader")
    assert told.index("Flag: damaged") < told.index("Cleaned") < told.index("Set upright") < told.index("Placed")
    # Each chart's values stand below it once they are asked for.
    first = page.locator("figure.chart details").first
    assert first.locator("dt").count() == 0
    first.locator("summary").click()
    expect(first.locator("dt")).to_have_count(int(re.match(r"(\d+) readings", words_in(first.locator("summary")))[1]))


def test_photos_and_flags_that_are_not_here_say_so_and_come_with_a_network(one_page: Page, stage: str) -> None:
    page = one_page
    comes = {"photos": False, "flags": False}
    page.route("**/api/photos/*", lambda route: route.fulfill(body=block_photo(), content_type="image/png") if comes["photos"] else route.abort())
    page.goto("about:blank")
    page.goto(f"{stage}?years{HISTORY}")
    page.wait_for_selector("html[data-ready]")
    page.evaluate("() => { stage.phone.photoUrl = async (sha256) => `/api/photos/${sha256}`; }")
    # A fresh screen reads its photos anew.
    page.evaluate("location.hash = '#/units'")
    expect(page.get_by_role("heading", level=1, name="Units")).to_be_visible()
    page.evaluate(f"location.hash = '{HISTORY}'")
    page.locator(".strip").scroll_into_view_if_needed()
    fetch = page.get_by_role("button", name="Get the photos that are not here")
    expect(fetch).to_be_visible()
    expect(page.locator(".beside-photos .none").first).to_have_text(re.compile("not on this phone"))
    comes["photos"] = True
    fetch.click()
    expect(page.locator(".beside-photos img")).to_have_count(2)
    older = page.get_by_role("button", name="Get flags settled over 30 days ago")
    page.evaluate("() => { stage.phone.api = async () => { throw Object.assign(new Error('no'), { sentence: 'No network: nothing was fetched.' }); }; }")
    older.click()
    expect(page.locator(".told")).to_contain_text("No network: nothing was fetched.")
    page.evaluate("flag => { stage.phone.api = async (method, path) => { window.asked = [method, path]; return { flags: [flag] }; }; }", EARLIER_FLAG)
    older.click()
    expect(page.get_by_text("Settled Jul 20, 2023. Set upright.")).to_be_visible()
    assert page.evaluate("window.asked") == ["GET", f"/api/pack/sites/{stage_pack.SITE_ID}/units/{stage_pack.unit_id(18)}/flags"]
    expect(older).to_have_count(0)
    page.unroute("**/api/photos/*")
