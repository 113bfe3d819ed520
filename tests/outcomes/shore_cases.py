"""Shoreline, flooding, cover, density, faces, sizes, diversity and how many more frames against their worked values."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import brentq
from scipy.special import psi

from fieldlog.outcomes.cover import (
    AllAlike,
    class_of,
    exact_share,
    mean_of_classes_pct,
    plot_cover,
    wilson,
    zone_cover,
)
from fieldlog.outcomes.density import density, faces_ratio, garwood, more_frames
from fieldlog.outcomes.diversity import diversity, rarefied_species
from fieldlog.outcomes.flooding import flooding, hours_under
from fieldlog.outcomes.intervals import Z, of_mean, t_quantile
from fieldlog.outcomes.lines import lag1
from fieldlog.outcomes.results import CannotTell, Caveat, Why
from fieldlog.outcomes.shoreline import (
    end_rate_m_y,
    end_rate_u_m_y,
    reach_rate,
    shore_movement,
    shore_rate,
    weighted_shore_rate,
)
from fieldlog.outcomes.sizes import class_of as size_class_of
from fieldlog.outcomes.sizes import mean_size, size_share, sizes
from tests.outcomes.cases import case, days, mean_row, same


def line_row(found):
    return {"slope": found.rate_m_y, "low": found.low_m_y, "high": found.high_m_y}


@case("shoreline", "published: 76.03 m in 69.82 y")
def published(given):
    found = end_rate_m_y(given["input"]["net_m"], given["input"]["years"])
    same({"rate_m_y": found, "rounded": round(found, 2)}, given["expect"])


@case("shoreline", "six yearly surveys, plain")
def plain(given):
    at, distance = days(given["input"]["year"]), given["input"]["distance_m"]
    moved, found = shore_movement(at, distance), shore_rate(at, distance)
    row = {"net_m": moved.net_m, "greatest_spread_m": moved.greatest_spread_m, "end_rate": moved.end_rate_m_y}
    same({**row, **line_row(found), "se": found.se_m_y, "r2": found.r2, "residual_sd": found.residual_sd_m}, given["expect"])


@case("shoreline", "end rate's uncertainty")
def end_rate_doubt(given):
    said = given["input"]
    u = end_rate_u_m_y(said["u1_m"], said["u2_m"], said["years"])
    # The file's half width takes each u as two sigma; the product takes it as 95 in 100 or as sigma, as the note says.
    same({"u": u, "half_width_95": u / 2 * 1.96}, given["expect"])
    ends = [0.0, said["years"]]
    as_95, as_sigma = (shore_movement(days(ends), [1, 2], [said["u1_m"], said["u2_m"]], is_sigma=is_sigma) for is_sigma in (False, True))
    same([as_95.end_rate_half_width_m_y, as_sigma.end_rate_half_width_m_y], [u, Z * u])


@case("shoreline", "weighted, 1/u2")
def weighted(given):
    said = given["input"]
    found = weighted_shore_rate(days(said["year"]), said["distance_m"], said["u_m"], is_sigma=True)
    row = {"chi2_reduced": found.reduced_chi2, "chi2_p_upper": found.chi2_p_upper, "chi2_p_lower": found.chi2_p_lower, "se_scaled": found.se_m_y}
    same({**line_row(found), **row, "se_from_u": found.se_m_y / math.sqrt(found.reduced_chi2)}, given["expect"])


@case("shoreline", "reach of three fixed transects, six surveys: line through the mean by date")
def reach(given):
    said = given["input"]
    found = reach_rate(days(said["year"]), said["distance_m"])
    same({**line_row(found), "se": found.se_m_y, "df": found.df, "mean_by_date": found.mean_by_date_m}, given["expect"])
    same([shore_rate(days(said["year"]), row).rate_m_y for row in said["distance_m"]], given["expect"]["slope_per_transect"])


@case("shoreline", "transects as a sample of a longer shore: effective number")
def effective_transects(given):
    """Not offered: it holds the truth in 68 to 92 of 100 where neighbors are alike. Its parts are the product's."""
    rates = np.array(given["input"]["rates_m_y"])
    found, memory = of_mean(rates), lag1(rates)
    effective = len(rates) * (1 - memory) / (1 + memory)
    se = float(found.se) * math.sqrt(len(rates) / effective)
    half = float(t_quantile(effective - 1)) * se
    same({**mean_row(found, 12), "lag1": memory, "n_effective": effective, "se_effective": se}, given["expect"])
    same({"low_effective": found.value - half, "high_effective": found.value + half}, given["expect"])


@case("flooding", "cosine tide 12.42 h")
def cosine(given):
    hours = np.arange(0, 12.42 * 60, 0.1)
    for row in given["expect"]:
        level, amplitude = row["level_over_mean_m"], row["amplitude_m"]
        found = flooding(hours, amplitude * np.cos(2 * np.pi * hours / 12.42), level, least_days=0)
        never_or_always = abs(level) >= amplitude
        assert (found.hours_a_flood is None) == never_or_always == (row["mean_hours_per_flood"] is None)
        same(found.share, row["share"], 1e-3)
        assert math.isclose(found.share, math.acos(max(-1, min(1, level / amplitude))) / math.pi, abs_tol=1e-3)
        if not never_or_always:
            # 60 tides begin, the last of them beyond the end of the series.
            same({"mean_hours_per_flood": found.hours_under / 60, "floods_per_day": 60 / (12.42 * 60 / 24)}, row, 1e-2)


@case("flooding", "sampled curve, linear crossings")
def sampled(given):
    said = given["input"]
    found = flooding(said["hours"], said["level_m"], said["plot_level_m"], least_days=0)
    same({"hours_under": found.hours_under, "share": found.share, "floods": found.floods}, given["expect"])
    assert hours_under(np.array(said["hours"], float), np.array(said["level_m"]), said["plot_level_m"]) == (found.hours_under, 1)


@case("cover", "Wilson")
def one_plot(given):
    for (hits, points), row in zip(given["input"], given["expect"], strict=True):
        found = plot_cover(hits, points)
        same({"low": found.low, "high": found.high}, row)
        assert (found.low == 0) == (hits == 0)
        assert (found.high == 1) == (hits == points)
    # Newcombe 1998, method 3, as published to four places (from memory).
    for (hits, points), ends in (((81, 263), (0.2553, 0.3662)), ((15, 148), (0.0624, 0.1605)), ((0, 20), (0, 0.1611)), ((1, 29), (0.0061, 0.1718))):
        found = plot_cover(hits, points)
        assert (round(found.low, 4), round(found.high, 4)) == ends


@case("cover", "Clopper-Pearson 4/20, 90 %")
def exact(given):
    same(dict(zip(("low", "high"), exact_share(*given["input"]), strict=True)), given["expect"])


@case("cover", "mean over six plots of 50 points", "same six plots: Wilson with the effective number of points")
def six_plots(given):
    shares = np.array(given["input"]["share"])
    found = zone_cover(list(shares * 50), [50] * len(shares))
    if "pooled_points_wilson" in given["expect"]:
        pooled = wilson(round(shares.sum() * 50) / 300, 300)  # whole points
        same({**mean_row(of_mean(shares), 6), "sd": found.sd, "pooled_points_wilson": pooled}, given["expect"])
        same(found.design_effect, given["design_effect"])
    else:
        row = {"mean": found.share, "design_effect": found.design_effect, "effective_points": found.effective_points}
        same({**row, "low": found.low, "high": found.high}, given["expect"])


@case("cover", "rare plant, eight plots")
def rare(given):
    shares = np.array(given["input"]["share"])
    found = zone_cover(list(shares * 50), [50] * len(shares))
    row = {"mean": found.share, "design_effect": found.design_effect, "effective_points": found.effective_points, "low": found.low, "high": found.high}
    same({"t": mean_row(of_mean(shares), 8), "effective": row}, given["expect"])
    assert of_mean(shares).low < 0 < found.low


@case("cover", "nothing found in 8 plots of 50 points")
def nothing(given):
    found = zone_cover([0] * given["input"]["plots"], [given["input"]["points"]] * given["input"]["plots"])
    assert isinstance(found, AllAlike)
    same({"mean": found.share, "occupied_share_of_plots_upper_95": found.most_share_of_plots}, given["expect"])
    assert f"fewer than {math.ceil(100 * found.most_share_of_plots)} %" in given["expect"]["sentence"]


@case("cover", "Daubenmire classes")
def midpoints(given):
    same(mean_of_classes_pct(given["input"]), given["expect"]["mean_percent"])


@case("cover", "class of a percent (lower bound belongs to the upper class; 100 to class 6)")
def classes(given):
    assert [class_of(percent) for percent in given["input"]] == given["expect"]


@case("density", "exact Poisson")
def poisson(given):
    for (animals, area), row in zip(given["input"], given["expect"], strict=True):
        low, high = garwood(animals, area)
        one = density([animals], area)
        same({"density": one.per_m2, "low": low, "high": high}, row)
        assert (one.low_per_m2, one.high_per_m2, one.caveats) == (low, high, (Caveat.ONE_FRAME, Caveat.IF_NOT_CLUMPED))


@case("density", "eight clumped quadrats of 0.0625 m2")
def clumped(given):
    counts, area = given["input"]["counts"], given["input"]["area_m2"]
    found, plain = density(counts, area), of_mean(np.array(counts) / area)
    row = {"n": found.frames, "mean_per_m2": found.per_m2, "variance_to_mean": found.variance_to_mean, "dispersion_p": found.dispersion_p}
    ends = {"log_low": found.low_per_m2, "log_high": found.high_per_m2, "t_low": plain.low, "t_high": plain.high}
    dispersion = {"dispersion_chi2": found.variance_to_mean * (found.frames - 1)}
    same({**row, **ends, **dispersion, "poisson_total": garwood(sum(counts), area * len(counts))}, given["expect"])


@case("density", "mites on apple leaves, 150 leaves (Bliss and Fisher 1953)")
def mites(given):
    leaves = np.repeat(np.arange(8), given["input"]["counts_of_0_to_7"])
    found = density(list(leaves), 1.0)
    mean, variance = leaves.mean(), leaves.var(ddof=1)
    same({"n": found.frames, "mean": found.per_m2, "variance": variance, "variance_to_mean": found.variance_to_mean}, given["expect"])
    same({"k_moments": mean**2 / (variance - mean)}, given["expect"])
    likeliest = brentq(lambda k: float((psi(leaves + k) - psi(k) + np.log(k / (k + mean))).sum()), 0.1, 10, xtol=1e-12)
    same({"k_maximum_likelihood": likeliest}, given["expect"], 1e-4)


@case("density", "all frames empty")
def empty_frames(given):
    found = density(given["input"]["counts"], given["input"]["area_m2"])
    same({"density": found.per_m2, "low": found.low_per_m2, "high": found.high_per_m2}, given["expect"])
    assert found.caveats == (Caveat.IF_NOT_CLUMPED,)


@case("faces", "inside over seaward, 12 units")
def faces(given):
    found = faces_ratio(given["input"]["inside"], given["input"]["seaward"])
    same({"ratio": found.ratio, "low": found.low, "high": found.high}, given["expect"])


@case("running_precision", "pilot of eight")
def frames(given):
    found = more_frames(given["input"]["counts"], given["input"]["relative"])
    same({"cv": found.cv, "half_width_now": found.half_width_now}, given["expect"])
    row = {"n_pilot_t": found.by_pilot, "n_iterated_t": found.about, "n_z": found.by_normal, "n_assured_80": found.assured}
    same(row, given["expect"], 0)


@case("sizes", "worked case, sizes")
def heights(given):
    found = sizes(given["input"])
    row = {"bins": found.bins, "n": found.animals, "mean": found.mean_mm, "median": found.median_mm, "sd": found.sd_mm}
    same({**row, **found.counts}, given["expect"])


@case("sizes", "bounds")
def size_bounds(given):
    assert [size_class_of(height) for height in given["input"]] == given["expect"]


@case("sizes", "share of spat, frames as clusters")
def spat(given):
    found = size_share(given["input"], "spat")
    row = {"share": found.share, "se": found.se, "low": found.low, "high": found.high, "frames": found.frames, "animals": found.animals}
    same({**row, "wilson_as_if_independent": wilson(found.share, found.animals)}, given["expect"])


@case("sizes", "mean size, frames as clusters")
def mean_height(given):
    found = mean_size(given["input"])
    same({"mean": found.mean_mm, "se": found.se_mm, "df": found.df}, given["expect"])


@case("diversity", "rows")
def diverse(given):
    for counts, row in zip(given["input"], given["expect"], strict=True):
        found = diversity(counts)
        worked_out = {
            "S": found.species, "N": found.animals, "H_ln": found.shannon_ln, "H_log2": found.shannon_log2, "simpson_1_minus_D": found.simpson_1_minus_d,
            "simpson_unbiased": found.simpson_unbiased, "pielou": found.pielou_j, "chao1_bc": found.chao1, "chao1_classic": found.chao1_classic,
            "singletons": found.singletons, "doubletons": found.doubletons, "singletons_share": found.singletons / found.animals,
            "coverage_good": found.coverage_good,
        }  # fmt: skip
        same(worked_out, row)
        if found.chao1 > found.species:
            same([found.chao1_low, found.chao1_high], row["chao1_interval"])
        else:  # nobody is estimated unseen: an interval of no width, or one of another formula, would say more than is known
            assert (found.chao1_low, found.chao1_high) == (None, None)


@case("diversity", "one species only")
def one_species(given):
    found = diversity(given["input"])
    same({"S": found.species, "H_ln": found.shannon_ln, "pielou": found.pielou_j, "simpson_1_minus_D": found.simpson_1_minus_d}, given["expect"])


@case("diversity", "nobody there")
def nobody(given):
    found = diversity(given["input"])
    assert isinstance(found, CannotTell)
    assert (found.why, found.least) == (Why.NONE_SEEN, 2)
    assert given["expect"]["sentence"] == f"none of the {found.least:.0f} listed species was seen"


@case("diversity", "pooled over unequal effort must be standardised")
def rarefied(given):
    same(rarefied_species(given["input"]["a"], given["input"]["to_n"]), given["expect"]["expected_species"])
