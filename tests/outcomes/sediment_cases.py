"""Stakes, tables, horizons, repeated visits, seasons, resets, levels, profiles and volumes against their worked values."""

from __future__ import annotations

import numpy as np

from fieldlog.outcomes.horizons import accretion, shallow_subsidence
from fieldlog.outcomes.intervals import of_difference, of_mean, two_sided_p
from fieldlog.outcomes.leveling import Setup, length_limit_mm, level_run, two_rod_profile
from fieldlog.outcomes.lines import line, line_with_wave
from fieldlog.outcomes.profiles import (
    area_doubt,
    end_area_volume,
    prismoidal_volume_m3,
    profile_change,
    reach_volume,
    trapezoid_weights_m,
)
from fieldlog.outcomes.results import CannotTell, Caveat, Why
from fieldlog.outcomes.stake_readings import StakeReadings
from fieldlog.outcomes.stakes import bed_change, bed_change_less_control, bed_rate, bed_rate_less_control
from fieldlog.outcomes.tables import TableReadings, table_change, zone_change_of_tables
from fieldlog.outcomes.trends import slopes_over_plots, trend
from tests.outcomes.cases import case, days, mean_row, same


def stakes(zone: str, years: list[float], exposed_mm: list[list[float | None]]) -> StakeReadings:
    return StakeReadings(zone, [f"{zone} {place}" for place in range(len(exposed_mm))], days(years), exposed_mm)


@case("stakes", "ten stakes, one change")
def one_change(given):
    said = given["input"]
    found = bed_change(stakes("reef", [0, 1], [list(pair) for pair in zip(said["exposed_before_mm"], said["exposed_after_mm"], strict=True)]))
    row = {"change_mm": list(found.change_mm_of.values()), "n": found.stakes, "mean": found.change_mm, "sd": found.sd_mm, "se": found.se_mm}
    same({**row, "df": found.df, "low": found.low_mm, "high": found.high_mm}, given["expect"])


@case("stakes", "three stakes: the least that gets an interval")
def three_stakes(given):
    found = bed_change(stakes("reef", [0, 1], [[change, 0] for change in given["input"]["change_mm"]]))
    same({"n": found.stakes, "mean": found.change_mm, "sd": found.sd_mm, "low": found.low_mm, "high": found.high_mm}, given["expect"])


def rate_row(found):
    return {
        "rate": found.rate_mm_y, "visits": found.visits, "variance_stakes": found.by_stakes_mm2_y2, "visit_series": found.series_mm,
        "variance_visits": found.by_visits_mm2_y2, "se": found.se_mm_y, "df": found.df, "low": found.low_mm_y, "high": found.high_mm_y,
    }  # fmt: skip


@case("stakes", "six stakes, seven visits, two readings missing: rate")
def rate(given):
    found = bed_rate(stakes("reef", given["input"]["years"], given["input"]["exposed_mm"]))
    slopes = list(found.slopes_mm_y.values())
    same({**rate_row(found), "slope_per_stake": slopes, "stakes_only": mean_row(of_mean(np.array(slopes)), 6)}, given["expect"])


@case("stakes", "reef minus control, same visits: rate")
def rate_less_control(given):
    said = given["input"]
    found = bed_rate_less_control(stakes("reef", said["years"], said["reef_exposed_mm"]), stakes("control", said["years"], said["control_exposed_mm"]))
    slopes_alone = of_difference(*(np.array(list(each.values())) for each in (found.slopes_mm_y, found.control_slopes_mm_y)))
    same({**rate_row(found), "welch_over_slopes": [slopes_alone.low, slopes_alone.high]}, given["expect"])


@case("stakes", "three visits: a change, no rate with interval")
def three_visits(given):
    readings = stakes("reef", [0, 0.5, 1.5], [[420, 415, 410], [400, 399, 391], [411, 405, 402]])
    assert bed_rate(readings).why is Why.TOO_FEW_VISITS
    assert bed_rate(readings).least == 4
    assert bed_change(readings).change_mm > 0
    assert given["expect"]["state"] == "cannot_tell"


@case("tables_and_horizons", "one table, 4 directions x 9 pins")
def table(given):
    pins = given["input"]
    found = table_change(TableReadings("T1", [0, 400], {name: [[0] * len(row), row] for name, row in pins.items()}))
    row = {"direction_means": found.of, "mean": found.change_mm, "se": found.se_mm, "df": found.df, "low": found.low_mm, "high": found.high_mm}
    same({**row, "se_mixed_model": found.se_mm}, given["expect"], 1e-6)
    as_if_independent = of_mean(np.array([pin for row in pins.values() for pin in row], float))
    same({"se_pins_as_if_independent": as_if_independent.se}, given["expect"], 1e-6)


@case("tables_and_horizons", "worked case: direction means")
def directions(given):
    same(mean_row(of_mean(np.array(given["input"])), 4), given["expect"], 1e-6)


@case("tables_and_horizons", "three tables of one zone")
def zone_of_tables(given):
    found = zone_change_of_tables({str(place): mean for place, mean in enumerate(given["input"]["table_means"])})
    same({"mean": found.change_mm, "se": found.se_mm, "df": found.df, "low": found.low_mm, "high": found.high_mm}, given["expect"], 1e-6)


@case("tables_and_horizons", "horizon: two cores a plot, three plots, 2.0 years after laying")
def horizon(given):
    found = accretion(given["input"]["plots"], given["input"]["years"])
    row = {"plot_means": list(found.plot_mean_mm.values()), "n": found.plots, "mean": found.accretion_mm, "se": found.se_mm, "df": found.df}
    rates = {"rate_mm_y": found.rate_mm_y, "rate_low": found.rate_low_mm_y, "rate_high": found.rate_high_mm_y}
    same({**row, **rates, "low": found.low_mm, "high": found.high_mm}, given["expect"], 1e-6)


@case("tables_and_horizons", "shallow subsidence = accretion - elevation change, apart measured")
def subsidence(given):
    found = shallow_subsidence(tuple(given["input"]["accretion"]), tuple(given["input"]["elevation"]))
    same({"difference": found.difference, "se": found.se, "df": found.df, "low": found.low, "high": found.high}, given["expect"], 1e-6)


@case("repeated_visits", "eight plots, eight visits")
def repeated(given):
    years, levels = given["input"]["years"], given["input"]["level_mm"]
    found = slopes_over_plots(days(years), {str(place): row for place, row in enumerate(levels)})
    row = {"mean": found.slope_per_year, "se": found.se_per_year, "df": found.df, "low": found.low_per_year, "high": found.high_per_year}
    same({"by_plot": row, "slopes": list(found.slope_of.values())}, given["expect"])
    same({"slope": found.slope_per_year, "se": found.se_per_year}, given["expect"]["random_slope_model"], 0.02)
    t, y = np.tile(years, 8), np.ravel(levels)
    alone = line(t, y).interval()
    same({"slope": alone.value, "se": alone.se, "low": alone.low, "high": alone.high}, given["expect"]["all_readings_as_if_independent"])
    levels_off = trend(days(list(t)), list(y), [place for place in range(8) for _ in years])
    row = {"slope": levels_off.slope_per_year, "se": levels_off.se_per_year, "low": levels_off.low_per_year, "high": levels_off.high_per_year}
    same(row, given["expect"]["all_readings_plot_levels_removed"])


@case("season", "two years, two-monthly")
def season(given):
    t, y = np.array(given["input"]["years"]), np.array(given["input"]["level_mm"])
    waved, plain = line_with_wave(t, y), line(t, y).interval()
    found = waved.interval()
    row = {"slope": found.value, "se": found.se, "low": found.low, "high": found.high, "amplitude": waved.amplitude}
    same({**row, "plain_slope": plain.value, "plain_low": plain.low, "plain_high": plain.high}, given["expect"])


@case("resets", "reset after 0.75 y")
def reset(given):
    years = [year for piece in given["input"] for year in piece["years"]]
    levels = [-each for piece in given["input"] for each in piece["exposed_mm"]]
    pieces = [number for number, piece in enumerate(given["input"]) for _ in piece["years"]]
    found = trend(days(years), levels, pieces)
    overlooked = trend(days(years), levels)
    row = {"rate": found.slope_per_year, "se": found.se_per_year, "df": found.df, "low": found.low_per_year, "high": found.high_per_year}
    same({**row, "rate_if_the_reset_were_overlooked": overlooked.slope_per_year}, given["expect"])


@case("levelling", "loop that closes to 4 mm: within", "same loop, 20 mm misread planted at T2", "no closing mark: levels, no check")
def levels(given):
    said = given["input"]
    setups = [Setup(row["bs"], row["fs"], row["point"], row["dist_m"], {shot["point"]: shot["fs"] for shot in row.get("side", ())}) for row in said["rows"]]
    found = level_run(said["start_level_m"], setups, said["end_level_m"])
    points = [
        {"point": at.point, "level_m": at.level_m, "setup": at.setup} | ({} if at.along_m is None else {"along_m": at.along_m}) for at in found.levels
    ]
    adjusted = None if found.adjusted is None else [{"point": at.point, "level_m": at.level_m} for at in found.adjusted]
    row = {"check_sum_bs_minus_fs_m": found.check_sum_m, "misclosure_mm": found.misclosure_mm, "length_m": found.length_m, "setups": found.setups}
    limits = {"limit_12_sqrt_km_mm": found.limit_by_length_mm, "reading_floor_mm": found.limit_by_reading_mm, "limit_used_mm": found.limit_mm}
    same({**row, **limits, "within": found.is_within, "levels": points, "adjusted": adjusted}, given["expect"])
    assert abs(found.check_sum_m - (found.levels[-1].level_m - said["start_level_m"])) < 1e-9


@case("levelling", "limits at lengths")
def limits(given):
    same([length_limit_mm(length) for length in given["input"]["length_m"]], given["expect"]["limit_mm"])


@case("levelling", "two-rod profile")
def two_rods(given):
    said = given["input"]
    found = two_rod_profile(said["start_level_m"], [(step["along_m"], step["rise_m"]) for step in said["steps"]], said["sigma_step_m"], said["known_end_level_m"])
    row = {"along_m": found.along_m, "level_m": found.level_m, "misclosure_m": found.misclosure_m, "sigma_end_m": found.sigma_m[-1], "limit_m": found.limit_m}
    same(row, given["expect"])
    assert found.is_within


@case("profiles", "worked case, profile", "crossings: net zero, not nothing", "other stations, other reach")
def profile(given):
    said = given["input"]
    found = profile_change(said["x0"], said["z0"], said["x1"], said["z1"])
    row = {name: getattr(found, name) for name in given["expect"]}
    same(row, given["expect"])


@case("profiles", "its uncertainty")
def profile_doubt(given):
    said, expect = given["input"], given["expect"]
    found = area_doubt(said["x"], said["x"], said["sigma_reading_m"], said["sigma_mark_m"])
    same(trapezoid_weights_m(said["x"]), expect["weights_m"])
    same({"sigma_readings_m2": found.by_readings_m2, "sigma_mark_m2": found.by_mark_m2, "sigma_m2": found.sigma_m2}, expect)


@case("volumes", "worked case", "uneven spacing, loss at one end")
def volume(given):
    said = given["input"]
    found = end_area_volume(said["along_m"], said["gain_m2"], said["loss_m2"])
    same({"gain_m3": found.gain_m3, "loss_m3": found.loss_m3, "net_m3": found.net_m3}, given["expect"])


@case("volumes", "prismoidal of a pyramid: exact, end-area half as much again")
def pyramid(given):
    length, areas = given["input"]["length_m"], given["input"]["areas_m2"]
    ends = end_area_volume([0, length], [areas[0], areas[2]], [0, 0])
    same({"prismoidal_m3": prismoidal_volume_m3(length, *areas), "end_area_m3": ends.gain_m3}, given["expect"])
    assert ends.caveats == (Caveat.ONE_END_IS_ZERO,)


@case("volumes", "volume with interval, transects as replicates")
def volume_of_reach(given):
    found = reach_volume(given["input"]["net_m2_per_transect"], given["input"]["reach_m"])
    row = {"n": found.transects, "mean": found.mean_area_m2, "se": found.se_area_m2, "df": found.df}
    same({**row, "volume_m3": found.volume_m3, "volume_low": found.low_m3, "volume_high": found.high_m3}, given["expect"])


@case("two_zones", "Student's sleep, Welch", "stakes, reef 10 and control 8")
def welch(given):
    a, b = (np.array(given["input"][name], float) for name in "ab")
    found = of_difference(a, b)
    t = found.value / found.se
    row = {"difference": found.value, "se": found.se, "t": t, "df": found.df, "p": two_sided_p(t, found.df), "low": found.low, "high": found.high}
    same(row, given["expect"])


@case("two_zones", "Student's sleep, paired")
def paired(given):
    differences = np.subtract(given["input"]["a"], given["input"]["b"])
    found = of_mean(differences)
    t = found.value / found.se
    same({**mean_row(found, 10), "t_stat": t, "p": two_sided_p(t, found.df)}, given["expect"])


@case("two_zones", "two in one zone: no interval shown")
def two_in_a_zone(given):
    readings = [stakes(zone, [0, 1], [[change, 0] for change in given["input"][name]]) for zone, name in (("reef", "a"), ("control", "b"))]
    found = bed_change_less_control(*readings)
    assert isinstance(found, CannotTell)
    assert (found.why, found.zone, found.has, found.least) == (Why.TOO_FEW_STAKES, "control", 2, 3)
    assert given["expect"]["why"] == "fewer than 3 places in the control"
