"""Offsets, residuals and the choice between the ways, on made records whose truth is known, and on a published station."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from made import BEGIN, beside, tide_of, times, weather

from fieldlog.errors import RecordTooShort
from fieldlog.stations import find
from fieldlog.tides.curve import Curve
from fieldlog.tides.datums import expected_error_m
from fieldlog.tides.fitting import fit_offsets
from fieldlog.tides.highs_lows import Tops, highs_and_lows
from fieldlog.tides.proposal import propose
from fieldlog.tides.record import Levels
from fieldlog.tides.residuals import at_lows, of_readings, season_of

FORT = find("noaa/8670870")


def tops(curve: Curve) -> Tops:
    found = curve.extremes()
    return Tops(np.array([e.at_utc.timestamp() for e in found]), np.array([e.level_m for e in found]), np.array([e.kind == "high" for e in found]))


def test_published_offsets_of_a_station_are_found_again_from_a_month_of_its_levels() -> None:
    """Hudson, New York, by NOAA's published offsets: high 418 and low 439 minutes later, heights 0.88 and 0.86 times."""
    hudson = find("noaa/8518974")
    t = times(BEGIN, 45)
    curve = Curve.for_station(hudson.harmonic, BEGIN - timedelta(days=3), BEGIN + timedelta(days=48))
    found = fit_offsets(highs_and_lows(Levels(t, tide_of(hudson, BEGIN, 45)(t) + np.random.default_rng(2).normal(0, 0.02, len(t)))), tops(curve))
    assert hudson.offsets
    assert found.offsets.minutes_high == pytest.approx(hudson.offsets.minutes_high, abs=3)
    assert found.offsets.minutes_low == pytest.approx(hudson.offsets.minutes_low, abs=4)
    high = found.offsets.times_high * 1.3 + found.offsets.plus_high_m
    assert high == pytest.approx(hudson.offsets.times_high * 1.3, abs=0.02)


def test_a_few_days_give_offsets_and_fewer_a_sentence() -> None:
    t = times(BEGIN, 5)
    curve = Curve.for_station(FORT, BEGIN - timedelta(days=3), BEGIN + timedelta(days=8))
    own = tide_of(FORT, BEGIN, 5)(t - 1500) * 1.15 + 0.3
    found = fit_offsets(highs_and_lows(Levels(t, own)), tops(curve)).offsets
    assert found.minutes_high == pytest.approx(25, abs=2)
    assert found.minutes_low == pytest.approx(25, abs=2)
    assert (found.times_low, found.plus_low_m) == (pytest.approx(1.15, abs=0.01), pytest.approx(0.3, abs=0.02))
    with pytest.raises(RecordTooShort, match="three days or more"):
        fit_offsets(highs_and_lows(Levels(t[:300], own[:300])), tops(curve))


@pytest.mark.parametrize(("days", "ways"), [(6, ["station", "offsets"]), (45, ["station", "offsets", "constants"]), (380, ["station", "offsets", "constants"])])
def test_each_way_is_tried_on_days_it_has_not_seen_and_the_better_is_proposed(days: float, ways: list[str]) -> None:
    rng = np.random.default_rng(4)
    site = beside(FORT, rng)
    t = times(BEGIN, days)
    levels = Levels(t, tide_of(site, BEGIN, days)(t) + weather(len(t), 360.0, 0.03, rng) - 3.2)
    found = propose(levels, FORT, (32.0, -80.9))
    assert [one.kind for one in found.candidates] == ways
    errors = {one.kind: one.tried.rms_m for one in found.candidates}
    assert errors[found.proposed] <= min(errors.values()) * 1.04
    assert found.proposed != "station"
    assert errors["offsets"] < 0.6 * errors["station"]
    assert all(one.tried.days >= 1.8 for one in found.candidates)
    if days > 300:
        assert found.proposed == "constants"
    # What is made of it speaks of the reference port's chart datum, which lies where the comparison says.
    best = next(one for one in found.candidates if one.kind == found.proposed)
    later = BEGIN + timedelta(days=days + 20)
    ahead = tide_of(best.station, later, 5)(times(later, 5)) + found.chart_datum_m
    assert np.sqrt(np.mean((ahead - (tide_of(site, later, 5)(times(later, 5)) - 3.2)) ** 2)) < 0.14


def test_a_levelled_zero_counts_in_place_of_the_comparison() -> None:
    t = times(BEGIN, 20)
    found = propose(Levels(t, tide_of(FORT, BEGIN, 20)(t) + 1.5), FORT, (32.0, -80.9), zero_above_chart_datum_m=-1.5)
    assert found.chart_datum_m == 1.5


def test_a_datum_that_scatters_from_week_to_week_is_less_sure() -> None:
    """Lows that a sill holds back by another amount each week; highs are left alone."""
    t = times(BEGIN, 60)
    tide = tide_of(FORT, BEGIN, 60)(t)
    held = np.random.default_rng(4).uniform(0, 0.5, 9)[((t - t[0]) // (7.4 * 86_400)).astype(int)]
    site = Levels(t, tide + np.where(tide < 0.3, held, 0.0))
    found = propose(site, FORT, (32.0, -80.9), control=Levels(t, tide)).datums
    table = expected_error_m(60)
    assert found.errors_m["MHHW"] == pytest.approx(table, rel=0.05)
    assert found.errors_m["MLLW"] > 1.2 * table
    assert found.errors_m["MTL"] < found.errors_m["MLW"]


def test_weeks_without_levels_do_not_count_among_the_parts() -> None:
    t = times(BEGIN, 45)
    t = t[(t < t[0] + 8 * 86_400) | (t > t[0] + 36 * 86_400)]
    found = propose(Levels(t, tide_of(FORT, BEGIN, 45)(t)), FORT, (32.0, -80.9)).datums
    assert all(np.isfinite(error) for error in found.errors_m.values())


def test_a_port_without_highs_on_the_records_days_is_told() -> None:
    """As a diurnal tide that all but stops twice a month."""
    t = times(BEGIN, 5)
    site = Levels(t, tide_of(FORT, BEGIN, 5)(t))
    with pytest.raises(RecordTooShort, match="fewer than three highs and lows"):
        propose(site, FORT, (32.0, -80.9), control=Levels(t, np.linspace(0, 0.1, len(t))))


def test_observed_control_levels_take_the_weather_out_of_the_datums() -> None:
    t = times(BEGIN, 31)
    surge = 0.2 + weather(len(t), 360.0, 0.08, np.random.default_rng(9))
    tide = tide_of(FORT, BEGIN, 31)(t)
    site = Levels(t, 5.0 + tide * 0.9 + surge)
    seen = propose(site, FORT, (32.0, -80.9), control=Levels(t, tide + surge))
    blind = propose(site, FORT, (32.0, -80.9))
    assert seen.chart_datum_m == pytest.approx(5.0, abs=0.01)
    assert abs(blind.chart_datum_m - 5.0) > 0.1
    assert all(error > seen.datums.errors_m[name] + 0.03 for name, error in blind.datums.errors_m.items())


def test_residuals_around_lows_are_the_highest_hourly_means_within_two_hours() -> None:
    t = times(BEGIN, 200)
    left_m = weather(len(t), 360.0, 0.10, np.random.default_rng(1))
    curve = Curve.for_station(FORT, BEGIN, BEGIN + timedelta(days=200))
    lows = [one.at_utc.timestamp() for one in curve.extremes() if one.kind == "low"]
    found = at_lows(t, left_m, lows, 32.0)
    assert found is not None
    higher = 0
    for low in lows[1:-1]:
        near = np.convolve(left_m[np.abs(t - low) <= 7200], np.ones(10) / 10, "valid")
        higher += bool(near.max() > found.whole.metres[95])
    assert higher / (len(lows) - 2) == pytest.approx(0.05, abs=0.015)
    assert (found.years, len(found.left_m)) == ("2026", found.whole.count)
    assert sum(part.count for part in found.seasons.values()) == found.whole.count


def test_both_ends_of_two_hours_count() -> None:
    t = np.arange(49) * 3600.0
    for hour, is_in in ((21, False), (22, True), (26, True), (27, False)):
        left_m = np.zeros(49)
        left_m[hour] = 0.3
        found = at_lows(t, left_m, [24 * 3600.0], 40.0)
        assert found is not None and found.left_m == ((0.3,) if is_in else (0.0,))


def test_what_an_allowance_rests_on_is_held_back() -> None:
    """A storm of a week is followed by the fit that has seen it, and stands whole in what another part's fit leaves."""
    days = 60
    t = times(BEGIN, days)
    storm = 0.25 * ((t > t[0] + 20 * 86_400) & (t < t[0] + 27 * 86_400))
    found = propose(Levels(t, tide_of(FORT, BEGIN, days)(t) + storm), FORT, (32.0, -80.9))
    assert [len(one.left_m) for one in found.candidates] == [len(t)] * 3
    constants = found.candidates[-1]
    inside = tide_of(constants.station, BEGIN, days)(t)
    fitted_m = np.mean((storm - storm.mean() + tide_of(FORT, BEGIN, days)(t) - inside)[storm > 0])
    held_back_m = np.mean((constants.left_m - np.mean(constants.left_m))[storm > 0])
    assert held_back_m > fitted_m + 0.005


@pytest.mark.parametrize(("step_s", "hourly_m"), [(360.0, 0.1), (720.0, 0.2), (3600.0, 1.0)], ids=["6 min", "12 min", "hourly"])
def test_one_level_a_metre_high_counts_for_its_part_of_an_hour(step_s: float, hourly_m: float) -> None:
    """By hand: one of the ten levels of an hour is a tenth of its mean; of hourly levels each is an hour's."""
    t = np.arange(int(12 * 3600 / step_s) + 1) * step_s
    found = at_lows(t, np.where(t == 6 * 3600, 1.0, 0.0), [6 * 3600.0], 40.0)
    assert found is not None and found.whole.count == 1
    assert found.whole.metres == {p: pytest.approx(hourly_m) for p in (50, 90, 95, 99)}


def test_a_wave_of_known_size_has_known_percentiles() -> None:
    """By hand: residuals 0.01, 0.02 ... 1.00 m; the 95th percentile between the 95th and the 96th of 100 is 0.9505."""
    at = [datetime(2025, 1, 1, tzinfo=UTC).timestamp() + 86400 * n for n in range(100)]
    found = of_readings(at, [0.01 * (n + 1) for n in range(100)], 40.0)
    assert found is not None
    assert found.whole.metres == pytest.approx({50: 0.505, 90: 0.901, 95: 0.9505, 99: 0.9901})


def test_no_readings_leave_nothing() -> None:
    assert of_readings([], [], 40.0) is None


@pytest.mark.parametrize(
    ("months", "north", "south"),
    [((12, 1, 2), "winter", "summer"), ((3, 4, 5), "spring", "autumn"), ((6, 7, 8), "summer", "winter"), ((9, 10, 11), "autumn", "spring")],
)
def test_seasons_are_turned_south_of_the_equator(months: tuple[int, ...], north: str, south: str) -> None:
    for month in months:
        at = datetime(2026, month, 15, tzinfo=UTC).timestamp()
        assert (season_of(at, 40.0), season_of(at, 0.0), season_of(at, -0.1), season_of(at, -40.0)) == (north, north, south, south)


def test_the_spread_of_a_season_is_that_of_its_own_months() -> None:
    """Half a metre in every January, nothing in every July, told apart on both sides of the equator."""
    at = [datetime(2026, month, 1 + n, tzinfo=UTC).timestamp() for month in (1, 7) for n in range(25)]
    for lat_deg, january, july in ((32.0, "winter", "summer"), (-32.0, "summer", "winter")):
        found = of_readings(at, [0.5] * 25 + [0.0] * 25, lat_deg)
        assert found is not None
        assert {name: (one.count, one.metres[50]) for name, one in found.seasons.items()} == {january: (25, 0.5), july: (25, 0.0)}


def test_readings_over_a_turn_of_the_year_name_both_years() -> None:
    at = [datetime(2025, 12, 20, tzinfo=UTC).timestamp() + 86_400 * n for n in range(30)]
    found = of_readings(at, [0.1] * 30, 40.0)
    assert found is not None
    assert (found.years, found.first.year, found.last.year) == ("2025-26", 2025, 2026)


def test_a_logger_dry_at_every_low_still_gives_constants_and_datums_with_a_larger_error() -> None:
    """Cut at 0.9 m above the chart datum: no low water is left in it."""
    days = 60
    t = times(BEGIN, days)
    own = tide_of(FORT, BEGIN, days)(t - 900) * 1.05
    wet = own > 0.9
    found = propose(Levels(t[wet], own[wet] + 2.0), FORT, (32.0, -80.9))
    assert "it has no low tide" in found.datums.method
    assert found.chart_datum_m == pytest.approx(2.0, abs=0.03)
    assert min(found.datums.errors_m.values()) > 0.09
    assert [one.kind for one in found.candidates] == ["station", "constants"]
    assert any("offsets need" in reason for reason in found.reasons)
    best = found.candidates[-1]
    ahead = tide_of(best.station, BEGIN, days)(t) - tide_of(FORT, BEGIN, days)(t - 900) * 1.05
    assert np.sqrt(np.mean(ahead**2)) < 0.12


def test_a_record_without_a_tide_is_told() -> None:
    t = times(BEGIN, 20)
    with pytest.raises(RecordTooShort, match="fewer than three high tides"):
        propose(Levels(t, 1.0 + 1e-5 * (t - t[0]) / 3600), FORT, (32.0, -80.9))


def test_against_a_port_by_offsets_a_sites_own_are_told_from_the_station_that_has_constants() -> None:
    """At Hudson itself they are Hudson's: 418 minutes later than where its offsets begin, not none."""
    hudson = find("noaa/8518974")
    t = times(BEGIN, 8)
    found = propose(Levels(t, tide_of(hudson, BEGIN, 8)(t) + 1.0), hudson, (hudson.lat_deg, hudson.lon_deg))
    offsets = next(one for one in found.candidates if one.kind == "offsets")
    assert offsets.offsets is not None
    assert offsets.offsets.offsets.minutes_high == pytest.approx(418, abs=5)
    assert offsets.tried.rms_m < 0.05
