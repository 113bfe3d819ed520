"""
What a record's highs and lows, its likeness to the tide nearby, its clock and its zero are told by, at the limits and worked by hand.

The limits are this project's own choice (fieldlog/tides/fitting.py, beside_tide.py).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made import BEGIN, times, weather

from fieldlog.errors import RecordTooShort
from fieldlog.stations import find
from fieldlog.tides.beside_tide import Lags, clock_faults, likeness
from fieldlog.tides.fitting import fit_offsets
from fieldlog.tides.highs_lows import Tops
from fieldlog.tides.moves import level_drift, moves
from fieldlog.tides.predict import predict_levels
from fieldlog.tides.record import Fault, Levels
from fieldlog.tides.yearly import left_out, left_out_m

HALF_H = 6.21
DAY_S = 86_400.0
WEEK_S = 7.4 * DAY_S


def reference(count: int) -> Tops:
    """Highs and lows in turn, 6.21 h apart; highs 1.0 and 1.4, lows 0.0 and 0.2 by turns."""
    n = np.arange(count)
    return Tops(n * HALF_H * 3600, np.where(n % 2 == 0, 1.0 + 0.4 * (n % 4 == 2), 0.2 * (n % 4 == 3)), n % 2 == 0)


def site(count: int, minutes_high: float = 25, minutes_low: float = 35, plus_low_m: float = 0.3) -> Tops:
    """The same water 1.2 times as high and 0.3 m up, its highs and lows so many minutes later."""
    its = reference(count)
    minutes = np.where(its.is_high, minutes_high, minutes_low)
    return Tops(its.t_s + 60 * minutes, 1.2 * its.level_m + np.where(its.is_high, 0.3, plus_low_m), its.is_high)


def test_ten_highs_and_lows_make_offsets_and_nine_do_not() -> None:
    found = fit_offsets(site(10), reference(12))
    assert found.events == 10
    offsets = found.offsets
    assert (offsets.minutes_high, offsets.minutes_low) == (pytest.approx(25), pytest.approx(35))
    assert (offsets.times_high, offsets.times_low) == (pytest.approx(1.2), pytest.approx(1.2))
    assert (offsets.plus_high_m, offsets.plus_low_m) == (pytest.approx(0.3), pytest.approx(0.3))
    assert [found.errors.minutes_high, found.errors.times_low, found.errors.plus_high_m] == pytest.approx([0, 0, 0], abs=1e-9)
    with pytest.raises(RecordTooShort, match="Only 9 highs and lows of the record match"):
        fit_offsets(site(9), reference(12))


@pytest.mark.parametrize("is_high", [True, False])
def test_three_of_each_kind_are_needed_however_many_there_are_of_the_other(is_high: bool) -> None:
    whole = site(24)
    others = np.flatnonzero(whole.is_high != is_high)
    for kept, enough in ((3, True), (2, False)):
        keep = whole.is_high == is_high
        keep[others[:kept]] = True
        if enough:
            assert fit_offsets(whole.only(keep), reference(26)).events == 15
        else:
            with pytest.raises(RecordTooShort, match="Only 14"):
                fit_offsets(whole.only(keep), reference(26))


@pytest.mark.parametrize("is_high", [True, False])
def test_a_port_or_a_record_without_any_of_one_kind_makes_no_offsets(is_high: bool) -> None:
    whole, port = site(24), reference(26)
    for own, its in ((whole.only(whole.is_high == is_high), port), (whole, port.only(port.is_high == is_high))):
        with pytest.raises(RecordTooShort, match="Only 12 highs and lows"):
            fit_offsets(own, its)


def test_from_a_hundred_on_highs_and_lows_have_a_height_of_their_own() -> None:
    found = fit_offsets(site(100, plus_low_m=0.1), reference(102)).offsets
    assert (found.times_high, found.plus_high_m, found.plus_low_m) == (pytest.approx(1.2), pytest.approx(0.3), pytest.approx(0.1))
    fewer = fit_offsets(site(99, plus_low_m=0.1), reference(102)).offsets
    assert fewer.plus_high_m == fewer.plus_low_m


def test_a_high_hours_late_is_no_measure_of_the_usual_delay() -> None:
    late = site(24)
    late.t_s[4] += 200 * 60
    assert fit_offsets(late, reference(26)).offsets.minutes_high == pytest.approx(25)


def test_a_high_four_hours_from_its_like_matches_none() -> None:
    for off_h, events in ((3.9, 24), (4.1, 23)):
        late = site(24, 0, 0)
        late.t_s[4] += off_h * 3600
        assert fit_offsets(late, reference(26)).events == events


def test_the_error_of_a_delay_is_its_spread_over_the_root_of_its_number() -> None:
    """Twelve highs, by turns a minute early and late: a deviation of one minute over root twelve."""
    uneven = site(24)
    uneven.t_s[uneven.is_high] += 60 * np.where(np.arange(12) % 2 == 0, 1.0, -1.0)
    found = fit_offsets(uneven, reference(26))
    assert found.errors.minutes_high == pytest.approx(1 / np.sqrt(12))
    assert found.errors.minutes_low == pytest.approx(0, abs=1e-9)
    assert found.offsets.minutes_high == pytest.approx(25)


def test_the_error_of_a_height_is_that_of_a_line_by_least_squares() -> None:
    """As any textbook has it: the residuals' sum of squares over n - 2, by the spread of the port's heights for the slope."""
    its, own = reference(24), site(24)
    own.level_m[:] += 0.05 * np.where(np.arange(24) % 3 == 0, 1.0, -0.5)
    slope, plus = np.polyfit(its.level_m, own.level_m, 1)
    left = own.level_m - plus - slope * its.level_m
    variance = (left**2).sum() / 22
    spread = ((its.level_m - its.level_m.mean()) ** 2).sum()
    errors = fit_offsets(own, reference(26)).errors
    assert errors.times_high == errors.times_low == pytest.approx(np.sqrt(variance / spread))
    assert errors.plus_high_m == pytest.approx(np.sqrt(variance * (1 / 24 + its.level_m.mean() ** 2 / spread)))


def told_by(tide_std_m: float, times: float, left_std_m: float) -> list[str]:
    """
    Likeness of a record that is so many times a tide, and of what is left beside it, which is at right angles to the tide.

    Both jump from one side of their mean to the other, so that a standard deviation is what it is to the last bit.
    """
    n = np.arange(16)
    tide, left = np.where(n % 2 == 0, tide_std_m, -tide_std_m), np.where(n % 4 < 2, left_std_m, -left_std_m)
    fitted = times * tide
    return [fault.word for fault in likeness(Levels(n * 360.0, fitted + left), fitted, times)]


@pytest.mark.parametrize(
    ("tide_std_m", "times", "left_std_m", "words"),
    [
        (0.5, 1.0, 0.0, []), (0.5, 2.49, 0.0, []), (0.5, 2.51, 0.0, ["range"]), (0.5, 0.401, 0.0, []), (0.5, 0.399, 0.0, ["range"]),
        (0.5, 1.0, 0.499, []), (0.5, 1.0, 0.501, ["weak"]),  # as much beside the tide as in it: half the movement
        (0.5, 1.0, 2.17, ["weak"]), (0.5, 1.0, 2.19, ["not-the-tide"]),  # 0.25 of 4.96 + 0.25 is 5.04 %
        (0.09, 1.0, 2.0, ["weak"]), (0.10, 1.0, 2.0, ["weak"]), (0.11, 1.0, 2.0, ["not-the-tide"]),  # where the tide hardly moves the weather may
        (4.99, 1.0, 0.0, []), (5.01, 1.0, 0.0, ["too-large"]), (0.5, -1.0, 0.0, ["not-the-tide"]),
    ],
)  # fmt: skip
def test_how_much_of_a_record_follows_the_tide_and_how_far(tide_std_m: float, times: float, left_std_m: float, words: list[str]) -> None:
    assert told_by(tide_std_m, times, left_std_m) == words


def test_a_level_that_never_moves_is_not_the_tide() -> None:
    still = Levels(np.arange(100) * 360.0, np.full(100, 1.5))
    (fault,) = likeness(still, np.full(100, 1.5), 1.0)
    assert (fault.word, fault.count, fault.from_s, fault.to_s, fault.size) == ("not-the-tide", 100, 0.0, 99 * 360.0, 0.0)


def cosine_at(t_s: np.ndarray) -> np.ndarray:
    return np.cos(2 * np.pi * t_s / (12.42 * 3600)) + 0.3 * np.cos(2 * np.pi * t_s / (12.0 * 3600))


def clock_of(minutes: list[float]) -> tuple[list[str], list[float]]:
    """What is told of a clock that runs late by so many minutes in each of some weeks."""
    weeks = len(minutes)
    t = np.arange(int(weeks * WEEK_S / 900)) * 900.0
    late_s = 60 * np.array(minutes)[np.minimum((t // WEEK_S).astype(int), weeks - 1)]
    lags = Lags((np.arange(weeks) + 0.5) * WEEK_S, np.array(minutes))
    faults = clock_faults(Levels(t, cosine_at(t - late_s)), cosine_at, lags)
    return [fault.word for fault in faults], [fault.size for fault in faults]


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        ([0, 0, 0, 0], []), ([0, 1.2, 2.4, 3.6], []), ([0, 1.3, 2.6, 3.9], ["drift"]), ([0, -1.3, -2.6, -3.9], ["drift"]),  # over four weeks 4.8 and 5.2
        ([0, 30, 60], []), ([0, 0, 0, 20, 20, 20], ["clock-jump"]), ([0, 0, 0, -20, -20, -20], ["clock-jump"]),
        ([0, 6, 12, 32, 38, 44], ["drift"]),  # 20 is less than four times the usual step
    ],
)  # fmt: skip
def test_a_drift_is_five_minutes_and_a_jump_twenty_and_both_need_four_weeks(minutes: list[float], words: list[str]) -> None:
    assert clock_of(minutes)[0] == words


def test_a_jump_says_by_how_much_and_a_drift_how_much_over_the_whole_record() -> None:
    for minutes in ([0, 0, 0, 60, 60, 60], [0, 60, 60, 60, 60], [0, 0, 60, 60, 60], [0, 0, 0, 0, 60]):
        assert clock_of(minutes) == (["clock-jump"], [pytest.approx(60)])
    assert clock_of([60, 0, 0, 0, 0])[1] == [pytest.approx(-60)]
    words, sizes = clock_of([0, 3, 6, 9, 12])
    assert (words, sizes) == (["drift"], [pytest.approx(15, abs=0.1)])


def moved(step_m: float, at_day: float, days: float = 8.0, hole_h: float = 0.0) -> list[float]:
    t = np.arange(int(days * 240)) * 360.0
    keep = (t < at_day * DAY_S) | (t >= at_day * DAY_S + hole_h * 3600)
    left = np.where(t >= at_day * DAY_S, step_m, 0.0) + 0.001 * np.sin(t / 1000)
    return [fault.size for fault in moves(Levels(t[keep], left[keep]), np.zeros(int(keep.sum())))]


@pytest.mark.parametrize(("step_m", "found"), [(0.11, 1), (-0.11, 1), (0.095, 0)])
def test_a_logger_moved_by_ten_centimetres_is_told_either_way(step_m: float, found: int) -> None:
    sizes = moved(step_m, 4.0)
    assert len(sizes) == found
    assert sizes == [pytest.approx(step_m, abs=0.002)] * found


@pytest.mark.parametrize(("at_day", "found"), [(1.9, 0), (2.1, 1), (5.9, 1), (6.1, 0)])
def test_a_move_needs_two_days_before_it_and_after(at_day: float, found: int) -> None:
    assert len(moved(0.3, at_day)) == found


@pytest.mark.parametrize(("gap_days", "sd_m"), [(2.0, 0.15), (3.0, 0.20), (3.0, 0.25)])
def test_a_gap_in_weather_is_no_move(gap_days: float, sd_m: float) -> None:
    """Sixty days of made weather with a hole: the water stands elsewhere after it, as it does after as long a time without one."""
    t = times(BEGIN, 60, 600.0)
    told = 0
    for seed in range(12):
        rng = np.random.default_rng(seed)
        left = weather(len(t), 600.0, sd_m, rng)
        at_s = t[0] + rng.uniform(0.3, 0.7) * 60 * DAY_S
        keep = (t < at_s) | (t > at_s + gap_days * DAY_S)
        told += len(moves(Levels(t[keep], left[keep]), np.zeros(int(keep.sum()))))
    assert told == 0


def test_a_logger_put_back_lower_after_a_day_is_told() -> None:
    t = times(BEGIN, 60, 1200.0)
    left = weather(len(t), 1200.0, 0.03, np.random.default_rng(1)) - np.where(t > t[0] + 30 * DAY_S, 0.3, 0.0)
    keep = (t < t[0] + 30 * DAY_S) | (t > t[0] + 31 * DAY_S)
    (fault,) = moves(Levels(t[keep], left[keep]), np.zeros(int(keep.sum())))
    assert fault.size == pytest.approx(-0.3, abs=0.06)


def slid(slide_m: float, days: float = 60.0, step_m: float = 0.0, seed: int = 3) -> list[float]:
    t = times(BEGIN, days, 1200.0)
    left = weather(len(t), 1200.0, 0.05, np.random.default_rng(seed)) + slide_m * (t - t[0]) / (t[-1] - t[0])
    half = float(t[len(t) // 2])
    left = left + np.where(t >= half, step_m, 0.0)
    moved_then = [Fault("moved", 1, half - 1200, half, step_m)] if step_m else []
    return [fault.size for fault in level_drift(Levels(t, left), np.zeros(len(t)), moved_then)]


@pytest.mark.parametrize("slide_m", [0.25, -0.25, 0.5])
def test_a_level_that_slides_slowly_is_told_with_its_metres(slide_m: float) -> None:
    assert slid(slide_m) == [pytest.approx(slide_m, abs=0.05)]


def test_weather_a_step_and_less_than_a_month_are_no_slide() -> None:
    assert [slid(0.0, seed=seed) for seed in range(12)] == [[]] * 12
    assert slid(0.0, step_m=0.4) == []
    assert slid(0.5, days=24) == []


@pytest.mark.parametrize(("step_m", "hole_h", "found"), [(0.12, 0, 1), (0.12, 1.5, 0), (0.16, 1.5, 1), (0.19, 12, 0), (0.21, 12, 1)])
def test_across_a_hole_the_weather_may_move_the_water_up_to_twice_as_far(step_m: float, hole_h: float, found: int) -> None:
    """One third more for each hour of the hole, twice at most: 0.15 m at an hour and a half, 0.20 m at half a day."""
    assert len(moved(step_m, 4.0, hole_h=hole_h)) == found


def test_a_prediction_says_what_it_leaves_out_and_how_much_that_is() -> None:
    boston = find("noaa/8443970")
    assert left_out(boston) == ()
    odd = replace(boston, constituents=(*boston.constituents, ("XYZ9", 0.123, 10.0)))
    (sentence,) = left_out(odd)
    assert sentence == f"Constituent 'XYZ9' (12.3 cm) of {boston.name} is not known here: it is left out, so levels may be wrong by as much."


def test_what_a_prediction_leaves_out_has_a_size() -> None:
    """TICON-4 stations leave out up to some decimetres; at a station by offsets they are as many times larger as its lows and highs."""
    boston = find("noaa/8443970")
    assert left_out_m(boston) == 0
    odd = replace(boston, constituents=(*boston.constituents, ("XYZ9", 0.123, 10.0), ("S3", 0.2, 0.0)))
    assert left_out_m(odd) == pytest.approx(0.323)
    hudson = find("noaa/8518974")
    assert hudson.offsets is not None and hudson.reference is not None
    by_offsets = replace(hudson, reference=replace(odd))
    assert left_out_m(by_offsets) == pytest.approx(0.323 * max(hudson.offsets.times_high, hudson.offsets.times_low))


def test_constituents_that_no_published_table_confirms_are_left_out_by_name_with_their_height_together() -> None:
    boston = find("noaa/8443970")
    doubtful = replace(boston, constituents=(("3N2", 0.021, 10.0), *boston.constituents, ("ALP1", 0.013, 200.0)))
    (sentence,) = left_out(doubtful)
    assert sentence == f"3N2, ALP1 (3.4 cm together) of {boston.name} could not be verified against a published table and are left out."
    noon = np.array(["2026-06-01T12:00"], "datetime64[ms]")
    assert predict_levels(doubtful, noon) == pytest.approx(predict_levels(boston, noon)), "and so they are"
