"""SciPy's statistics, which the product does not load, and the certified files of its wheel as witnesses."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from scipy import stats

from fieldlog.outcomes.before_after import of_four_groups
from fieldlog.outcomes.cover import exact_share, plot_cover
from fieldlog.outcomes.intervals import of_difference, of_mean
from fieldlog.outcomes.joining import hartung_knapp
from fieldlog.outcomes.lines import line
from fieldlog.outcomes.trends import exact_p, mann_kendall, theil_sen
from tests.outcomes.cases import YEAR_DAYS, vectors

RANDOM = np.random.default_rng(20261127)
CERTIFIED = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_anova"


@pytest.mark.parametrize("n", [5, 8, 13])
def test_lines_medians_and_orders_are_those_of_scipy(n: int) -> None:
    for _ in range(20):
        t, y = np.sort(RANDOM.random(n)) * 3, np.round(RANDOM.normal(0, 3, n), 1)
        found, other = line(t, y).interval(), stats.linregress(t, y)
        assert np.allclose([found.value, found.se], [other.slope, other.stderr])
        median, theirs = theil_sen(list(t * YEAR_DAYS), list(y)), stats.theilslopes(y, t)
        assert np.allclose([median.slope_per_year, median.low_per_year, median.high_per_year], [theirs.slope, theirs.low_slope, theirs.high_slope])
        if len(np.unique(y)) == n:
            s = int(mann_kendall(list(t * YEAR_DAYS), list(y)).s)
            assert np.isclose(exact_p(n, s), stats.kendalltau(t, y, method="exact").pvalue)


def test_means_and_differences_are_those_of_scipy() -> None:
    for n, k in ((3, 3), (10, 4), (7, 20)):
        a, b = RANDOM.normal(3, 2, n), RANDOM.normal(1, 5, k)
        found, other = of_difference(a, b), stats.ttest_ind(a, b, equal_var=False).confidence_interval()
        assert np.allclose([found.low, found.high], [other.low, other.high])
        mean, theirs = of_mean(a), stats.ttest_1samp(a, 0).confidence_interval()
        assert np.allclose([mean.low, mean.high], [theirs.low, theirs.high])
        four = of_four_groups(b, np.full(3, 1.0), a, np.full(3, 1.0))
        assert np.allclose([four.low, four.high], [other.low, other.high]), "groups that do not vary leave the other two"


def test_shares_are_those_of_scipy() -> None:
    for hits, points in ((0, 20), (1, 29), (15, 148), (50, 50)):
        other = stats.binomtest(hits, points)
        found = plot_cover(hits, points)
        assert np.allclose([found.low, found.high], list(other.proportion_ci(method="wilson")), atol=1e-15)
        assert np.allclose(exact_share(hits, points), list(other.proportion_ci(method="exact")))


def test_programs_that_do_not_differ_have_the_plain_weights() -> None:
    effects, se = np.array([[9.0, 9.1, 8.9, 9.0]]), np.array([[1.0, 2, 3, 4]])
    found = hartung_knapp(effects, se)
    assert np.allclose(found.se, 1 / np.sqrt((1 / se**2).sum()))


@pytest.mark.parametrize("file", ["SiRstv.dat", "AtmWtAg.dat"])
def test_the_certified_groups_are_those_of_the_wheel(file: str) -> None:
    """NIST Statistical Reference Datasets; the files ship with SciPy."""
    text = (CERTIFIED / file).read_text("utf-8")
    rows = re.findall(r"^\s+(\d+)\s+(\d+\.\d+)\s*$", text, re.MULTILINE)
    given = next(each for each in vectors("nist_certified")["cases"] if each["name"] == f"NIST StRD {file}")
    assert [int(group) for group, _ in rows] == given["input"]["group"]
    assert [float(value) for _, value in rows] == given["input"]["y"]
    certified = float(re.search(r"Between \w+\s+\d+\s+\S+\s+\S+\s+(\S+)", text)[1])
    assert np.isclose(certified, given["expect"]["F"], rtol=1e-12)
