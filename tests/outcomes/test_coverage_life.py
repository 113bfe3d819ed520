"""Intervals of cover, counts, dates, joined methods, programs, observers and trends on made sites. The made sites are our own."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from fieldlog.outcomes.agreement import weighted_kappa
from fieldlog.outcomes.before_after import of_four_groups
from fieldlog.outcomes.cover import effective_points, wilson
from fieldlog.outcomes.density import MoreFrames, garwood, more_frames, of_counts, ratio_of
from fieldlog.outcomes.intervals import Interval, of_difference, of_mean
from fieldlog.outcomes.joining import hartung_knapp, pooled
from fieldlog.outcomes.lines import line
from fieldlog.outcomes.more_visits import more_visits
from fieldlog.outcomes.trends import theil_sen
from tests.outcomes.covering import Ends, Random, Row, drawn, held

USUAL = (93.0, 97.0)
CLUMPED_PLOTS = {0.3: 6.0, 0.1: 6.0, 0.03: 10.0}
"""By mean cover the sum of the two shapes of the beta distribution that plots' shares are drawn from: at 3 % and 6, Wilson holds 87 to 89."""


def ends_of(found: Interval, truth: object) -> Ends:
    return found.low, found.high, truth  # type: ignore[return-value]


def made_cover(random: Random, sites: int, mean: float, plots: int) -> np.ndarray:
    shares = random.beta(mean * CLUMPED_PLOTS[mean], (1 - mean) * CLUMPED_PLOTS[mean], (sites, plots))
    return random.binomial(50, shares) / 50


def cover(mean: float, plots: int, random: Random, sites: int) -> Ends:
    """Where all plots are alike another sentence is said, without an interval; here that counts as not held."""
    shares = made_cover(random, sites, mean, plots)
    told = (shares.mean(1) > 0) & (shares.mean(1) < 1)
    _, effective = effective_points(shares[told], 50 * plots)
    low, high = np.ones(sites), np.zeros(sites)
    low[told], high[told] = wilson(shares[told].mean(1), effective)
    return low, high, mean


def cover_by_percent(mean: float, plots: int, random: Random, sites: int) -> Ends:
    shares = random.beta(mean * CLUMPED_PLOTS[mean], (1 - mean) * CLUMPED_PLOTS[mean], (sites, plots))
    return *wilson(shares.mean(1), effective_points(shares, None)[1]), mean


def made_counts(random: Random, shape: tuple[int, int], mean: float, k: float | None) -> np.ndarray:
    return random.poisson(mean if k is None else mean * random.gamma(k, 1 / k, shape), shape).astype(float)


def counts(mean: float, k: float | None, frames: int, random: Random, sites: int) -> Ends:
    """Frames that are all alike are told by Garwood's interval."""
    seen = made_counts(random, (sites, frames), mean, k)
    alike = np.ptp(seen, axis=1) == 0
    low, high = garwood(seen.sum(1), frames)
    _, low[~alike], high[~alike] = of_counts(seen[~alike])
    return low, high, mean


def faces(random: Random, sites: int) -> Ends:
    unit = np.exp(random.normal(0, 0.35, (sites, 12)))
    inside, seaward = (random.poisson(mean * unit * random.gamma(3, 1 / 3, (sites, 12))).astype(float) for mean in (11, 3))
    _, low, high = ratio_of(inside, seaward)
    return low, high, 11 / 3


def remembering(random: Random, shape: tuple[int, ...], memory: float) -> np.ndarray:
    noise = random.normal(0, 1, (*shape[:-1], shape[-1] + 30))
    for place in range(1, noise.shape[-1]):
        noise[..., place] = memory * noise[..., place - 1] + noise[..., place] * np.sqrt(1 - memory**2)
    return noise[..., -shape[-1] :]


def before_after(dates: int, memory: float, random: Random, sites: int) -> Ends:
    differences = 2 * remembering(random, (sites, 2 * dates), memory)
    return ends_of(of_difference(13 + differences[:, dates:], differences[:, :dates]), 13.0)


def made_rates(random: Random, sites: int, bias: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    df = np.array([9.0, 4.0, 3.0])
    se = np.array([1.0, 1.5, 1.0])
    rate = 8 + random.normal(0, se, (sites, 3)) + random.normal(0, bias, (sites, 3))
    return rate, se * np.sqrt(random.chisquare(df, (sites, 3)) / df), np.broadcast_to(df, (sites, 3))


def joined(random: Random, sites: int) -> Ends:
    return ends_of(pooled(*made_rates(random, sites, 0)).interval, 8.0)


def programs(k: int, by: str, random: Random, sites: int) -> Ends:
    se = random.uniform(1, 4, (sites, k))
    effects = 9 + random.normal(0, 3, (sites, k)) + random.normal(0, se)
    return ends_of(of_mean(effects) if by == "plain mean" else hartung_knapp(effects, se), 9.0)


GRADES = np.array([0.35, 0.30, 0.20, 0.15])
AGREED = 0.80


def graded() -> np.ndarray:
    """How two observers grade: mostly alike, else by one grade."""
    table = np.diag(GRADES * AGREED)
    for grade in range(3):
        table[grade, grade + 1] = table[grade + 1, grade] = (1 - AGREED) / 6
    return table / table.sum()


def kappa(pairs: int, random: Random, sites: int) -> Ends:
    """Tables that agree all over are told by the share that agreed."""
    tables = random.multinomial(pairs, graded().ravel(), sites).reshape(sites, 4, 4).astype(float)
    told = np.trace(tables, axis1=1, axis2=2) < pairs
    low, high = np.full(sites, np.nan), np.full(sites, np.nan)
    _, _, low[told], high[told] = weighted_kappa(tables[told])
    return low, high, weighted_kappa(graded()[None])[0]


def median_slope(dates: int, random: Random, sites: int) -> Ends:
    days = np.arange(dates) * 91.0
    found = [theil_sen(days, 9 * days / 365.25 + noise) for noise in random.normal(0, 3, (sites, dates))]
    return [one.low_per_year for one in found], [one.high_per_year for one in found], 9.0


EFFECTIVE = "Wilson with the effective number of points"

ROWS = [
    *(Row(f"cover {mean}, {plots} plots", USUAL if mean == 0.3 else (90, 97), partial(cover, mean, plots), (f"cover, mean {mean}, {plots} plots of 50 points", EFFECTIVE)) for mean in (0.3, 0.1, 0.03) for plots in (5, 8, 12, 20)),
    *(Row(f"cover {mean} by percent, {plots} plots", USUAL if mean == 0.3 else (90, 97), partial(cover_by_percent, mean, plots)) for mean in (0.3, 0.1) for plots in (5, 12)),
    *(
        Row(f"counts, mean {mean}, k {k}, {frames} frames", (90, 98), partial(counts, mean, k, frames), (f"counts, mean {mean}, k {'no clumping' if k is None else k}, {frames} frames", "t on the log scale"))
        for mean in (3, 10) for k in (0.5, 1, 2, None) for frames in (4, 6, 8, 12, 20)
    ),
    Row("faces, 12 units", (92, 97), faces),
    *(Row(f"before and after, {dates} dates each", (93, 97.5), partial(before_after, dates, 0), (f"before-after, {dates} and {dates} dates, memory 0", "Welch over dates of the difference")) for dates in (3, 4, 6, 12)),
    Row("three methods joined", USUAL, joined, ("three methods joined (df 9, 4, 3), bias of each 0", "Meier x Birge, t")),
    *(Row(f"{k} programs, {by}", USUAL, partial(programs, k, by)) for k in (4, 6, 10) for by in ("plain mean", "random effects")),
    *(Row(f"kappa, {pairs} pairs", (92, 97), partial(kappa, pairs)) for pairs in (20, 30, 60)),
    *(Row(f"median slope, {dates} dates", (94, 99.5), partial(median_slope, dates), (f"Theil-Sen, {dates} dates, normal", "scipy theilslopes")) for dates in (5, 6, 8, 12)),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_an_interval_holds_the_truth_as_often_as_it_says(row: Row) -> None:
    held(row)


def share(ends: Ends) -> float:
    low, high, truth = ends
    return 100 * float(np.mean((low <= truth) & (truth <= high)))


def test_the_ways_that_are_not_taken_hold_it_too_seldom() -> None:
    """Plain t and Poisson where animals clump, all points as one, weights alone where methods have few replicates."""
    random, sites = drawn("not taken"), 400
    seen = made_counts(random, (sites, 6), 3, 0.5)
    assert share(ends_of(of_mean(seen), 3.0)) < 89
    assert share((*garwood(seen.sum(1), 6), 3.0)) < 70
    shares = made_cover(random, sites, 0.3, 8)
    assert share((*wilson(shares.mean(1), 400), 0.3)) < 65
    rate, se, df = made_rates(random, sites, 0)
    found = pooled(rate, se, df)
    assert share((found.interval.value - 1.96 * found.se_plain, found.interval.value + 1.96 * found.se_plain, 8.0)) < 89
    assert share(ends_of(pooled(*made_rates(random, sites, 1.5)).interval, 8.0)) < 93, "a method's own error is not in it: the caveat is true"


def test_before_and_after_is_too_narrow_where_dates_remember_and_too_wide_unpaired() -> None:
    random, sites = drawn("dates"), 400
    assert share(before_after(12, 0.4, random, sites)) < 89
    season = 5 * np.sin(2 * np.pi * np.arange(12) / 4)
    groups = [mean + season[:6] + random.normal(0, 1.4, (sites, 6)) for mean in (0, 0, 13, 0)]
    unpaired, by_dates = of_four_groups(groups[0], groups[1], groups[2], groups[3]), of_difference(groups[2] - groups[3], groups[0] - groups[1])
    assert np.median(unpaired.high - unpaired.low) > 2 * np.median(by_dates.high - by_dates.low)


def test_a_criterion_looked_at_after_every_visit_is_met_by_luck() -> None:
    """A line at its threshold exactly, looked at at visits 4 to 12: so "so far" stands beside every look but the last."""
    random, sites = drawn("looks"), 2000
    y = 5 * np.arange(12) / 4 + random.normal(0, 6, (sites, 12))
    looks = np.stack([line(np.arange(k) / 4, y[:, :k]).interval().low >= 5 for k in range(4, 13)])
    assert 1 <= 100 * looks[-1].mean() <= 4
    assert 9 <= 100 * looks.any(0).mean() <= 16


def test_visits_that_are_said_to_tell_do_so_more_often_than_not() -> None:
    """A chance of 80 in 100 was asked for."""
    random, sites = drawn("visits to come"), 2000
    visits = more_visits(9, 5, 6, 4, 6).visits
    t = np.arange(visits) / 4
    found = line(t, 9 * t + random.normal(0, 6, (sites, visits))).interval()
    assert 80 <= 100 * np.mean(found.low >= 5) <= 88


def test_frames_that_are_said_to_do_reach_their_aim_in_half_of_sites_and_the_assured_ones_in_most() -> None:
    random, sites = drawn("frames to come"), 400
    shape, mean = 4.0, 11.0
    reached: dict[str, list[bool]] = {"about": [], "assured": []}
    for _ in range(sites):
        pilot = random.poisson(mean * random.gamma(shape, 1 / shape, 8)).astype(float)
        said = more_frames(list(pilot))
        assert isinstance(said, MoreFrames)
        for name, aims in reached.items():
            frames = getattr(said, name)
            counts = random.poisson(mean * random.gamma(shape, 1 / shape, frames)).astype(float)
            aims.append(bool(of_mean(counts).high - counts.mean() <= 0.2 * counts.mean()))
    assert 35 <= 100 * np.mean(reached["about"]) <= 60
    assert 70 <= 100 * np.mean(reached["assured"]) <= 90
