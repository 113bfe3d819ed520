"""The phone's windows are the server's: the same hand-worked cases, and the same answers on a real engine's curve."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fieldlog.tides.curve import Curve
from fieldlog.tides.phone import phone_numbers
from fieldlog.tides.station import Station
from fieldlog.windows.access import MARGIN, access_windows
from fieldlog.windows.constants import CONSTANTS
from fieldlog.windows.daylight import daylight, light_of, sun_columns
from fieldlog.windows.ranking import Ranked, ranked
from fieldlog.windows.rules import SiteRules
from windows.read_higher import shorten

pytestmark = pytest.mark.browser

STATIC = Path(__file__).parents[2] / "static"
ORIGIN = "http://phone.test"
TYPES = {".js": "text/javascript", ".html": "text/html"}

HAND_WORKED = """async (vectors) => {
  const { accessWindows, shorten, windowName } = await import('/tides/windows.js');
  const { backReason } = await import('/tides/turning.js');
  const startMs = Date.parse(vectors.start);
  const minute = (ms) => (ms === null ? null : (ms - startMs) / 60000);
  const told = (w) => ({
    low: minute(w.lowMs), low_level_m: w.lowM, opens: minute(w.opensMs), turn_back: minute(w.backMs), turn_back_word: w.backWord,
    closes: minute(w.closesMs), route_dries: minute(w.driesMs), leave_row: minute(w.leaveMs), usable_from: minute(w.fromMs), usable_until: minute(w.untilMs),
    usable_min: w.usableMin, daylight: w.daylight,
    stops: w.cautions.filter((c) => c.stops).map((c) => c.word),
    minds: w.cautions.filter((c) => !c.stops).map((c) => c.word),
  });
  const lineTide = (given) => {
    const points = given.tide.map(([at, level]) => ({ ms: startMs + at * 60000, level }));
    const extremes = points.flatMap(({ ms, level }, k) => {
      const others = [points[k - 1], points[k + 1]].filter(Boolean).map((p) => p.level);
      if (level > Math.max(...others)) return [{ ms, level_m: level, kind: 'high' }];
      return level < Math.min(...others) ? [{ ms, level_m: level, kind: 'low' }] : [];
    });
    const crossings = (m) => points.slice(1).flatMap((b, k) => {
      const a = points[k];
      if (a.level < m === b.level < m) return [];
      return [{ ms: a.ms + ((b.ms - a.ms) * (m - a.level)) / (b.level - a.level), rising: b.level > a.level }];
    });
    return { extremes: () => extremes, crossings, fromMs: points[0].ms, toMs: points.at(-1).ms,
      isEstimated: given.is_estimated ?? false, warnings: given.warnings ?? [], leftOutM: given.left_out_m ?? 0 };
  };
  const windowsOf = (given) => {
    const sun = (given.light ?? vectors.light).map(([a, b]) => ({ startsMs: startMs + a * 60000, endsMs: startMs + b * 60000 }));
    const [from, to] = given.span ?? [-10000, 10000];
    const rules = { ...vectors.rules, ...given.rules };
    const tide = lineTide(given);
    const windows = accessWindows(tide, rules, sun, startMs + from * 60000, startMs + to * 60000, given.bed_level_m ?? null);
    windows.forEach((one) => { one.reason = backReason(one.backWord, one.backMs, rules); });
    return { tide, rules, windows };
  };
  const cases = Object.fromEntries(vectors.cases.map((one) => [one.name, windowsOf(one).windows]));
  const { tide, rules, windows: [whole] } = windowsOf(vectors.shortened);
  return {
    cases: Object.fromEntries(Object.entries(cases).map(([name, windows]) => [name, windows.map(told)])),
    safe: Object.fromEntries(Object.entries(cases).map(([name, windows]) => [name, windows.map((w) => w.safe)])),
    shortened: vectors.shortened.cases.map((one) => told(shorten(whole, one.shift_m, tide, rules))),
    sentences: vectors.sentences.map((one) => cases[one.case].find((w) => minute(w.lowMs) === one.low)
      .cautions.find((c) => c.word === one.word).sentence),
    reasons: vectors.reasons.map((one) => cases[one.case].find((w) => minute(w.lowMs) === one.low).reason),
    names: vectors.names.map((one) => windowName(one.site_id, startMs + one.low * 60000)),
  };
}"""

ENGINE = """async ({ numbers, rules, sun, fromMs, toMs, beds, higherM }) => {
  const { openTide } = await import('/tides/predict.js');
  const { accessWindows, lightOf, shorten } = await import('/tides/windows.js');
  const { ranked } = await import('/tides/ranking.js');
  const tide = openTide(numbers);
  const began = performance.now();
  const windows = beds.map((bed) => accessWindows(tide, rules, lightOf(sun), fromMs, toMs, bed));
  const tookMs = performance.now() - began;
  return { windows, tookMs, ranks: ranked(windows[0], rules).map(({ window, points, score }) => ({ lowMs: window.lowMs, points, score })), shortened: windows[0].map((one) => shorten(one, higherM, tide, rules)) };
}"""

TURN_BACK = """async () => {
  const { nextWindow } = await import('/tides/windows.js');
  const { turnBackState } = await import('/tides/turning.js');
  const at = (minute) => Date.parse('2026-11-25T15:00:00Z') + minute * 60000;
  const open = { safe: true, fromMs: at(0), untilMs: at(90), backMs: at(90), backWord: 'work', closesMs: at(90) };
  const blocked = { safe: false, fromMs: null, untilMs: null, backMs: at(-200), backWord: 'light', closesMs: null };
  const later = { safe: true, fromMs: at(700), untilMs: at(790), backMs: null, backWord: null, closesMs: null };
  const nothing = { safe: false, fromMs: null, untilMs: null, backMs: null, backWord: null, closesMs: null };
  const all = [blocked, open, later];
  const rules = { zone: 'America/New_York', walk_out_min: 10, muster_min: 10 };
  return {
    next: [-600, 0, 89, 90, 790].map((minute) => all.indexOf(nextWindow(all, at(minute)))),
    states: [[open, 30], [open, 91], [blocked, -230], [nothing, 0]].map(([w, minute]) => turnBackState(w, at(minute), rules)),
  };
}"""


@pytest.fixture
def phone(modules_page):
    return modules_page


def test_every_hand_worked_case_comes_out_on_the_phone(phone, window_vectors: dict) -> None:
    got = phone.evaluate(HAND_WORKED, window_vectors)
    for case in window_vectors["cases"]:
        assert got["cases"][case["name"]] == case["want"], case["name"]
        assert got["safe"][case["name"]] == [not want["stops"] for want in case["want"]], case["name"]
    assert got["shortened"] == [case["want"] for case in window_vectors["shortened"]["cases"]]
    assert got["sentences"] == [case["sentence"] for case in window_vectors["sentences"]]
    assert got["reasons"] == [case["sentence"] for case in window_vectors["reasons"]]
    assert got["names"] == [case["name"] for case in window_vectors["names"]]


GOES_BY = """async ({ constants, told, light }) => {
  const { allowanceOf } = await import('/tides/windows.js');
  const { leavesHomeMs, walkMs } = await import('/tides/turning.js');
  const { extraMinutes } = await import('/views/shore.js');
  const { BEFORE_PACKS_SAID, constantsOf } = await import('/tides/constants.js');
  const { Pack } = await import('/store/packed.js');
  const of = (said) => {
    const site = { record_id: 's', zone: 'UTC', walk_out_min: 10, constants: said };
    return [allowanceOf(site), walkMs(site) / 60e3, -leavesHomeMs(0, site) / 60e3, extraMinutes(site, 20, 0).slowerMin];
  };
  const pack = new Pack();
  pack.sites = new Map([['s', { record_id: 's' }], ['old', { record_id: 'old' }]]);
  pack.content = { sites: { s: { constants, closures: [] }, old: { closures: [] } } };
  return { own: of(constants), told: of(told), before: of(undefined), null: of(null), kept: BEFORE_PACKS_SAID,
    packs: ['s', 'old'].map((id) => constantsOf(pack.rulesOf(id))) };
}"""


def test_the_numbers_of_the_rule_come_with_the_pack(phone, window_vectors: dict) -> None:
    told = {**CONSTANTS, "allowance_m": 0.35, "walk_out_factor": 2.0, "travel_min": 30.0}
    got = phone.evaluate(GOES_BY, {"constants": CONSTANTS, "told": told})
    assert got["own"] == [0.2, 15, 70, 15]
    assert got["told"] == [0.35, 20, 40, 20]
    assert got["packs"] == [CONSTANTS, got["kept"]], "a site's rules carry what its pack says"
    with_constants = {**window_vectors, "rules": {**window_vectors["rules"], "constants": CONSTANTS}}
    found = phone.evaluate(HAND_WORKED, with_constants)
    assert [found["cases"][case["name"]] for case in window_vectors["cases"]] == [case["want"] for case in window_vectors["cases"]]


def test_a_pack_that_does_not_say_them_is_read_by_what_its_server_went_by(phone) -> None:
    got = phone.evaluate(GOES_BY, {"constants": CONSTANTS, "told": CONSTANTS})
    assert got["before"] == got["null"] == [0.2, 15, 70, 15]
    assert got["kept"] == {
        "allowance_m": 0.2, "walk_out_factor": 1.5, "travel_min": 60, "reach_s": 86400, "join_s": 28800, "light_reach_s": 43200, "margin_s": 129600,
        "enough_min": 180, "enough_margin_m": 0.5, "points": {"minutes": 50, "margin": 20, "daylight": 20, "weekday": 10},
    }  # fmt: skip


def test_no_number_of_the_rule_stands_in_the_phones_modules() -> None:
    """They come with the pack; the only ones here are units of time."""
    for name in ("windows.js", "turning.js", "cautions.js", "ranking.js"):
        text = (STATIC / "tides" / name).read_text("utf-8")
        assert set(re.findall(r"^(?:export )?const ([A-Z_]+) = [-\d(]", text, re.MULTILINE)) <= {"MINUTE_MS", "DAY_MS"}, name
        assert re.findall(r"(?<![\w.])\d+\.\d+", text.replace("+ 0.5)", "")) == [], name


def test_a_site_that_sets_no_allowance_counts_with_20_cm_on_the_phone(phone, window_vectors: dict) -> None:
    """The cases worked by hand stand on 0.2 m, which is also what a site that says nothing gets."""
    unset = {**window_vectors, "rules": {**window_vectors["rules"], "allowance_m": None}}
    got = phone.evaluate(HAND_WORKED, unset)
    assert [got["cases"][case["name"]] for case in window_vectors["cases"]] == [case["want"] for case in window_vectors["cases"]]
    assert got["shortened"] == [case["want"] for case in window_vectors["shortened"]["cases"]]
    assert got["sentences"] == [case["sentence"] for case in window_vectors["sentences"]]


def test_the_time_to_turn_back_is_the_windows_and_says_why(phone) -> None:
    got = phone.evaluate(TURN_BACK)
    assert [state["reason"] for state in got["states"]] == [
        "the work area floods at 11:30", "the work area has been under water since 11:30", "last light is 06:55, and the walk in takes up to 15 min", None,
    ]  # fmt: skip
    assert got["next"] == [1, 1, 1, 2, -1]
    assert [state["leftMs"] for state in got["states"]] == [60 * 60_000, -60_000, 30 * 60_000, None]
    assert [state["sentence"] for state in got["states"]] == [
        "Turn back by 11:30: 60 min left.",
        "Turn back now: it was due at 11:30, 1 min ago.",
        "Turn back by 06:40: 30 min left.",
        "No turn-back time is known. Agree on one with your leader before anyone goes out.",
    ]


# An invented mixed tide; what it is does not matter, only that both sides make the same of it.
MIXED = Station(
    station_id="made-up", name="Skein Bay", lat_deg=41.2, lon_deg=-72.5, kind="harmonic", source="invented",
    chart_datum="MLLW", datums_m={"MLLW": 0.0, "MSL": 1.1},
    constituents=(("M2", 0.9, 110.0), ("S2", 0.25, 140.0), ("N2", 0.2, 90.0), ("K1", 0.5, 200.0), ("O1", 0.3, 180.0),
                  ("M4", 0.12, 30.0), ("SA", 0.08, 130.0)),
    offsets=None, reference=None, licence="", attribution="",
)  # fmt: skip
RULES = SiteRules("s-1", "America/New_York", 41.2, -72.5, 0.5, 0.9, 0.2, 12, 10, 90, 60, visit_weekday="weekend")


def test_a_season_over_new_year_is_the_same_on_both_sides(phone) -> None:
    start, end = datetime(2026, 11, 25, tzinfo=UTC), datetime(2027, 2, 23, tzinfo=UTC)
    curve = Curve.for_station(MIXED, start - MARGIN, end + MARGIN)
    days = daylight(RULES.lat_deg, RULES.lon_deg, RULES.zone, (start - timedelta(days=2)).date(), 94)
    got = phone.evaluate(ENGINE, {
        "numbers": phone_numbers(MIXED, start - MARGIN, end + MARGIN), "rules": {**vars(RULES)},
        "sun": sun_columns(days), "fromMs": start.timestamp() * 1000, "toMs": end.timestamp() * 1000,
        "beds": [None, 0.3, 1.2, 3.5], "higherM": 0.1,
    })  # fmt: skip
    for bed_level_m, theirs in zip([None, 0.3, 1.2, 3.5], got["windows"], strict=True):
        ours = access_windows(curve, RULES, light_of(days), start, end, bed_level_m)
        same(ours, theirs)
        if bed_level_m is None:
            same([shorten(window, 0.1, curve, RULES) for window in ours], got["shortened"])
            same_order(ranked(ours, RULES), got["ranks"])


def same_order(ours: list[Ranked], theirs: list[dict]) -> None:
    """The same points; a point may tip where minutes or millimetres do, and then places of equals with it."""
    assert len(ours) == len(theirs)
    by_low = {round(one["lowMs"] / 60_000): one for one in theirs}
    for one in ours:
        minute = round(one.window.low_at.timestamp() / 60)
        other = by_low.get(minute) or by_low.get(minute - 1) or by_low[minute + 1]
        assert all(abs(one.points[part] - other["points"][part]) <= 1 for part in one.points)
    scores = [one["score"] for one in theirs]
    assert scores == sorted(scores, reverse=True)


def same(ours: list, theirs: list[dict]) -> None:
    """
    Times within 20 s where the water sets them (levels agree to 1 mm, slow near a low), a minute where light does.

    A window at the edge of a rule (a low within 1 mm of the level, minutes at the least) may fall either way.
    """
    assert len(ours) == len(theirs)
    unlike = 0
    for one, other in zip(ours, theirs, strict=True):
        assert abs(one.low_at.timestamp() - other["lowMs"] / 1000) <= 20
        assert abs(round(1000 * one.low_level_m) - round(1000 * other["lowM"])) <= 1, "both in whole millimeters"
        if one.safe != other["safe"] or [c.word for c in one.cautions] != [c["word"] for c in other["cautions"]]:
            unlike += 1
            continue
        pairs = [(one.opens_at, "opensMs"), (one.closes_at, "closesMs"), (one.turn_back_at, "backMs"),
                 (one.usable_from, "fromMs"), (one.usable_until, "untilMs"), (one.route_dries_at, "driesMs"), (one.leave_row_at, "leaveMs")]  # fmt: skip
        for at, name in pairs:
            assert (at is None) == (other[name] is None), (one, other)
            assert at is None or abs(at.timestamp() - other[name] / 1000) <= 60, (name, one, other)
        assert abs(one.usable_min - other["usableMin"]) <= 2
        unlike += one.turn_back_word != other["backWord"]
    assert unlike <= len(ours) // 50
