"""
Marker horizons: accretion since laying, where the plot is the replicate; and shallow subsidence, accretion less elevation change.

A horizon that is not found is missing: 0 stands only where the marker was seen at the surface. Eroded horizons cannot show loss.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.intervals import interval, of_mean, summed
from fieldlog.outcomes.results import (
    CannotTell,
    Caveat,
    LeftOut,
    Method,
    Reading,
    Why,
    as_floats,
    is_spread,
    read_ones,
)

LEAST_PLOTS = 3

ACCRETION = Method("horizon-accretion", "1", "mean of readings by core, of cores by plot, t over plots", "plot")
SUBSIDENCE = Method("shallow-subsidence", "1", "difference of two measures; degrees of freedom by Welch and Satterthwaite", "plot and table")


@dataclass(frozen=True, slots=True)
class Accretion:
    """
    What lies above the horizon, in mm, and in mm a year since it was laid.

    Attributes:
        plot_mean_mm: of each plot whose horizon was found.
        plots, plots_not_found: how many were and were not.
    """

    method: Method
    accretion_mm: float
    se_mm: float
    df: float
    low_mm: float
    high_mm: float
    years: float
    rate_mm_y: float
    rate_low_mm_y: float
    rate_high_mm_y: float
    plot_mean_mm: dict[str, float]
    plots: int
    plots_not_found: int
    left_out: tuple[LeftOut, ...]
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True)
class Subsidence:
    """Accretion less elevation change, in the unit of what went in (mm or mm a year): plus means that the ground below sank."""

    method: Method
    difference: float
    se: float
    df: float
    low: float
    high: float


def accretion(cores_mm: Mapping[str, Sequence[Sequence[Reading]]], years_since_laying: float) -> Accretion | CannotTell:
    """
    Accretion of a zone.

    Args:
        cores_mm: by plot its cores, each a row of 3 or 4 readings; a plot whose horizon was not found has none.
        years_since_laying: of 365.25 days.

    Raises:
        ValueError: years that are not above 0.
    """
    if not years_since_laying > 0:
        raise ValueError(f"{years_since_laying} years since laying; a number above 0 is needed")
    means: dict[str, float] = {}
    notes: list[LeftOut] = []
    for plot, cores in cores_mm.items():
        read = [float(one.mean()) for one in (read_ones(core) for core in cores) if len(one)]
        if read:
            means[plot] = float(np.mean(read))
        else:
            notes.append(LeftOut(plot, Why.NOT_FOUND))
    values = as_floats(list(means.values()))
    if len(values) < LEAST_PLOTS:
        return CannotTell(ACCRETION, Why.TOO_FEW_PLOTS, len(values), LEAST_PLOTS, left_out=tuple(notes))
    if not is_spread(values):
        return CannotTell(ACCRETION, Why.NO_SPREAD, len(values), left_out=tuple(notes))
    found = of_mean(values)
    value, low, high = (float(each) for each in (found.value, found.low, found.high))
    return Accretion(
        ACCRETION, value, float(found.se), float(found.df), low, high, years_since_laying, value / years_since_laying, low / years_since_laying, high / years_since_laying,
        means, len(means), len(notes), tuple(notes), (Caveat.HORIZONS_NOT_FOUND,) if notes else (),
    )  # fmt: skip


def shallow_subsidence(accretion_se_df: tuple[float, float, float], elevation_se_df: tuple[float, float, float]) -> Subsidence:
    """Accretion less elevation change, each as (value, standard error, degrees of freedom) of the same span and place."""
    (above, se_above, df_above), (level, se_level, df_level) = accretion_se_df, elevation_se_df
    variance, df = summed((np.asarray(se_above**2), np.asarray(se_level**2)), (df_above, df_level))
    found = interval(np.asarray(above - level), np.sqrt(variance), df)
    return Subsidence(SUBSIDENCE, float(found.value), float(found.se), float(found.df), float(found.low), float(found.high))
