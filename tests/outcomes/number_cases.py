"""Trends, before and after, joined methods, criteria, visits to come, observers and certified data against their worked values."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from scipy.special import fdtrc

from fieldlog.outcomes.agreement import Agreement, ShareAgreed, agreement, weighted_kappa
from fieldlog.outcomes.before_after import before_after, before_after_unpaired
from fieldlog.outcomes.criteria import Criterion, Direction, no_change, verdict
from fieldlog.outcomes.intervals import Z, interval, of_mean, two_sided_p
from fieldlog.outcomes.joining import ACCRETION, SURFACE, MeasuredRate, join
from fieldlog.outcomes.lines import lag1, line
from fieldlog.outcomes.more_visits import more_visits
from fieldlog.outcomes.results import CannotTell, Why
from fieldlog.outcomes.trends import exact_p, mann_kendall, memory, theil_sen, trend
from tests.outcomes.cases import case, days, same, vectors


@case("trends", "worked case, straight", "worked case, with a bad seventh point (12.1 for 19.5)", "ties", "five dates")
def trends(given):
    t, y, expect = days(given["input"]["t"]), given["input"]["y"], given["expect"]
    straight, median, order = trend(t, y), theil_sen(t, y), mann_kendall(t, y)
    row = {"n": straight.dates, "slope": straight.slope_per_year, "se": straight.se_per_year, "low": straight.low_per_year, "r2": straight.r2}
    ends = {"theil_sen": median.slope_per_year, "theil_low": median.low_per_year, "theil_high": median.high_per_year}
    same({**row, **ends, "high": straight.high_per_year, "S": order.s, "var_S": order.variance_s, "tau": order.tau}, expect)
    if order.p_normal is not None:
        same({"Z": order.z, "p_normal": order.p_normal}, expect)
    if given["name"] == "ties":
        assert (order.p, order.p_exact) == (order.p_normal, None)
    else:
        same({"p_exact": order.p_exact}, expect)
        assert order.p == order.p_exact
    assert (order.p_normal is None) == (len(t) < 8)


@case("trends", "exact two-sided p of S")
def exact(given):
    same([exact_p(n, s) for n, s in given["input"]], given["expect"])


@case("trends", "least numbers")
def least(given):
    for dates, row in given["expect"].items():
        n = int(dates)
        same(exact_p(n, n * (n - 1) // 2), row["least_two_sided_p_exact"])
        found = theil_sen(days(list(range(n))), [place + 0.1 * (place % 2) for place in range(n)])
        assert isinstance(found, CannotTell) is not row["theil_sen_95_exists"]


@case("nist_certified", "Norris")
def norris(given):
    """NIST Statistical Reference Datasets, certified."""
    x, y = np.array(given["input"]["x"]), np.array(given["input"]["y"])
    found = line(x, y)
    assert np.unique(x).size < x.size
    n, off = len(x), x - x.mean()
    se_intercept = np.sqrt(found.residual_variance * (1 / n + x.mean() ** 2 / (off @ off)))
    r2 = 1 - (found.residuals @ found.residuals) / ((y - y.mean()) ** 2).sum()
    row = {"slope": found.slope, "intercept": found.intercept, "se_slope": np.sqrt(found.slope_variance), "se_intercept": se_intercept}
    same({**row, "residual_sd": np.sqrt(found.residual_variance), "df": found.df, "r2": r2}, given["expect"])


@case("nist_certified", "Michelson")
def michelson(given):
    """NIST Statistical Reference Datasets, certified."""
    y = np.array(given["input"]["y"])
    found = of_mean(y)
    same({"n": len(y), "mean": found.value, "sd": found.se * np.sqrt(len(y)), "lag1_autocorrelation": lag1(y)}, given["expect"])
    assert memory(list(y)) == lag1(y)


@case("nist_certified", "NIST StRD SiRstv.dat", "NIST StRD AtmWtAg.dat")
def groups(given):
    """NIST Statistical Reference Datasets, certified one-way groups: what makes readings of one group no replicates."""
    group, y, expect = np.array(given["input"]["group"]), np.array(given["input"]["y"]), given["expect"]
    each = np.stack([y[group == number] for number in np.unique(group)])
    found, within = of_mean(each.mean(1)), each.var(1, ddof=1).mean()
    per_group, k = each.shape[1], len(each)
    between_ms = found.se**2 * k * per_group
    f = between_ms / within
    digits = 1e-7 if "AtmWtAg" in given["name"] else 1e-9
    for name, value in {"ms_between": between_ms, "ms_within": within, "F": f, "variance_between_from_certified": max(0, (between_ms - within) / per_group)}.items():
        assert abs(value / expect[name] - 1) < digits, name
    same({"mean_of_group_means": found.value}, expect)
    assert abs(found.se / expect["se_groups_as_replicates"] - 1) < digits
    assert abs(of_mean(y).se / expect["se_all_as_replicates"] - 1) < digits
    assert fdtrc(k - 1, k * (per_group - 1), f) < 0.5


@case("before_after", "worked case, dates as replicates (default)")
def by_dates(given):
    said = given["input"]
    found = before_after(said["impact_before"], said["control_before"], said["impact_after"], said["control_after"])
    row = {"difference": found.effect, "se": found.se, "t": found.effect / found.se, "df": found.df, "p": found.p, "low": found.low, "high": found.high}
    same(row, given["expect"])


def _worked_groups():
    said = vectors("before_after")["cases"][0]["input"]
    return [said[name] for name in ("impact_before", "control_before", "impact_after", "control_after")]


@case("before_after", "same, four groups as if unpaired, pooled")
def pooled_groups(given):
    """Not offered: it takes all groups to scatter alike."""
    four = [np.array(each, float) for each in _worked_groups()]
    effect = before_after_unpaired(*_worked_groups()).effect
    variance = np.mean([each.var(ddof=1) for each in four])
    found = interval(np.asarray(effect), np.sqrt(variance * 4 / 5), 16)
    t = found.value / found.se
    row = {"effect": found.value, "se": found.se, "t": t, "p": two_sided_p(t, 16), "low": found.low, "high": found.high, "df": found.df}
    same(row, given["expect"])


@case("before_after", "same, four groups, Welch")
def welch_groups(given):
    found = before_after_unpaired(*_worked_groups())
    same({"effect": found.effect, "se": found.se, "df": found.df, "low": found.low, "high": found.high}, given["expect"])


@case("before_after", "two dates before: no interval")
def two_before(given):
    before, after = given["input"]["difference_before"], given["input"]["difference_after"]
    found = before_after(before, [0, 0], after, [0, 0, 0])
    assert isinstance(found, CannotTell)
    assert (found.why, found.has, found.least) == (Why.TOO_FEW_DATES_BEFORE, 2, 3)
    assert given["expect"]["why"] == "fewer than 3 dates before"


@case("before_after", "lag-1 of the differences")
def lagged(given):
    residuals = given["input"]["residuals"]
    same({"lag1_within_periods": before_after(residuals[:5], [0] * 5, residuals[5:], [0] * 5).lag1}, given["expect"])


@case("combine", "stakes, levels, table agree", "they do not agree")
def joined(given):
    said = given["input"]
    found = join([
        MeasuredRate(str(place), SURFACE, "reef", 0, 700, rate, se, df, int(df) + 1)
        for place, (rate, se, df) in enumerate(zip(said["rate"], said["se"], said["df"], strict=True))
    ])  # fmt: skip
    row = {
        "weights": list(found.weights.values()), "combined": found.rate_mm_y, "se_plain": found.se_plain_mm_y, "se_few_replicates": found.se_few_replicates_mm_y,
        "Q": found.q, "Q_p": found.q_p, "birge": found.birge, "se_used": found.se_mm_y, "df": found.df, "low": found.low_mm_y, "high": found.high_mm_y,
        "tau2_dersimonian_laird": found.tau2_mm2_y2, "state": "joined" if found.apart_because is None else "apart",
    }  # fmt: skip
    same(row, given["expect"])


@case("combine", "accretion is not elevation")
def not_joined(given):
    assert given["input"]["kind"] == [SURFACE, ACCRETION]
    found = join([MeasuredRate(kind, kind, "reef", 0, 700, rate, 1, 5, 6) for kind, rate in zip(given["input"]["kind"], given["input"]["rate"], strict=True)])
    assert isinstance(found, CannotTell)
    assert found.why is Why.OTHER_QUANTITY
    assert given["expect"]["state"] == "apart"


@case("criteria", "table")
def verdicts(given):
    for row in given["expect"]:
        due, today = date.fromisoformat(row["due"]), date.fromisoformat(row["today"])
        written = date(2026, 1, 1)
        criterion = Criterion(Direction(row["direction"]), row["threshold"], due, written, 2)
        visits = [written + timedelta(days=each) for each in (-90, 0, 90)]
        found = verdict(criterion, row["low"], row["high"], today, visits)
        assert found.word == row["verdict"], row
        assert (found.is_so_far, found.version, found.written_after_visits) == (today < due, 2, 2)


@case("criteria", "no change larger than")
def no_larger_change(given):
    said, expect = given["input"], given["expect"]
    found = no_change(said["difference"], said["se"], said["df"], within=3)
    same({"low90": found.low_90, "high90": found.high_90, "no_change_larger_than": found.larger_than}, expect)
    assert found.is_within
    whole = interval(np.asarray(said["difference"]), np.asarray(said["se"]), said["df"])
    same({"low95": whole.low, "high95": whole.high}, expect)
    assert no_change(8, 1.1, 12) is None


@case(
    "more_visits", "rate 9, threshold 5, spread 6, 4 a year, 6 so far", "rate 9, threshold 5, spread 6, 12 a year, 6 so far",
    "rate 6, threshold 5, spread 6, 4 a year, 6 so far", "rate 5.2, threshold 5, spread 6, 4 a year, 6 so far",
    "rate 9, threshold 0, spread 6, 4 a year, 4 so far",
)  # fmt: skip
def visits(given):
    said, expect = given["input"], given["expect"]
    found = more_visits(said["rate"], said["threshold"], said["spread"], said["per_year"], said["visits"])
    if expect["n_visits"] is None:
        assert isinstance(found, CannotTell)
        assert found.why is Why.NOT_WITHIN_TEN_YEARS
    else:
        same({"n_visits": found.visits, "more": found.more, "years_from_first": found.years, "half_width_then": found.half_width_per_year}, expect)


@case("agreement", "four grades, 60 units", "two by two")
def observers(given):
    table = given["input"]
    found, expect = agreement(table), given["expect"]["quadratic"]
    assert isinstance(found, Agreement)
    plain = {"low_plain": found.kappa - Z * found.se, "high_plain": found.kappa + Z * found.se}
    same({"kappa": found.kappa, "se": found.se, "low": found.low, "high": found.high, **plain}, expect, 1e-6)
    if len(table) == 2:
        same({"kappa": found.kappa, "se": found.se}, given["expect"]["unweighted"], 1e-6)
    else:
        same([found.low, found.high], given["expect"]["bootstrap_95_quadratic"], 0.01)
        # Each grade against the rest is a table of two grades, where weights change nothing: kappa unweighted is their mean by weight.
        counts = np.array(table, float)
        seen = np.trace(counts) / counts.sum()
        by_chance = (counts.sum(0) * counts.sum(1)).sum() / counts.sum() ** 2
        same({"kappa": (seen - by_chance) / (1 - by_chance)}, given["expect"]["unweighted"], 1e-6)
    assert np.allclose(weighted_kappa(np.array([table, table], float))[0], found.kappa)


@case("agreement", "all in one grade")
def one_grade(given):
    found = agreement(given["input"])
    assert isinstance(found, ShareAgreed)
    assert found.why is Why.ONE_GRADE
    assert f"{found.agreed} of {found.pairs} agreed" in given["expect"]["sentence"]


@case("agreement", "fewer than 20 pairs")
def few_pairs(given):
    found = agreement(given["input"])
    assert isinstance(found, ShareAgreed)
    assert (found.why, found.pairs, found.agreed) == (Why.TOO_FEW_PAIRS, given["expect"]["pairs"], given["expect"]["agreed"])
