"""The picture of a year: a line from full or new moon to the next, each low a bar at its hour."""

from __future__ import annotations

from datetime import date

import pytest

from fieldlog.windows.moon import moon_columns

pytestmark = pytest.mark.browser

DRAWN = """async ({ moons, fromDay, days }) => {
  const { linesOf, yearPicture } = await import('/views/year.js');
  const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const zeroMs = Date.parse(`${fromDay}T00:00:00Z`);
  const nowMs = zeroMs + 36 * 3600e3;
  const low = (day, hour, more = {}) => ({ lowMs: zeroMs + day * 86400e3 + hour * 3600e3, usableMin: 120, safe: true, cautions: [], ...more });
  const said = (word, usableMin) => ({ safe: false, usableMin, cautions: [{ word }] });
  const windows = [low(1, 6), low(2, 6), low(2, 18), low(3, 6, said('short', 20)), low(4, 6, said('closed', 120)), low(5, 6, said('dark', 0)), low(200, 6)];
  const root = document.createElement('div');
  const lines = linesOf({ moons, from_day: fromDay }, nowMs, days);
  render(yearPicture({ windows, lines, nowMs, zone: 'America/New_York', chosen: '2026-12-02', wide: false }), root);
  const count = (of) => root.querySelectorAll(`svg.year ${of}`).length;
  const places = [...root.querySelectorAll('svg.year rect.use')].map((one) => [Number(one.getAttribute('x')), Number(one.getAttribute('y'))]);
  return {
    lines: lines.map(({ moon, fromMs, toMs }) => [moon, (fromMs - zeroMs) / 60e3, (toMs - fromMs) / 86400e3]), places,
    counts: Object.fromEntries(['.use', '.past', '.short', '.shut', '.moon', '.moon-dark', '.now', '.chosen', '.dash'].map((of) => [of, count(of)])),
    label: root.querySelector('svg.year').getAttribute('aria-label').replace(/\\s+/g, ' '),
  };
}"""
FROM = date(2026, 11, 27)


def test_a_line_runs_from_moon_to_moon_and_bars_stand_at_their_low(modules_page) -> None:
    moons = moon_columns(FROM, 400)
    got = modules_page.evaluate(DRAWN, {"moons": moons, "fromDay": FROM.isoformat(), "days": 396})
    assert [(moon, begins) for moon, begins, _ in got["lines"]] == [(name, minute) for name, minute in moons if minute < (396 + 1.5) * 1440]
    assert all(13.8 < days < 15.7 for _, _, days in got["lines"][:-1])
    counts = got["counts"]
    assert (counts[".use"], counts[".past"], counts[".short"], counts[".shut"], counts[".now"], counts[".chosen"]) == (4, 1, 1, 1, 1, 1)
    assert counts[".moon"] + counts[".moon-dark"] == len(got["lines"])
    (first_x, first_y), (morning_x, morning_y), (evening_x, evening_y), _ = got["places"]
    assert evening_y == morning_y == first_y
    assert evening_x - morning_x == pytest.approx((morning_x - first_x) / 2, abs=0.2), "twelve hours are half of a day's width"
    assert got["label"] == (
        "The year from Nov 28, 2026 to Dec 29, 2027: 2 days have a usable low. The list of lows has the coming days in words."
    )


def test_a_pack_of_before_has_lines_of_fifteen_days(modules_page) -> None:
    got = modules_page.evaluate(DRAWN, {"moons": None, "fromDay": FROM.isoformat(), "days": 396})
    assert [days for _, _, days in got["lines"]] == [15] * 26 + [6]
    assert {moon for moon, _, _ in got["lines"]} == {None}
    assert (got["counts"][".moon"], got["counts"][".dash"], got["counts"][".use"]) == (0, 0, 3)
