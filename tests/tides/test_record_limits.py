"""
Limits of a record and of the file it comes in, at the value itself and one step to either side, worked by hand.

What has no source is this project's own choice, as fieldlog/tides/record.py and logger.py say.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest
from made import HOUR_S, cosine

from fieldlog.errors import BadRecord
from fieldlog.tides.evenly import averaging_response, hourly, interval_s
from fieldlog.tides.logger import Columns, read, zone_of
from fieldlog.tides.record import Levels, _level_at, gaps, in_order, without_dry, without_spikes


def test_an_hour_counts_from_four_fifths_of_its_levels_and_a_hole_leans_to_no_side() -> None:
    t = np.arange(40) * 360.0
    level = t / HOUR_S
    for gone, whole in (([3, 4], True), ([3, 4, 5], False)):
        keep = np.ones(40, bool)
        keep[gone] = False
        at, mean, count = hourly(t[keep], level[keep])
        assert count == 10
        assert at[0] == 9 * 360 / 2
        assert (mean[0] == pytest.approx(0.45)) if whole else np.isnan(mean[0])
        assert mean[1] == pytest.approx(1.45)


def test_a_record_of_hourly_levels_keeps_its_own_and_its_gaps() -> None:
    t = np.array([0, 1, 2, 5, 6, 7]) * HOUR_S
    at, level, count = hourly(t, np.array([0.0, 1, 2, 5, 6, 7]))
    assert (count, (at / HOUR_S).tolist()) == (1, [0, 1, 2, 3, 4, 5, 6, 7])
    assert level[[0, 1, 2, 5, 6, 7]].tolist() == [0, 1, 2, 5, 6, 7]
    assert np.isnan(level[[3, 4]]).all()


def test_a_gap_of_one_and_a_half_intervals_is_bridged_as_it_is_told_as_none() -> None:
    for apart_h, is_bridged in ((1.5, True), (1.51, False)):
        t = np.array([0, 1, 2, 2 + apart_h, 3 + apart_h, 4 + apart_h]) * HOUR_S
        at, level, _ = hourly(t, t / HOUR_S)
        assert at[3] == 3 * HOUR_S
        assert (level[3] == pytest.approx(3)) if is_bridged else np.isnan(level[3])
        assert (gaps(Levels(t, t)) == []) is is_bridged


def test_averaging_takes_from_m4_what_the_sum_of_cosines_says() -> None:
    """Six levels ten minutes apart of a cosine of 57.968 deg/h: the mean of cos(k x 9.6613 deg), k = -2.5 ... 2.5."""
    k = np.arange(6) - 2.5
    assert averaging_response(57.968, 6) == pytest.approx(np.cos(np.radians(k * 57.968 / 6)).mean(), rel=1e-12)
    assert averaging_response(57.968, 1) == 1.0
    assert interval_s(np.array([0.0, 360, 720, 9000])) == 360


@pytest.mark.parametrize(("step_s", "found"), [(1.5 * 360, 0), (1.5 * 360 + 1, 1)])
def test_a_gap_is_more_than_one_and_a_half_intervals(step_s: float, found: int) -> None:
    t = np.concatenate([np.arange(10) * 360.0, 9 * 360 + step_s + np.arange(10) * 360.0])
    assert len(gaps(Levels(t, np.zeros(20)))) == found


def test_a_gap_says_how_many_levels_are_missing_and_for_how_long() -> None:
    t = np.concatenate([np.arange(10) * 360.0, 9 * 360 + 3600 + np.arange(10) * 360.0])
    (gap,) = gaps(Levels(t, np.zeros(20)))
    assert (gap.count, gap.size, gap.from_s, gap.to_s) == (9, 1.0, 3240.0, 6840.0)


@pytest.mark.parametrize(("off_m", "spikes"), [(0.149, 0), (0.15, 0), (-0.15, 0), (0.151, 1), (-0.151, 1)])
def test_15_cm_off_its_neighbours_is_a_spike(off_m: float, spikes: int) -> None:
    z = np.zeros(50)
    z[20] = off_m
    clear, faults = without_spikes(Levels(np.arange(50) * 360.0, z))
    assert len(faults) == spikes
    assert len(clear.t_s) == 50 - spikes
    if faults:
        assert (faults[0].count, faults[0].from_s, faults[0].to_s, faults[0].size) == (1, 7200.0, 7200.0, pytest.approx(0.151))


@pytest.mark.parametrize("count", [1, 2, 6])
def test_a_handful_of_levels_is_left_alone(count: int) -> None:
    few = Levels(np.arange(count) * 360.0, np.array([0, 0, 9.0, 0, 0, 0])[:count])
    assert without_spikes(few) == (few, [])


def test_the_first_of_doubled_times_is_kept_and_turned_ones_are_counted() -> None:
    levels, faults = in_order(np.array([2.0, 1, 1, 3, 3]), np.array([20.0, 10, 11, 30, 31]))
    assert (levels.t_s.tolist(), levels.level_m.tolist()) == ([1, 2, 3], [10, 20, 30])
    assert [(fault.word, fault.count, fault.from_s, fault.to_s) for fault in faults] == [("out-of-order", 1, 1, 3), ("doubled", 2, 1, 3)]
    assert in_order(np.array([1.0, 2, 3]), np.zeros(3))[1] == []


def basin(floor_m: float, flat_min: float) -> Levels:
    """A fall of 0.5 m/h to a floor, flat for so long, and a rise as steep; before and after it the water stands high."""
    t = np.arange(241) * 60.0 * 3
    away_min = np.maximum(0, np.abs(t / 60 - 360) - flat_min / 2)
    return Levels(t, np.minimum(floor_m + away_min / 60 * 0.5, 2.0))


@pytest.mark.parametrize(("flat_min", "runs"), [(60, 1), (42, 1), (30, 0)])
def test_flat_ground_is_told_from_forty_minutes_on(flat_min: float, runs: int) -> None:
    levels = basin(0.2, flat_min)
    clear, faults = without_dry(levels)
    assert sum(fault.count for fault in faults) == runs
    if runs:
        assert faults[0].size == pytest.approx(0.2, abs=0.01)
        assert clear.level_m.min() > 0.2
        assert abs(faults[0].from_s / 60 - (360 - flat_min / 2)) <= 3


def test_a_shelf_on_the_way_down_is_not_dry_ground() -> None:
    """Held for an hour at 1.5 m while most of the record lies lower: a gate or a sill, and the logger is under water."""
    minute = np.arange(0, 900, 3.0)
    fall = np.interp(minute, [0, 60, 120, 300, 900], [2.0, 1.5, 1.5, 0.0, 0.6])
    assert without_dry(Levels(minute * 60, fall))[1] == []


def test_a_round_low_is_not_dry_ground() -> None:
    """A low of half a metre's range stays within a centimetre for 64 minutes and is none the drier."""
    clear, faults = without_dry(cosine(2, 360, height_m=0.25))
    assert faults == []
    assert len(clear.t_s) == 480


def lines(count: int, value: str = "1.5") -> str:
    return "time,level\n" + "".join(f"2026-03-01 {n // 60:02d}:{n % 60:02d},{value if n == 0 else n / 100}\n" for n in range(count))


PLAIN = Columns(",", 1, 0, None, 1, "iso", "UTC", "m")


def test_ten_lines_make_a_record_and_nine_do_not() -> None:
    assert len(read(lines(10), PLAIN).t_s) == 10
    with pytest.raises(BadRecord, match=r"The file is too short\. Its readings: 9; at least 10 are needed"):
        read(lines(9), PLAIN)
    with pytest.raises(BadRecord, match=r"Lines that could be read as a time and a number: 9 only.*The first that could not: line 2\."):
        read(lines(10, "wet"), PLAIN)


@pytest.mark.parametrize("value", ["inf", "nan", "", "1,5"])
def test_what_is_no_finite_number_is_unread(value: str) -> None:
    content = lines(12).replace("2026-03-01 00:05,0.05", f"2026-03-01 00:05,{value}" if "," not in value else f'2026-03-01 00:05,"{value}"')
    found = read(content, PLAIN)
    assert (found.unread, found.unread_lines, len(found.t_s)) == (1, (7,), 11)


@pytest.mark.parametrize(
    ("unit", "value"),
    [("m", 1.0), ("cm", 0.01), ("mm", 0.001), ("ft", 0.3048), ("in", 0.0254), ("kPa", 1.0), ("hPa", 0.1), ("mbar", 0.1), ("bar", 100.0), ("dbar", 10.0),
     ("psi", 6.894757), ("inHg", 3.386389)],
)  # fmt: skip
def test_one_of_each_unit_is_what_the_tables_say(unit: str, value: float) -> None:
    """The international foot, inch and pound; an inch of mercury at 0 C is 3.386389 kPa (NIST SP 811)."""
    columns = Columns(",", 1, 0, None, 1, "iso", "UTC", unit)
    assert read(lines(12, "1"), columns).value[0] == pytest.approx(value, rel=1e-6)
    assert columns.is_pressure is (unit in ("kPa", "hPa", "mbar", "bar", "dbar", "psi", "inHg"))


@pytest.mark.parametrize(
    ("name", "minutes"),
    [("UTC-05:00", -300), ("UTC+5", 300), ("UTC+5:30", 330), ("UTC-0330", -210), ("UTC+14:00", 840), ("UTC", 0), (" GMT ", 0), ("Z", 0)],
)
def test_an_offset_is_read_with_its_sign_and_minutes(name: str, minutes: int) -> None:
    assert zone_of(name).utcoffset(datetime(2026, 1, 1)) == timedelta(minutes=minutes)  # noqa: DTZ001


@pytest.mark.parametrize("name", ["UTC+14:01", "UTC-15", "Nowhere/Land", "", "../etc/passwd"])
def test_beyond_14_hours_and_beyond_the_map_there_is_no_zone(name: str) -> None:
    with pytest.raises(BadRecord):
        zone_of(name)


def test_a_level_is_read_between_two_and_never_beyond_the_last_or_across_a_hole() -> None:
    t, level = np.array([0.0, 3600.0, 9000.0, 14_401.0]), np.array([0.0, 1.0, 2.0, 3.0])
    assert [_level_at(t, level, at_s) for at_s in (-1.0, 1800.0, 6300.0, 10_000.0, 14_402.0)] == [None, 0.5, 1.5, None, None]
