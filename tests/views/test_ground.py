"""Ground has one time on every screen: the drawing's, the lists' and the windows' own, and says when it has flooded."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from views import stage_pack

pytestmark = pytest.mark.browser

MADE = """async ({ bedM, phasesMs, shiftM, nowMin, byMin = null }) => {
  const { accessWindows } = await import('/tides/windows.js');
  const { barOf, floodedWords, floodsAt } = await import('/views/floods.js');
  const { barsOf, ebb } = await import('/views/ebb.js');
  const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const period = 12.42 * 3600e3;
  const made = (zeroMs) => ({
    fromMs: zeroMs - 9 * period, toMs: zeroMs + 9 * period, warnings: [], isEstimated: false, station: { chart_datum: 'MLLW' },
    levelAt: (ms) => 1 - Math.cos(2 * Math.PI * (ms - zeroMs) / period),
    crossings: (level, from, to) => Array.from({ length: 13 }, (_, n) => n - 6).flatMap((n) => {
      const half = period * Math.acos(1 - level) / (2 * Math.PI);
      return [{ ms: zeroMs + n * period - half, rising: false }, { ms: zeroMs + n * period + half, rising: true }];
    }).filter(({ ms }) => from <= ms && ms <= to),
    extremes: () => Array.from({ length: 25 }, (_, n) => n - 12).map((n) =>
      ({ ms: Math.round(zeroMs + n * period / 2), level_m: n % 2 ? 2 : 0, kind: n % 2 ? 'high' : 'low' })),
  });
  const site = { zone: 'UTC', work_level_m: bedM, route_low_level_m: 0.9, allowance_m: 0.2, walk_out_min: 10, muster_min: 10, least_usable_min: 10 };
  const day = Date.UTC(2026, 5, 1, 12);
  const light = [{ startsMs: day - 99 * 3600e3, endsMs: day + 99 * 3600e3 }];
  const moved = byMin && ((window) => ({ driesMs: window.driesMs + byMin * 60e3, backMs: Date.UTC(2026, 5, 1, 14), backWord: 'path' }));
  const rows = [{ name: 'Row A', bedM }, { name: 'Row B', bedM: bedM + 0.2 }];
  return phasesMs.map((phase) => {
    const tide = made(day + phase);
    const lowMs = Math.round((day + phase) / 1000) * 1000;
    const nowMs = nowMin === null ? null : lowMs + nowMin * 60e3;
    const windowAt = (of) => accessWindows(tide, of, light, lowMs - 60e3, lowMs + 60e3)[0];
    const window = windowAt({ ...site, allowance_m: site.allowance_m + shiftM });
    const shore = { site, tide, light, shiftM, seenM: null, visit: { window_id: 'w', started_at: new Date(day).toISOString() }, windows: [{ ...windowAt(site), id: 'w' }] };
    const phone = { me: { site_id: 's' }, pack: () => ({ sites: { s: { windows: { levels: { a: { bed_level_m: bedM } } } } } }) };
    const place = document.createElement('div');
    const low = { lowMs, backMs: window.backMs, nowMs, zone: 'UTC', feet: false, wide: false, rows, window: moved ? { ...window, ...moved(window) } : null };
    render(ebb(shore, tide.levelAt, low), place);
    return {
      window: [window.opensMs, window.closesMs], dries: window.driesMs,
      bars: barsOf(shore, low).map(({ name, fromMs, untilMs }) => [name, fromMs, untilMs]),
      floods: floodsAt(phone, shore, ['a'], nowMs ?? lowMs).get('a'),
      texts: [...place.querySelectorAll('svg text')].map((one) => one.textContent.trim()),
      facts: [...place.querySelectorAll('li')].map((one) => one.textContent.trim()),
      under: place.querySelector('figure > p')?.textContent ?? '',
      flooded: floodedWords(shore, rows, nowMs ?? lowMs, 'UTC'),
    };
  });
}"""


@pytest.mark.parametrize("shift_m", [-0.1, 0.0, 0.15])
def test_drawing_list_and_window_tell_ground_in_the_same_minute(modules_page, shift_m: float) -> None:
    """A window's crossing is a whole second before it is a whole minute: the drawing and the list left that out, and were a minute off."""
    phases = [n * 997.3 for n in range(300)]
    for told in modules_page.evaluate(MADE, {"bedM": 0.6, "phasesMs": phases, "shiftM": shift_m, "nowMin": None}):
        path, row = told["bars"][0], next(bar for bar in told["bars"] if bar[0] == "Row A")
        assert row[1:] == told["window"]
        assert path[1] == told["dries"]
        assert told["floods"] == told["window"][1]


def test_ground_that_has_flooded_says_so_where_its_time_stands(modules_page) -> None:
    """By the cosine, ground at 0.4 m over low with the allowance floods 109 min after it, at 0.6 m 137 min, the path at 0.7 m 150 min."""
    (before,) = modules_page.evaluate(MADE, {"bedM": 0.6, "phasesMs": [0], "shiftM": 0, "nowMin": 100})
    assert {"13:49", "14:17", "14:30"} <= set(before["texts"])
    assert not any("since" in text for text in (*before["texts"], *before["facts"], before["flooded"], before["under"]))
    (since,) = modules_page.evaluate(MADE, {"bedM": 0.6, "phasesMs": [0], "shiftM": 0, "nowMin": 140})
    assert sum(bool(re.fullmatch("(under water )?since (13:49|14:17)", text)) for text in since["texts"]) == 2
    assert "14:30" in since["texts"], "the path is dry still"
    assert not {"13:49", "14:17"} & set(since["texts"])
    assert {"Row A under water since 13:49", "Row B under water since 14:17"} <= set(since["facts"])
    assert since["under"] == "Under water: Row A since 13:49, Row B since 14:17."
    assert since["flooded"] == "Row A since 13:49, Row B since 14:17"
    (all_of_it,) = modules_page.evaluate(MADE, {"bedM": 0.6, "phasesMs": [0], "shiftM": 0, "nowMin": 150})
    assert all_of_it["flooded"].endswith("the path since 14:30")


def test_the_drawing_has_the_paths_times_of_the_window_that_stands_beside_it(modules_page) -> None:
    """The server's numbers and the phone's may differ by the minute: 4 of 2,723 paths of a season dried at another one in the drawing."""
    (own, as_told) = [modules_page.evaluate(MADE, {"bedM": 0.6, "phasesMs": [0], "shiftM": 0, "nowMin": None, "byMin": by})[0] for by in (None, 1)]
    name, dries, floods = as_told["bars"][0]
    assert (name, dries - own["bars"][0][1]) == ("Path", 60_000)
    assert datetime.fromtimestamp(floods / 1000, UTC).strftime("%H:%M") == "14:25", "turning back at 14:00, 15 min of walking and 10 of gathering before"


def test_the_lows_listed_are_drawn_as_predicted_whatever_was_read_today(stage: str, browser) -> None:
    """A reading of this morning moved the bars of every low of the year, beside the times that it did not move."""
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{stage}#/low-tides")
    page.wait_for_selector("html[data-ready]")
    page.evaluate(f"stage.phone.write('visit', '{stage_pack.VISIT}', {{ observed_level_m: 1.9, observed_at: '{stage_pack.NOW}', level_datum: null }})")
    page.evaluate("location.hash = '#/today'")
    page.locator("h1", has_text="Today").wait_for()
    page.evaluate("location.hash = '#/low-tides'")
    page.locator("h1", has_text="Low tides").wait_for()
    low = page.locator("details.window").nth(3)
    low.locator("summary").first.click()
    drawn = low.locator("figure svg.draw").get_attribute("aria-label")
    dries = low.locator("dt", has_text="Path dry from").locator("xpath=following-sibling::dd[1]").inner_text()
    assert f"Path dry from {dries} to" in drawn
    assert "more as read" not in page.locator("main").inner_text()
    page.close()


REASONS = """async () => {
  const { backReason } = await import('/tides/turning.js');
  const rules = { zone: 'UTC', walk_out_min: 10, muster_min: 10, closures: [{ name: 'Tern nesting', from_day: '2026-06-01', to_day: '2026-06-30', every_year: false, stops: true }] };
  const backMs = Date.UTC(2026, 4, 31, 23, 45);
  return ['path', 'work', 'light', 'latest', 'closure', 'high'].map((word) => [0, 14, 15, 25].map((min) => backReason(word, backMs, rules, backMs - 60e3 + min * 60e3 + 60e3)));
}"""


def test_a_reason_that_has_come_to_pass_is_not_told_as_to_come(modules_page) -> None:
    path, work, light, latest, closure, high = modules_page.evaluate(REASONS)
    assert [text.startswith("the path floods at 00:10") for text in path] == [True, True, True, False]
    assert path[3] == "the path has been under water since 00:10, and gathering and walking in take up to 25 min"
    assert set(work) == {"the work area has been under water since 23:45"}
    assert light[1].startswith("last light is 00:00, and the walk in") and light[2].startswith("last light was 00:00, and the walk in")
    assert set(latest) == {"the site's latest time after low"}
    assert closure[1].startswith("Tern nesting begins at 00:00") and closure[2].startswith("Tern nesting began at 00:00, and the walk in")
    assert set(high) == {"the next high was at 23:45"}
