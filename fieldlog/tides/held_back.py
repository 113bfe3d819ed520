"""
What a way to predict the tide leaves of a record's levels on days that it has not seen: blocks of days left out of the fit in turn.

A block's own mean level stays in what is left, and so does how far the whole record stands from the level that is used.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from fieldlog.tides.allowance import blocks_of
from fieldlog.tides.evenly import hourly
from fieldlog.tides.least_squares import columns, solved, sums_of
from fieldlog.tides.parting import Inference
from fieldlog.tides.record import Levels

Tide = Callable[[np.ndarray], np.ndarray]


def left_of_constants(levels: Levels, kept: Sequence[str], assumed: Sequence[Inference], borrowed: Tide) -> np.ndarray:
    """
    Of harmonic constants, by plain least squares.

    Args:
        levels: metres above the mean level that is used for predictions.
        kept, assumed: what is fitted to the whole record, and what is inferred.
        borrowed: the tide that is taken from the reference port as it is, such as its yearly wave.

    Returns:
        Metres, shape of the levels.
    """
    names = [*kept, *(one.name for one in assumed)]
    at_s, mean_m, count = hourly(levels.t_s, levels.level_m)
    mean_m = mean_m - borrowed(at_s)
    design = columns(at_s, names, count)
    whole = sums_of(design, mean_m)
    left = np.empty(len(levels.t_s))
    for start_s, end_s in _blocks(levels):
        out = (at_s >= start_s) & (at_s < end_s)
        fit = solved(whole.without(sums_of(design[out], mean_m[out])), kept, assumed)
        over_all_m = float(np.nanmean(mean_m - design @ fit.weights))
        block = (levels.t_s >= start_s) & (levels.t_s < end_s)
        tide = columns(levels.t_s[block], names) @ fit.weights + borrowed(levels.t_s[block])
        # The weights hold the mean of the other days; what all days together stand off the level in use is put back.
        left[block] = levels.level_m[block] - tide + over_all_m + fit.mean_m
    return left


def left_of(levels: Levels, made_from: Callable[[Levels], Tide]) -> np.ndarray:
    """
    Of any way to predict that is made from levels.

    Args:
        levels: metres above the datum of the prediction.
        made_from: the tide predicted from some of the levels.
    """
    left = np.empty(len(levels.t_s))
    for start_s, end_s in _blocks(levels):
        block = (levels.t_s >= start_s) & (levels.t_s < end_s)
        off = levels.level_m - made_from(levels.only(~block))(levels.t_s)
        left[block] = off[block] - float(np.mean(off[~block])) + float(np.mean(off))
    return left


def _blocks(levels: Levels) -> list[tuple[float, float]]:
    """From when to when each block of days runs, seconds; the last one holds the last level."""
    edges = np.linspace(levels.t_s[0], levels.t_s[-1] + 1, blocks_of(levels.days) + 1)
    return list(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True))
