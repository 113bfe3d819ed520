"""
Means with t-intervals, differences of two groups, and their quantiles: arrays of any leading shape, the last axis are the replicates.

Student 1908; Welch 1947. Quantiles by scipy.special, which is what scipy.stats stands on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtr, stdtrit

from fieldlog.outcomes.results import Floats

LEVEL = 0.95
Z = float(ndtri(0.975))
"""1.959964: the normal quantile of a two-sided interval."""


def t_quantile(df: Floats | float, level: float = LEVEL) -> Floats:
    """Student's quantile of a two-sided interval; `df` > 0 of any shape."""
    return np.asarray(stdtrit(df, 0.5 + level / 2), float)


def two_sided_p(t: Floats | float, df: Floats | float) -> Floats:
    """How often |t| or more comes by chance."""
    return np.asarray(2 * stdtr(df, -np.abs(t)), float)


@dataclass(frozen=True, slots=True)
class Interval:
    """A value with its standard error, degrees of freedom and interval, in the unit of what went in; scalars or arrays alike."""

    value: Floats
    se: Floats
    df: Floats
    low: Floats
    high: Floats


def interval(value: Floats, se: Floats, df: Floats | float, level: float = LEVEL) -> Interval:
    """value +- t se."""
    half = t_quantile(df, level) * se
    return Interval(value, se, np.asarray(df, float), value - half, value + half)


def of_mean(values: Floats, level: float = LEVEL) -> Interval:
    """The mean of the last axis (n values of each, n >= 2, none missing), t(n - 1)."""
    n = values.shape[-1]
    return interval(values.mean(-1), values.std(-1, ddof=1) / np.sqrt(n), n - 1, level)


def summed(variances: tuple[Floats, ...], dfs: tuple[Floats | float, ...]) -> tuple[Floats, Floats]:
    """
    The variance of a sum of independent parts, and its degrees of freedom by Welch and Satterthwaite.

    Where all parts are 0 the degrees of freedom are those of the first.
    """
    total = np.asarray(sum(variances), float)
    below = sum(np.square(variance) / np.asarray(df, float) for variance, df in zip(variances, dfs, strict=True))
    has = np.asarray(below) > 0
    return total, np.where(has, total**2 / np.where(has, below, 1.0), np.asarray(dfs[0], float))


def of_difference(a: Floats, b: Floats, level: float = LEVEL) -> Interval:
    """Mean of a minus mean of b, last axes, by Welch."""
    parts = tuple(group.var(-1, ddof=1) / group.shape[-1] for group in (a, b))
    variance, df = summed(parts, (a.shape[-1] - 1, b.shape[-1] - 1))
    return interval(a.mean(-1) - b.mean(-1), np.sqrt(variance), df, level)


def on_log_scale(mean: Floats, relative_se: Floats, df: float, level: float = LEVEL) -> Interval:
    """A positive value with its interval on the log scale: value exp(+- t relative_se); `se` is relative."""
    half = t_quantile(df, level) * relative_se
    return Interval(mean, relative_se, np.asarray(df, float), mean * np.exp(-half), mean * np.exp(half))
