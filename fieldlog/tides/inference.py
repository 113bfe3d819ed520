"""
What an inference adds to the intervals of constants: of the one that is inferred, and of its source, which takes up what is wrong.

For each ratio and each lag one more solve with it off by one sigma; the squares of the differences are added to those of the noise.
Without it P1's interval held its truth in 5 to 33 % of made records, and its source K1's in 22 to 68 %
(tests/tides/test_inference.py). The sigmas are our own proposal.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from fieldlog.tides.least_squares import Sums, solved
from fieldlog.tides.parting import Inference

RATIO_SIGMA, LAG_SIGMA_DEG = 0.05, 3.0
"""Of a ratio, in parts of it, and of a lag, where both are a reference port's nearby."""

EQUILIBRIUM_RATIO_SIGMA, EQUILIBRIUM_LAG_SIGMA_DEG = 0.10, 10.0
"""
The same of the equilibrium tide's ratios. At two thirds of NOAA's stations K2, P1 and NU2 lie within 5 % and 4 degrees of them (some
of these were inferred themselves), Q1, M1, J1 and RHO within 10 % and 28, L2 and MU2 within 28 % and 72 degrees.
"""

NORMAL_95 = 1.96

Halves = tuple[float, float]
"""Half the 95 % interval of an amplitude (m) and of a phase lag (degrees)."""


def widened(sums: Sums, kept: Sequence[str], assumed: Sequence[Inference], noise: Mapping[str, Halves]) -> dict[str, Halves]:
    """
    Intervals with the inferences' own uncertainty.

    Args:
        sums: of the record over [*kept, *inferred].
        noise: half intervals by name that the noise alone leaves; an inferred one has its source's, scaled.
    """
    usual = solved(sums, kept, assumed).constants
    squares = {name: (half_m**2, half_deg**2) for name, (half_m, half_deg) in noise.items()}
    for place, one in enumerate(assumed):
        for other in _off_by_a_sigma(one):
            moved = solved(sums, kept, [*assumed[:place], other, *assumed[place + 1 :]]).constants
            for name, (square_m, square_deg) in squares.items():
                by_m = NORMAL_95 * (abs(moved[name]) - abs(usual[name]))
                by_deg = NORMAL_95 * math.degrees(cmath.phase(moved[name] / usual[name])) if usual[name] and moved[name] else 0.0
                squares[name] = square_m + by_m**2, square_deg + by_deg**2
    return {name: (math.sqrt(square_m), math.sqrt(square_deg)) for name, (square_m, square_deg) in squares.items()}


def _off_by_a_sigma(one: Inference) -> tuple[Inference, Inference]:
    ratio_sigma, lag_sigma_deg = (RATIO_SIGMA, LAG_SIGMA_DEG) if one.is_ports else (EQUILIBRIUM_RATIO_SIGMA, EQUILIBRIUM_LAG_SIGMA_DEG)
    return replace(one, ratio=one.ratio * (1 + ratio_sigma)), replace(one, phase_deg=one.phase_deg + lag_sigma_deg)
