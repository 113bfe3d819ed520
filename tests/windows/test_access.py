"""Opens, turn back, closes, usable minutes and reasons, on tides whose answers are known."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fieldlog.windows.access import Window, access_windows, window_name
from fieldlog.windows.daylight import Light
from fieldlog.windows.rules import Closure, SiteRules
from windows.drawn_tides import CosineTide, LineTide
from windows.plain_rule import plain_windows
from windows.read_higher import shorten

MINUTE = timedelta(minutes=1)
LOW = datetime(2026, 6, 1, 15, 0, tzinfo=UTC)
ALL_LIGHT = [Light(0, 2**40)]
WIDE = (LOW - timedelta(days=30), LOW + timedelta(days=30))


def rules(**changes: object) -> SiteRules:
    usual = {
        "site_id": "site-1", "zone": "America/New_York", "lat_deg": 41.0, "lon_deg": -72.0, "work_level_m": 0.5,
        "route_low_level_m": 0.8, "allowance_m": 0.0, "walk_out_min": 10, "muster_min": 10,
        "latest_after_low_min": None, "least_usable_min": 60,
    }  # fmt: skip
    closures = [one if isinstance(one, Closure) else closure(one) for one in changes.pop("closures", ())]
    return SiteRules(**{**usual, **changes, "closures": tuple(closures)})


def closure(said: dict) -> Closure:
    return Closure(**{**said, "from_day": date.fromisoformat(said["from_day"]), "to_day": date.fromisoformat(said["to_day"])})


class Case:
    """One hand-worked case, and its windows in the words of the vector file."""

    def __init__(self, vectors: dict, case: dict) -> None:
        self.start = datetime.fromisoformat(vectors["start"])
        self.tide = LineTide(
            self.start, case["tide"], case.get("is_estimated", False), tuple(case.get("warnings", ())), case.get("left_out_m", 0.0)
        )
        self.rules = rules(**{**vectors["rules"], **case.get("rules", {})})
        starts_s = int(self.start.timestamp())
        light = case.get("light", vectors["light"])
        self.light = [Light(starts_s + a * 60, starts_s + b * 60) for a, b in light]
        self.span = [self.start + minute * MINUTE for minute in case.get("span", (-10_000, 10_000))]
        self.bed_level_m = case.get("bed_level_m")

    def windows(self) -> list[Window]:
        return access_windows(self.tide, self.rules, self.light, *self.span, self.bed_level_m)

    def told(self, window: Window) -> dict:
        def minute(at: datetime | None) -> float | None:
            return None if at is None else (at - self.start) / MINUTE

        return {
            "low": minute(window.low_at), "low_level_m": window.low_level_m, "opens": minute(window.opens_at),
            "turn_back": minute(window.turn_back_at), "turn_back_word": window.turn_back_word, "closes": minute(window.closes_at),
            "route_dries": minute(window.route_dries_at), "leave_row": minute(window.leave_row_at),
            "usable_from": minute(window.usable_from), "usable_until": minute(window.usable_until),
            "usable_min": window.usable_min, "daylight": window.daylight,
            "stops": [c.word for c in window.cautions if c.stops],
            "minds": [c.word for c in window.cautions if not c.stops],
        }  # fmt: skip


def test_every_hand_worked_case_comes_out(window_vectors: dict) -> None:
    for case in window_vectors["cases"]:
        made = Case(window_vectors, case)
        windows = made.windows()
        assert [made.told(w) for w in windows] == case["want"], case["name"]
        assert [w.safe for w in windows] == [not want["stops"] for want in case["want"]], case["name"]


def test_every_hand_worked_case_comes_out_of_the_plain_rule_too(window_vectors: dict) -> None:
    for case in window_vectors["cases"]:
        made = Case(window_vectors, case)
        bed_m = made.rules.work_level_m if made.bed_level_m is None else made.bed_level_m
        found = plain_windows(made.tide, made.rules, made.light, *made.span, bed_m)
        assert [one.safe for one in found] == [not want["stops"] for want in case["want"]], case["name"]
        told = {"usable_min": "usable_min", "turn_back_word": "back_word", "daylight": "daylight"}
        for name, ours in told.items():
            assert [getattr(one, ours) for one in found] == [want[name] for want in case["want"]], (case["name"], name)
        for name, ours in (("opens", "opens_s"), ("turn_back", "back_s"), ("closes", "closes_s"), ("usable_from", "from_s"), ("usable_until", "until_s")):
            minutes = [None if at is None else (at - made.start.timestamp()) / 60 for at in (getattr(one, ours) for one in found)]
            assert minutes == [want[name] for want in case["want"]], (case["name"], name)


def test_the_reason_to_turn_back_is_told_in_words(window_vectors: dict) -> None:
    cases = {case["name"]: case for case in window_vectors["cases"]}
    for want in window_vectors["reasons"]:
        made = Case(window_vectors, cases[want["case"]])
        window = next(w for w in made.windows() if made.told(w)["low"] == want["low"])
        assert window.turn_back_reason == want["sentence"], want["case"]


def test_water_seen_higher_shortens_and_lower_changes_nothing(window_vectors: dict) -> None:
    for case in window_vectors["shortened"]["cases"]:
        made = Case(window_vectors, window_vectors["shortened"])
        (window,) = made.windows()
        shorter = shorten(window, case["shift_m"], made.tide, made.rules)
        assert made.told(shorter) == case["want"], case["name"]
        assert shorter.window_id == window.window_id


def test_the_reason_is_a_sentence_with_its_numbers(window_vectors: dict) -> None:
    cases = {case["name"]: case for case in window_vectors["cases"]}
    for want in window_vectors["sentences"]:
        made = Case(window_vectors, cases[want["case"]])
        window = next(w for w in made.windows() if made.told(w)["low"] == want["low"])
        assert {c.word: c.sentence for c in window.cautions}[want["word"]] == want["sentence"]


def test_a_window_is_named_by_its_site_and_the_hour_of_its_low(window_vectors: dict) -> None:
    start = datetime.fromisoformat(window_vectors["start"])
    for case in window_vectors["names"]:
        assert window_name(case["site_id"], start + case["low"] * MINUTE) == case["name"]


# Identities of a cosine of period 12.42 h and range R, recomputed: time under a level z above low is
# T / pi * acos(1 - 2 z / R); a sill of 0.6 m floods T / (2 pi) * acos(1 - 1.2 / R) after low.
@pytest.mark.parametrize(
    ("range_m", "above_low_m", "hours"), [(2.0, 0.5, 4.140), (2.0, 0.3, 3.145), (1.5, 0.5, 4.866)]
)
def test_the_time_below_a_level_is_that_of_a_cosine(range_m: float, above_low_m: float, hours: float) -> None:
    tide = CosineTide(LOW, range_m)
    (window,) = access_windows(tide, rules(work_level_m=above_low_m), ALL_LIGHT, *WIDE)
    # Whole minutes, turned inward: the hours are given to 3.6 s.
    half = timedelta(hours=hours / 2)
    for at, exact in ((window.closes_at, LOW + half), (LOW - (window.opens_at - LOW), LOW + half)):
        assert timedelta(seconds=-4) < exact - at < MINUTE + timedelta(seconds=4)


@pytest.mark.parametrize(
    ("higher_m", "walk_out_min", "minutes"), [(0.0, 0, 137.5), (0.2, 0, 110.0), (0.2, 15, 87.5)]
)
def test_a_sill_of_60_cm_sends_people_back_as_the_cosine_says(
    higher_m: float, walk_out_min: float, minutes: float
) -> None:
    asked = rules(work_level_m=1.5, route_low_level_m=0.6, allowance_m=higher_m, walk_out_min=walk_out_min, muster_min=0)
    (window,) = access_windows(CosineTide(LOW, 2.0), asked, ALL_LIGHT, *WIDE)
    # The identities are given to half a minute: 2 h 17.5 min, 1 h 50.0 min, 1 h 27.5 min after low; then turned down.
    assert minutes - 2 < (window.turn_back_at - LOW) / MINUTE <= minutes + 0.5


def test_a_level_read_on_the_shore_costs_what_an_equal_allowance_costs() -> None:
    tide = CosineTide(LOW, 2.0)
    (window,) = access_windows(tide, rules(), ALL_LIGHT, *WIDE)
    (allowed,) = access_windows(tide, rules(allowance_m=0.2), ALL_LIGHT, *WIDE)
    shorter = shorten(window, 0.2, tide, rules())
    assert (shorter.turn_back_at, shorter.usable_min) == (allowed.turn_back_at, allowed.usable_min)


def test_a_window_does_not_depend_on_where_the_span_is_cut() -> None:
    tide = CosineTide(LOW, 2.0, count=8)
    whole = access_windows(tide, rules(), ALL_LIGHT, *WIDE)
    for window in whole:
        assert access_windows(tide, rules(), ALL_LIGHT, window.low_at, window.low_at) == [window]


def test_a_dip_too_slight_to_be_seen_borrows_no_other_lows_times() -> None:
    tide = LineTide(LOW, [(0, 2.0), (360, 0.0), (720, 2.0), (1080, 0.4999), (1440, 2.0), (1800, 0.0), (2160, 2.0)])

    class Blind(LineTide):
        """Misses a dip between two steps, as a curve looked at in steps may."""

        def crossings(self, level_m: float) -> list:
            return [c for c in super().crossings(level_m) if abs((c.at_utc - LOW) / MINUTE - 1080) > 5]

    blind = Blind(LOW, tide.points)
    slight = access_windows(blind, rules(), ALL_LIGHT, *WIDE)[1]
    assert slight.opens_at is None
    assert [c.word for c in slight.cautions if c.stops] == ["above-work"]


LEVELS = st.floats(-1, 3).map(lambda level: round(level, 2))
DRAWN = st.lists(st.tuples(st.integers(30, 700), st.floats(-1.5, 3)), min_size=3, max_size=14)
ASKED = st.builds(
    rules, work_level_m=LEVELS, route_low_level_m=LEVELS, allowance_m=st.sampled_from([0.0, 0.2, 0.5]),
    walk_out_min=st.integers(0, 60), muster_min=st.integers(0, 60), least_usable_min=st.integers(0, 120),
    latest_after_low_min=st.none() | st.integers(0, 240),
)  # fmt: skip


def zigzag(steps: list[tuple[int, float]]) -> LineTide:
    """A tide that turns at every point."""
    points, minute, level = [], 0, 1.0
    for k, (gap, height) in enumerate(steps):
        minute += gap
        level = level + abs(height) + 0.01 if k % 2 else level - abs(height) - 0.01
        points.append((float(minute), level))
    return LineTide(LOW, points)


def level_at(tide: LineTide, at: datetime) -> float:
    minute = (at - tide.start) / MINUTE
    for (t0, a), (t1, b) in zip(tide.points, tide.points[1:], strict=False):
        if t0 <= minute <= t1:
            return a + (b - a) * (minute - t0) / (t1 - t0)
    raise AssertionError(f"{at} lies outside the tide")


A_DAY_OF_JOINED_LOWS = [
    (30, 0.0), (30, 1.25), (30, 2.0), (30, 1.0), (32, 1.0), (163, 1.0), (257, 3.0), (222, 3.0), (257, 3.0), (126, 2.0), (353, 3.0)
]  # fmt: skip
"""The last low carries a stretch that begins more than a day before it, where its crossings are not looked for."""


@settings(max_examples=300, deadline=None)
@example(A_DAY_OF_JOINED_LOWS, rules(work_level_m=2.0, route_low_level_m=2.0, allowance_m=0.0, walk_out_min=0, muster_min=0, least_usable_min=2))
@given(DRAWN, ASKED)
def test_no_usable_minute_has_water_over_the_work_area_or_needs_a_flooded_way_out(steps: list, asked: SiteRules) -> None:
    tide = zigzag(steps)
    lows = [e for e in tide.extremes() if e.kind == "low"]
    windows = access_windows(tide, asked, ALL_LIGHT, *WIDE)
    assert [w.low_at for w in windows] == [e.at_utc for e in lows]
    for window in windows:
        if not window.usable_from:
            assert window.usable_min == 0 and not window.safe
            continue
        ends = tide.start + tide.points[-1][0] * MINUTE
        begins = tide.start + tide.points[0][0] * MINUTE
        steps_s = range(0, int((window.usable_until - window.usable_from).total_seconds()), 97)
        for at in (window.usable_from + timedelta(seconds=s) for s in steps_s):
            if begins <= at <= ends:
                assert level_at(tide, at) + asked.allowance_m <= asked.work_level_m + 0.05
        out_at = window.usable_until + timedelta(seconds=asked.walk_s + 60 * asked.muster_min)
        if window.low_at <= out_at <= ends:
            slope = max(abs(b - a) / (t1 - t0) for (t0, a), (t1, b) in pairwise(tide.points)) / 60  # metres a second at most
            assert level_at(tide, out_at) + asked.allowance_m <= asked.route_low_level_m + slope


@settings(max_examples=300, deadline=None)
@given(DRAWN, ASKED, st.floats(0.01, 1))
def test_a_shortened_window_is_never_longer(steps: list, asked: SiteRules, higher_m: float) -> None:
    tide = zigzag(steps)
    for window in access_windows(tide, asked, ALL_LIGHT, *WIDE):
        shorter = shorten(window, higher_m, tide, asked)
        assert shorter.usable_min <= window.usable_min
        assert not (shorter.safe and not window.safe)
        if shorter.turn_back_at and window.turn_back_at:
            assert shorter.turn_back_at <= window.turn_back_at
        if shorter.usable_until:
            assert shorter.usable_until <= window.usable_until


@settings(max_examples=200, deadline=None)
@given(DRAWN, ASKED)
def test_usable_stretches_do_not_overlap(steps: list, asked: SiteRules) -> None:
    windows = [w for w in access_windows(zigzag(steps), asked, ALL_LIGHT, *WIDE) if w.usable_from]
    for one, other in pairwise(windows):
        assert one.usable_until <= other.usable_from
