"""
Tidal datums against the agency's own calculator and against pairs of records whose datums are known.

tests/data/tides/tadc_hourly_oct2022.csv: the sample hourly record of NOAA's tidal datum calculator (US Government work,
public domain). Its printed output: MHHW 1.200, MHW 1.093, MSL 0.353, MLW -0.498, MLLW -0.544 (direct).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from made import HOUR_S, cosine, tide_of, times, weather

from fieldlog.errors import RecordTooShort
from fieldlog.stations import find
from fieldlog.tides.curve import Curve
from fieldlog.tides.datums import Means, alone, by_comparison, expected_error_m, means_of, method_of
from fieldlog.tides.highs_lows import highs_and_lows
from fieldlog.tides.logger import read
from fieldlog.tides.logger_look import look
from fieldlog.tides.proposal import site_datums
from fieldlog.tides.record import Levels

SAMPLE = (Path(__file__).parents[1] / "data" / "tides" / "tadc_hourly_oct2022.csv").read_text("utf-8")
PRINTED = {"MHHW": 1.200, "MHW": 1.093, "MSL": 0.353, "MLW": -0.498, "MLLW": -0.544}
JUNE = datetime(2026, 6, 1, tzinfo=UTC)


@pytest.mark.parametrize(("highs", "is_enough"), [(2, False), (3, True)])
def test_three_high_waters_make_datums_and_two_do_not(highs: int, is_enough: bool) -> None:
    """A port whose datums nobody knows: the record's own means, of a swing of a metre on both sides of nought."""
    port = find("noaa/8443970")
    unknown, curve = replace(port, datums_m={}), Curve.for_station(port, JUNE, JUNE + timedelta(days=1))
    # From a quarter before the first high to three quarters after the last: each high has its low behind it, and one before the first.
    swing = cosine(4, 360)
    levels = swing.only((swing.t_s > 5 * HOUR_S) & (swing.t_s < (12.42 * highs + 7.4) * HOUR_S))
    assert [bool(one) for one in highs_and_lows(levels).is_high] == [False, *[True, False] * highs]
    if is_enough:
        found = site_datums(levels, unknown, curve, (42.3, -71.0), None)
        assert [found.above_zero_m[name] for name in ("MHHW", "MLLW")] == pytest.approx([1.0, -1.0], abs=0.01)
        return
    with pytest.raises(RecordTooShort, match="fewer than three high tides"):
        site_datums(levels, unknown, curve, (42.3, -71.0), None)


def means(levels: Levels) -> Means:
    return means_of(levels, highs_and_lows(levels))


def test_the_calculators_sample_gives_its_printed_output_within_a_centimetre() -> None:
    readings = read(SAMPLE, look(SAMPLE, "UTC").columns)
    found = means(Levels(readings.t_s, readings.value)).by_name()
    for name, printed in PRINTED.items():
        assert found[name] == pytest.approx(printed, abs=0.01), name


@pytest.mark.parametrize(
    ("control_id", "method"),
    [("noaa/8670870", "modified range ratio"), ("noaa/8443970", "modified range ratio"), ("noaa/9447130", "standard"), ("noaa/9414290", "standard")],
)
def test_a_made_pair_gives_its_known_datums_back_within_a_centimetre_over_a_month(control_id: str, method: str) -> None:
    """The site is the control with another range and zero, and noise of its own; so its datums are known from the control's."""
    control = find(control_id)
    times_range, zero_m, days = 0.83, 2.4, 30.0
    t = times(JUNE, days)
    tide = tide_of(control, JUNE, days)(t)
    shared = weather(len(t), 360.0, 0.06, np.random.default_rng(5))
    rng = np.random.default_rng(6)
    at_control = Levels(t, tide + shared + rng.normal(0, 0.01, len(t)))
    msl = control.datums_m["MSL"] - control.datums_m["MLLW"]
    # The season moves both by as much, whatever their ranges.
    at_site = Levels(t, zero_m + tide.mean() + times_range * (tide - tide.mean()) + shared + rng.normal(0, 0.02, len(t)))
    accepted = {name: level - control.datums_m["MLLW"] for name, level in control.datums_m.items()}
    found = by_comparison(means(at_site), means(at_control), accepted, method_of(control.lat_deg, control.lon_deg))
    assert method in found.method
    for name in ("MHHW", "MHW", "MSL", "MLW", "MLLW"):
        known = zero_m + msl + times_range * (accepted[name] - msl)
        assert found.above_zero_m[name] == pytest.approx(known, abs=0.01), name
    assert found.above_zero_m["MTL"] == pytest.approx((found.above_zero_m["MHW"] + found.above_zero_m["MLW"]) / 2)


def test_of_a_control_that_went_on_the_days_of_the_sites_record_alone_count() -> None:
    port = find("noaa/8670870")
    t = times(JUNE, 50)
    curve = Curve.for_station(port, JUNE - timedelta(days=3), JUNE + timedelta(days=53))
    tide = tide_of(port, JUNE, 50)(t) + 0.4 * (t > t[0] + 31 * 86_400)
    month = t <= t[0] + 30 * 86_400
    site, control = Levels(t[month], 2.0 + tide[month]), Levels(t, tide)
    cut, whole = (site_datums(site, port, curve, (32.0, -80.9), one).above_zero_m for one in (control.only(month), control))
    assert whole == pytest.approx(cut, abs=1e-9)
    assert whole["MLLW"] == pytest.approx(2.0, abs=0.005)


def test_a_month_alone_says_that_it_may_be_decimetres_off() -> None:
    t = times(JUNE, 30)
    found = alone(means(Levels(t, tide_of(find("noaa/8443970"), JUNE, 30)(t))))
    assert "without a control" in found.method
    assert min(found.errors_m.values()) >= 0.09


def test_the_expected_error_falls_with_the_months_and_grows_below_one() -> None:
    assert expected_error_m(30.4) == pytest.approx(0.040, abs=0.001)
    assert expected_error_m(365) == pytest.approx(0.015, abs=0.001)
    assert expected_error_m(10) > 0.06


def test_two_highs_a_day_the_higher_counts_and_diurnal_tides_have_one() -> None:
    t = times(JUNE, 60)
    boston, pensacola = (means(Levels(t, tide_of(find(name), JUNE, 60)(t))) for name in ("noaa/8443970", "noaa/8729840"))
    assert boston.mhhw_m - boston.mhw_m > 0.05
    gulf = means(Levels(t, tide_of(replace(find("noaa/8729840"), constituents=(("K1", 0.2, 0.0),)), JUNE, 60)(t)))
    assert gulf.mhhw_m == pytest.approx(gulf.mhw_m, abs=0.002)
    assert pensacola.mhhw_m >= pensacola.mhw_m
