"""The phone's tide on cosines whose answers are known: what it lists, to which moment it answers, and what it says beyond."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

pytestmark = pytest.mark.browser

YEAR_MS = int(datetime(2026, 1, 1, tzinfo=UTC).timestamp() * 1000)
HOUR_MS = 3_600_000
ASKED = """async ({ given, run }) => {
  const { openTide } = await import('/tides/predict.js');
  const tide = openTide(given);
  const tell = (work) => { try { return work(); } catch (error) { return String(error); } };
  return Function('tide', 'tell', 'from', 'to', `return ${run}`)(tide, tell, given.from_ms, given.to_ms);
}"""


def ask(page, run: str, speed_deg_per_h: float = 30.0, amplitude_m: float = 1.0, hours: float = 48, mean_m: float = 1.0):
    """One cosine that is high at the turn of the year, known for so many hours from noon of the second of January on."""
    start = YEAR_MS + 36 * HOUR_MS
    given = {
        "numbers": [{"year": 2026, "start_ms": YEAR_MS, "mean_level_m": mean_m, "amplitude_m": [amplitude_m], "speed_deg_per_h": [speed_deg_per_h], "phase_deg": [0]}],
        "offsets": None, "station": {"id": "x", "name": "Skein Bay", "chart_datum": "MLLW"}, "from_ms": start, "to_ms": int(start + hours * HOUR_MS),
        "is_estimated": False, "warnings": [],
    }  # fmt: skip
    return page.evaluate(ASKED, {"given": given, "run": run})


@pytest.mark.parametrize(("amplitude_m", "listed"), [(0.5, 16), (0.016, 16), (0.015, 0)])
def test_highs_and_lows_under_two_hours_apart_are_listed_from_a_tenth_of_a_foot_on(modules_page, amplitude_m: float, listed: int) -> None:
    """Of a cosine of 3 h a high is an hour and a half from a low: 16 in a day, both ends included 17; a tenth of a foot is 0.0305 m."""
    found = ask(modules_page, "tide.extremes(from, to - 1)", 120.0, amplitude_m, 24)
    assert len(found) == listed


def test_a_tide_of_twelve_hours_is_high_at_noon_and_midnight(modules_page) -> None:
    found = ask(modules_page, "tide.extremes(from, to)", hours=24)
    assert [((one["ms"] - YEAR_MS) / HOUR_MS, round(one["level_m"], 6), one["kind"]) for one in found] == [
        (36, 2, "high"), (42, 0, "low"), (48, 2, "high"), (54, 0, "low"), (60, 2, "high"),
    ]  # fmt: skip


def test_levels_and_crossings_are_those_of_the_cosine(modules_page) -> None:
    """1 + cos(30 t): half way at 3 and 9 h, three quarters of the way up 2 h from a high."""
    levels = ask(modules_page, "[0, 1, 2, 3, 6].map((h) => tide.levelAt(from + h * 3600e3))")
    assert levels == pytest.approx([2, 1.8660254, 1.5, 1, 0], abs=1e-6)
    curve = ask(modules_page, "tide.curve(from, from + 3600e3, 1800e3)")
    assert [(point["ms"] - YEAR_MS) / HOUR_MS for point in curve] == [36, 36.5, 37]
    crossings = ask(modules_page, "tide.crossings(1, from, from + 12 * 3600e3)")
    assert [(round((one["ms"] - YEAR_MS) / HOUR_MS, 4), one["rising"]) for one in crossings] == [(39, False), (45, True)]
    assert ask(modules_page, "tide.crossings(2.01, from, to)") == []


def test_a_crossing_at_either_end_belongs_to_the_span(modules_page) -> None:
    counts = ask(modules_page, "[[3, 9], [3.001, 9], [3, 8.999]].map(([a, b]) => tide.crossings(1, from + a * 3600e3 - (a === 3 ? 1000 : 0), from + b * 3600e3 + (b === 9 ? 1000 : 0)).length)")
    assert counts == [2, 1, 1]


def test_the_phone_answers_for_the_span_it_was_given_and_says_so_beyond(modules_page) -> None:
    inside = ask(modules_page, "[tell(() => tide.levelAt(from)), tell(() => tide.levelAt(to))]")
    assert inside == pytest.approx([2, 2])
    for run in ("tell(() => tide.levelAt(from - 1))", "tell(() => tide.levelAt(to + 1))", "tell(() => tide.extremes(from - 1, to))"):
        said = ask(modules_page, run)
        assert said == "RangeError: This phone has the tide of Skein Bay for 2026-01-02T12:00:00.000Z to 2026-01-04T12:00:00.000Z only."
