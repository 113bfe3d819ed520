"""
How often an interval holds the truth of made sites, and the bar it is held to.

FIELDLOG_MADE_SITES is how many sites a row takes. With the 2,000 of `make soak` the bars are held as they stand; with fewer each is
widened by four Monte Carlo errors. The seed was fixed before anything was run: SEED and the row's name.
"""

from __future__ import annotations

import math
import os
import zlib
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from tests.outcomes.cases import vectors

SITES = int(os.environ.get("FIELDLOG_MADE_SITES", "400"))
WHOLE = 2000
SEED = 20261127
MONTE_CARLO_ERRORS = 4

Random = np.random.Generator
Ends = tuple[ArrayLike, ArrayLike, ArrayLike]
"""Low and high end of each site's interval (NaN where none is told), and the truth."""


def drawn(row: str) -> Random:
    """The numbers of a row of made sites."""
    return np.random.default_rng([SEED, zlib.crc32(row.encode())])


@dataclass(frozen=True)
class Row:
    """
    Made sites, and the bar in percent that the interval over them is held to.

    Attributes:
        recorded: made sites and estimator of the row of tests/vectors/outcomes/coverage.json that another program worked out, if it has one.
    """

    name: str
    bar: tuple[float, float]
    ends: Callable[[Random, int], Ends]
    recorded: tuple[str, str] | None = None

    def percent(self) -> float:
        """Of the sites whose interval is told, how many hold the truth."""
        low, high, truth = (np.broadcast_to(each, SITES) for each in self.ends(drawn(self.name), SITES))
        told = np.isfinite(low) & np.isfinite(high)
        assert told.mean() > 0.5
        return 100 * float(((low <= truth) & (truth <= high))[told].mean())

    def limits(self) -> tuple[float, float]:
        """The bar as it stands, or widened."""
        if SITES >= WHOLE:
            return self.bar
        low, high = (MONTE_CARLO_ERRORS * 100 * math.sqrt(edge / 100 * (1 - edge / 100) / SITES) for edge in self.bar)
        return self.bar[0] - low, self.bar[1] + high


def held(row: Row) -> None:
    """Asserts that a row's coverage is within its bar, and what another program made of such sites, within four errors of both."""
    percent, (low, high) = row.percent(), row.limits()
    assert low <= percent <= high, f"{row.name}: {percent:.1f} of 100, not within {low:.1f} and {high:.1f}"
    if row.recorded:
        other = RECORDED[row.recorded]
        apart = MONTE_CARLO_ERRORS * math.sqrt(other * (100 - other) * (1 / SITES + 1 / WHOLE))
        assert abs(percent - other) <= apart, f"{row.name}: {percent:.1f} of 100, elsewhere {other}"


RECORDED = {(row["made_sites"], row["estimator"]): row["coverage_percent"] for row in vectors("coverage")["rows"]}
