"""
Limits of the tide room, at the value itself and one step to either side, on cases small enough to be worked by hand.

Two hours and a tenth of a foot (0.03048 m) are the agency's rule for listing highs and lows; tabulation by tidal days of
24.84 h and the comparison formulas are CO-OPS 2 (2003); what has no source is this project's own choice and is said to be.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from made import HOUR_S, cosine
from utide._ut_constants import ut_constants

from fieldlog.errors import BadSpan, OutsideCurve
from fieldlog.stations import find
from fieldlog.tides.curve import Curve
from fieldlog.tides.datums import Means, alone, by_comparison, expected_error_m, means_of, method_of
from fieldlog.tides.extremes import listed
from fieldlog.tides.highs_lows import Tops, highs_and_lows
from fieldlog.tides.parting import RATIOS, NotParted, days_to_part, inferences, parted
from fieldlog.tides.predict import level_curve, predict_levels
from fieldlog.tides.pressure import air_at
from fieldlog.tides.record import Levels
from fieldlog.tides.trace import Trace, TurningPoints, levels_in

BOSTON = find("noaa/8443970")
DAY = datetime(2026, 6, 1, tzinfo=UTC)
UTIDE = ut_constants["const"]


def points(minutes: list[float], level_m: list[float], before_m: list[float] | None = None) -> TurningPoints:
    n = len(minutes)
    return TurningPoints(np.array(minutes) * 60.0, np.array(level_m), np.array(before_m or level_m), np.arange(n) % 2 == 0, np.arange(n))


@pytest.mark.parametrize(
    ("apart_min", "rise_m", "kept"),
    [(119, 0.0304, []), (119.4, 0.0304, []), (120, 0.0304, [0, 1]), (119.6, 0.0304, [0, 1]), (119, 0.03048, [0, 1]), (119, -0.0304, [])],
)  # fmt: skip
def test_a_wiggle_under_two_hours_and_a_tenth_of_a_foot_is_not_listed(apart_min: float, rise_m: float, kept: list[int]) -> None:
    assert listed(points([0, apart_min], [1.0, 1.0 + rise_m])).tolist() == kept


def test_a_dropped_pair_takes_no_third_along_and_the_level_before_a_step_counts() -> None:
    assert listed(points([0, 60, 90], [1.0, 1.01, 1.02])).tolist() == [2]
    assert listed(points([0, 60, 600, 980], [1.0, 1.01, 3.0, 1.0])).tolist() == [2, 3]
    assert listed(points([0, 400, 460, 900], [1.0, 3.0, 3.01, 1.0])).tolist() == [0, 3]
    assert listed(points([0, 60], [1.0, 5.0], [1.0, 1.01])).tolist() == [], "before the step it rose by a centimetre"
    assert listed(points([0, 60], [1.0, 1.01], [1.0, 5.0])).tolist() == [0, 1]


@pytest.mark.parametrize("step_s", [360.0, 900.0])
def test_tops_of_a_cosine_lie_where_it_turns(step_s: float) -> None:
    """Highs at whole periods of 12.42 h, lows half way; the first and the last have no hour on one side."""
    tops = highs_and_lows(cosine(3, step_s))
    expected_h = [12.42 * k / 2 for k in range(1, 12) if 12.42 * k / 2 < 71]
    assert tops.t_s / HOUR_S == pytest.approx(expected_h, abs=0.01)
    assert tops.is_high.tolist() == [k % 2 == 0 for k in range(1, len(expected_h) + 1)]
    # A parabola through the hour on both sides of a cosine's top is a little under it: 1 - cos(30.4 deg) = 0.13, of which 1/35.
    assert np.abs(tops.level_m) == pytest.approx(np.ones(len(expected_h)), abs=0.005)


def test_a_top_beside_a_gap_is_left_out() -> None:
    whole = cosine(3, 360)
    keep = np.abs(whole.t_s / HOUR_S - (24.84 + 0.8)) > 0.25
    tops = highs_and_lows(whole.only(keep))
    assert not np.any(np.abs(tops.t_s / HOUR_S - 24.84) < 1)
    assert np.any(np.abs(tops.t_s / HOUR_S - 12.42) < 0.1)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("kind", [1, -1], ids=["lows", "highs"])
def test_of_two_lows_without_their_high_the_lower_stands_and_of_two_highs_the_higher(kind: int, sign: int) -> None:
    """A day's wave of 0.2 m puts the two 0.4 m apart; what lies between them is not on record."""
    t = np.arange(0, 26 * HOUR_S, 360)
    z = kind * (np.cos(2 * np.pi * t / (12.42 * HOUR_S)) + sign * 0.2 * np.sin(2 * np.pi * t / (24.84 * HOUR_S)))
    keep = (t < 10.9 * HOUR_S) | (t > 13.9 * HOUR_S)
    tops = highs_and_lows(Levels(t[keep], z[keep]))
    (farther,) = [float(level) for level, is_high in zip(tops.level_m, tops.is_high, strict=True) if is_high == (kind < 0)]
    assert abs(farther) == pytest.approx(1.2, abs=0.02)
    assert tops.t_s[tops.is_high == (kind < 0)][0] / HOUR_S == pytest.approx(18.6 if sign > 0 else 6.2, abs=0.3)


def tops_of(hours: list[float], level_m: list[float], is_high: bool = True) -> Tops:
    return Tops(np.array(hours) * HOUR_S, np.array(level_m), np.full(len(hours), is_high))


def test_the_higher_high_and_the_lower_low_of_each_tidal_day_count() -> None:
    """Four tidal days: highs 1.0 and 1.4, lows 0.0 and -0.2 in each; the record cuts the fifth after its first high."""
    hours = [12.42 * k for k in range(8)]
    highs, lows = tops_of([*hours, 12.42 * 8], [1.0, 1.4] * 4 + [1.0]), tops_of([h + 6.21 for h in hours], [0.0, -0.2] * 4, False)
    both = Tops(np.concatenate([highs.t_s, lows.t_s]), np.concatenate([highs.level_m, lows.level_m]), np.concatenate([highs.is_high, lows.is_high]))
    found = means_of(Levels(np.array([0.0, 4.14 * 86_400]), np.array([0.5, 0.7])), both)
    assert found.mhhw_m == pytest.approx(1.4), "the cut day has no higher high yet"
    assert (found.mllw_m, found.mlw_m, found.msl_m) == (pytest.approx(-0.2), pytest.approx(-0.1), pytest.approx(0.6))
    assert found.mhw_m == pytest.approx((4 * 1.0 + 4 * 1.4 + 1.0) / 9)
    assert (found.mtl_m, found.dtl_m) == (pytest.approx((found.mhw_m - 0.1) / 2), pytest.approx(0.6))
    assert found.days == pytest.approx(4.14)


SITE = Means(mhhw_m=3.5, mhw_m=3.3, msl_m=2.4, mlw_m=1.5, mllw_m=1.4, days=31)
CONTROL = Means(mhhw_m=1.9, mhw_m=1.7, msl_m=0.85, mlw_m=0.1, mllw_m=-0.1, days=31)
ACCEPTED = {"MHHW": 2.0, "MHW": 1.8, "MSL": 0.9, "MLW": 0.2, "MLLW": 0.0}


def test_the_modified_range_ratio_is_that_of_the_handbook() -> None:
    """
    By hand: MTL 1.0 + 2.4 - 0.9 = 2.5; Mn 1.6 x 1.8 / 1.6 = 1.8; DTL 1.0 + 2.45 - 0.9 = 2.55; Gt 2.0 x 2.1 / 2.0 = 2.1;
    MSL 0.9 + 2.4 - 0.85 = 2.45.
    """
    found = by_comparison(SITE, CONTROL, ACCEPTED, "modified range ratio").above_zero_m
    assert found == pytest.approx({"MHHW": 3.6, "MHW": 3.4, "MTL": 2.5, "MSL": 2.45, "MLW": 1.6, "MLLW": 1.5})


def test_the_standard_method_is_that_of_the_handbook() -> None:
    """By hand, MHW and MLW as above; DHQ 0.2 x 0.2 / 0.2 = 0.2, DLQ 0.2 x 0.1 / 0.2 = 0.1."""
    found = by_comparison(SITE, CONTROL, ACCEPTED, "standard").above_zero_m
    assert found == pytest.approx({"MHHW": 3.6, "MHW": 3.4, "MTL": 2.5, "MSL": 2.45, "MLW": 1.6, "MLLW": 1.5})
    even = Means(mhhw_m=1.705, mhw_m=1.7, msl_m=0.85, mlw_m=0.1, mllw_m=0.095, days=31)
    found = by_comparison(SITE, even, ACCEPTED, "standard").above_zero_m
    assert (found["MHHW"], found["MLLW"]) == (pytest.approx(3.6), pytest.approx(1.4)), "an inequality under a centimetre says nothing: the control's stands"


def test_a_datums_error_is_the_tables_or_its_parts_scatter() -> None:
    """Three parts whose lows lie 0.0, 0.3 and 0.6 m high: the MLW moves by their half, deviation 0.3 over root three."""
    parts = [(Means(3.5, 3.3, 2.4, 1.5 + off, 1.4 + off, 10), CONTROL) for off in (0.0, 0.3, 0.6)]
    errors = by_comparison(SITE, CONTROL, ACCEPTED, "modified range ratio", parts).errors_m
    assert errors["MLW"] == pytest.approx(0.3 / np.sqrt(3), rel=1e-6)
    assert errors["MTL"] == pytest.approx(0.15 / np.sqrt(3), rel=1e-6)
    assert errors["MHHW"] == pytest.approx(expected_error_m(31))
    two = by_comparison(SITE, CONTROL, ACCEPTED, "modified range ratio", parts[:2]).errors_m
    assert set(two.values()) == {expected_error_m(31)}


@pytest.mark.parametrize(
    ("days", "error_m"),
    [(30.4, 0.040), (60.8, 0.035), (91.2, 0.030), (182.4, 0.021), (364.8, 0.015), (3000, 0.015), (7.6, 0.080), (1, 0.040 * 30.4**0.5), (0.5, 0.040 * 30.4**0.5)],
)
def test_the_expected_error_is_swansons_by_months_and_grows_with_the_root_below_one(days: float, error_m: float) -> None:
    assert expected_error_m(days) == pytest.approx(error_m)


def test_alone_ten_centimetres_a_month_are_told() -> None:
    assert alone(SITE).errors_m["MLLW"] == pytest.approx(0.10 / np.sqrt(31 / 30))
    short = Means(3.5, 3.3, 2.4, 1.5, 1.4, days=3)
    assert alone(short).errors_m["MLLW"] == pytest.approx(0.10 / np.sqrt(0.5))
    assert alone(SITE).less_sure(0.2).errors_m["MSL"] == pytest.approx(np.hypot(0.10 / np.sqrt(31 / 30), 0.2))


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "method"),
    [(47.6, -122.3, "standard"), (42.3, -71.0, "modified range ratio"), (21.3, -157.9, "standard"), (13.4, 144.7, "standard"),
     (51.9, 4.0, "modified range ratio"), (29.3, -94.8, "modified range ratio"), (14.0, -94.0, "standard"), (18.5, -93.0, "modified range ratio"),
     (30.0, -100.0, "modified range ratio"), (35.0, 130.0, "modified range ratio"), (18.0, -93.0, "modified range ratio"),
     (10.4, -75.5, "modified range ratio"), (-23.0, -43.2, "modified range ratio"), (13.5, -92.0, "modified range ratio")],
)  # fmt: skip
def test_the_pacific_has_the_standard_method(lat_deg: float, lon_deg: float, method: str) -> None:
    assert method_of(lat_deg, lon_deg) == method


def test_a_curve_answers_to_the_second_at_its_ends_and_not_beyond() -> None:
    end = DAY + timedelta(days=1)
    curve = Curve.for_station(BOSTON, DAY, end)
    direct = predict_levels(BOSTON, np.array([DAY.replace(tzinfo=None), end.replace(tzinfo=None)], "datetime64[ms]"))
    assert [curve.level_at(DAY), curve.level_at(end)] == pytest.approx(direct.tolist(), abs=1e-4)
    for beyond in (DAY - timedelta(seconds=1), end + timedelta(seconds=1)):
        with pytest.raises(OutsideCurve, match="The tide curve runs from 2026-06-01T00:00:00"):
            curve.level_at(beyond)
        with pytest.raises(OutsideCurve):
            curve.levels_at(np.array([DAY.replace(tzinfo=None), beyond.replace(tzinfo=None)], "datetime64[ms]"))
    assert curve.levels_at(np.array([], "datetime64[ms]")).shape == (0,)


def test_a_curve_that_ends_on_a_step_ends_with_the_level_after_it() -> None:
    trace = Trace(np.array([0.0, 60.0, 60.0]), np.array([1.0, 2.0, 5.0]), np.zeros(3))
    assert levels_in(trace, np.array([0.0, 30.0, 60.0])).tolist() == [1.0, 1.5, 5.0]


def test_only_a_curve_by_offsets_is_an_estimate() -> None:
    """Hudson, New York, has published offsets alone; Boston has constants of its own."""
    hudson = find("noaa/8518974")
    assert [Curve.for_station(one, DAY, DAY + timedelta(days=1)).is_estimated for one in (hudson, BOSTON)] == [True, False]


def test_crossings_are_bounded_both_ends_included() -> None:
    curve = Curve.for_station(BOSTON, DAY, DAY + timedelta(days=2))
    every = curve.crossings(1.5)
    assert len(every) >= 7
    assert {one.is_rising for one in every[::2]} != {one.is_rising for one in every[1::2]}
    first, second = every[:2]
    assert curve.crossings(1.5, first.at_utc, second.at_utc) == [first, second]
    assert curve.crossings(1.5, first.at_utc + timedelta(milliseconds=1), second.at_utc - timedelta(milliseconds=1)) == []
    assert curve.crossings(99.0) == []


def test_even_times_uneven_times_and_one_time_give_the_same_levels() -> None:
    even = np.datetime64("2026-06-01T00:00", "ms") + np.arange(50) * np.timedelta64(10, "m")
    levels = predict_levels(BOSTON, even)
    shuffled = np.roll(even, 7)
    assert predict_levels(BOSTON, shuffled) == pytest.approx(np.roll(levels, 7), abs=1e-9)
    assert predict_levels(BOSTON, even[::-1]) == pytest.approx(levels[::-1], abs=1e-9)
    assert predict_levels(BOSTON, even[3:4]) == pytest.approx(levels[3:4], abs=1e-9)
    assert predict_levels(BOSTON, even[[3, 3]]) == pytest.approx(levels[[3, 3]], abs=1e-9)
    assert predict_levels(BOSTON, even.reshape(10, 5)[:, :1].ravel()).shape == (10,)
    assert predict_levels(BOSTON, even[:0]).shape == (0,)


def test_a_list_has_its_end_where_a_step_falls_on_it_and_no_more_than_600_000_levels() -> None:
    at, levels = level_curve(BOSTON, DAY, DAY + timedelta(hours=2), timedelta(minutes=30))
    assert (len(at), str(at[0])[:19], str(at[-1])[:19]) == (5, "2026-06-01T00:00:00", "2026-06-01T02:00:00")
    assert len(level_curve(BOSTON, DAY, DAY + timedelta(minutes=59), timedelta(minutes=30))[0]) == 2
    assert len(level_curve(BOSTON, DAY, DAY + timedelta(seconds=5), timedelta(seconds=1))[0]) == 6
    assert len(levels) == 5
    with pytest.raises(BadSpan, match=r"A step of 0\.999 s is too short"):
        level_curve(BOSTON, DAY, DAY + timedelta(hours=1), timedelta(milliseconds=999))
    with pytest.raises(BadSpan, match="That would be 600,001 levels, at most 600,000"):
        level_curve(BOSTON, DAY, DAY + timedelta(seconds=600_000), timedelta(seconds=1))


def test_air_is_guessed_across_three_hours_and_no_more() -> None:
    air = air_at(np.array([1.5, 4.5, 8.0]) * HOUR_S, np.array([0.0, 3.0, 6.01]) * HOUR_S, np.array([100.0, 101.0, 102.0]))
    assert air[0] == pytest.approx(100.5)
    assert np.isnan(air[1])
    assert air[2] == 102.0, "an end counts for three hours more"
    assert np.isnan(air_at(np.array([9.02]) * HOUR_S, np.array([0.0, 6.01]) * HOUR_S, np.array([100.0, 102.0]))[0])
    at_reading = air_at(np.array([0.0, 10 * HOUR_S, 10 * HOUR_S + 60, 10 * HOUR_S + 61]), np.array([0.0, 10, 20]) * HOUR_S, np.array([100.0, 101, 102]))
    assert at_reading[:3] == pytest.approx([100, 101, 101], abs=0.01)
    assert np.isnan(at_reading[3]), "more than a minute from a reading, between two that are ten hours apart"


@pytest.mark.parametrize(("name", "other", "days"), [("S2", "M2", 14.765), ("N2", "M2", 27.555), ("K2", "S2", 182.621), ("K1", "O1", 13.661), ("SA", None, 365.243)])
def test_constituents_part_after_their_published_synodic_periods(name: str, other: str | None, days: float) -> None:
    """Pugh, Tides, Surges and Mean Sea-Level (1987), chapter 4: spring-neap 14.77, perigee 27.55, tropical month 13.66 days, half a year, a year."""
    assert days_to_part(name, other) == pytest.approx(days, abs=0.01)


def test_a_constituent_is_fitted_from_seven_tenths_of_a_turn_and_told_as_short_until_it_is_whole() -> None:
    assert "S2" not in parted(0.69 * 14.765)[0]
    kept, short = parted(0.71 * 14.765)
    assert "S2" in kept
    assert [(one.beside, one.needs_days) for one in short if one.name == "S2"] == [("M2", pytest.approx(14.765, abs=0.01))]
    assert "S2" not in {one.name for one in parted(0.98 * 14.765)[1]}
    assert "SA" in parted(0.71 * 365.25)[0]
    assert {one.name for one in parted(370)[1]} & {"SA", "K2", "P1"} == set()


def test_what_is_not_parted_is_inferred_from_the_port_or_else_from_the_equilibrium_tide() -> None:
    """At the port K2 is 0.1 m and 30 degrees later than S2's 0.4 m: a quarter; by the equilibrium tide 0.272."""
    kept, short = parted(30.0)
    plain = {one.name: one for one in inferences(kept, short)}
    assert (plain["K2"].source, plain["K2"].ratio, plain["K2"].phase_deg) == ("S2", 0.272, 0.0)
    assert (plain["P1"].source, plain["P1"].ratio) == ("K1", 0.331)
    assert not set(plain) & set(kept)
    port = {"S2": (0.4, 340.0), "K2": (0.1, 10.0)}
    known = {one.name: one for one in inferences(kept, short, port)}
    assert (known["K2"].source, known["K2"].ratio, known["K2"].phase_deg) == ("S2", pytest.approx(0.25), pytest.approx(30.0))


@pytest.mark.parametrize("name", sorted(set(RATIOS) - {"MU2", "M1"}))
def test_what_is_inferred_without_a_port_has_its_part_of_the_equilibrium_tide(name: str) -> None:
    """
    Against the amplitudes of Doodson's development that UTide lists: within 5 % (SP98's numbers are the older), or half of the
    last decimal that SP98 prints. MU2 and M1 are left out: UTide's are sums of more than one of SP98's terms.
    """
    listed_as = {str(one).strip(): abs(float(amplitude)) for one, amplitude in zip(UTIDE["name"], UTIDE["doodsonamp"], strict=True)}
    theirs = {"RHO": "RHO1", "LAM2": "LDA2"}
    (one,) = inferences([RATIOS[name][0]], [NotParted(name, RATIOS[name][0], 30.0)])
    assert one.source == RATIOS[name][0]
    assert one.ratio == pytest.approx(listed_as[theirs.get(name, name)] / listed_as[one.source], rel=0.05, abs=0.00051)


def test_of_two_that_cannot_be_parted_the_larger_at_the_port_is_fitted() -> None:
    kept, _ = parted(8.0, {"S2": 2.0, "M2": 1.0})
    assert "S2" in kept
    assert "M2" not in kept
