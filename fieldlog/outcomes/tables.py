"""
Rod surface-elevation tables and marker horizons. Within one table the direction is the replicate, within a zone the table or the plot.

Pins read at one direction of a table share its arm and its ground: nine pins are no nine replicates. Protocol after Cahoon et al. 2002
and Lynch et al. 2015 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.intervals import Interval, of_mean
from fieldlog.outcomes.lines import line_in_pieces
from fieldlog.outcomes.results import (
    YEAR_DAYS,
    CannotTell,
    Caveat,
    Floats,
    LeftOut,
    Method,
    Reading,
    Why,
    as_floats,
    is_spread,
)

LEAST_PINS, LEAST_DIRECTIONS, LEAST_TABLES = 5, 3, 3
LEAST_VISITS, LEAST_YEARS = 4, 1.0
"""Our suggestion, as for stakes."""

_SOURCE = "t over directions: Lynch et al. 2015, from memory"
CHANGE = Method("table-change", "1", _SOURCE, "direction")
RATE = Method("table-rate", "1", _SOURCE, "direction")
ZONE_CHANGE = Method("tables-change", "1", "t over tables", "table")
ZONE_RATE = Method("tables-rate", "1", "t over tables", "table")


@dataclass(frozen=True)
class TableReadings:
    """
    One table; k visits in order.

    Attributes:
        days: (k,) in days from any one beginning.
        pins_mm: by direction (k, pins) heights, plus is up; None or NaN where not read.
        noted: by direction (k, pins) whether a pin stood on a shell, a hole or a root: it is left out.
        pieces: (k,) a number that changes where a rod was replaced or the datum is another one.
    """

    table: str
    days: Sequence[float]
    pins_mm: Mapping[str, Sequence[Sequence[Reading]]]
    noted: Mapping[str, Sequence[Sequence[bool]]] | None = None
    pieces: Sequence[int] | None = None


@dataclass(frozen=True, slots=True)
class ElevationChange:
    """Surface elevation change in mm, plus is up, of a table from its directions or of a zone from its tables; `of`: the mean of each."""

    method: Method
    change_mm: float
    se_mm: float
    df: float
    low_mm: float
    high_mm: float
    of: dict[str, float]
    left_out: tuple[LeftOut, ...]
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True)
class ElevationRate:
    """Rate of surface elevation in mm a year, plus is up, of a table from its directions or of a zone from its tables."""

    method: Method
    rate_mm_y: float
    se_mm_y: float
    df: float
    low_mm_y: float
    high_mm_y: float
    of: dict[str, float]
    left_out: tuple[LeftOut, ...]
    caveats: tuple[Caveat, ...]


def table_change(readings: TableReadings) -> ElevationChange | CannotTell:
    """From the first to the last visit: pins read both times, mean by direction, t over directions. It speaks of this table alone."""
    if len(readings.days) < 2:
        return CannotTell(CHANGE, Why.TOO_FEW_VISITS, len(readings.days), 2, readings.table)
    if readings.pieces is not None and readings.pieces[0] != readings.pieces[-1]:
        return CannotTell(CHANGE, Why.BEGAN_AGAIN, zone=readings.table)
    notes: list[LeftOut] = []
    means: dict[str, float] = {}
    for direction, heights in _heights(readings, notes).items():
        steps = heights[-1] - heights[0]
        steps = steps[np.isfinite(steps)]
        if len(steps) < LEAST_PINS:
            notes.append(LeftOut(direction, Why.TOO_FEW_PINS, readings.table))
        else:
            means[direction] = float(steps.mean())
    found = _over(means, CHANGE, Why.TOO_FEW_DIRECTIONS, LEAST_DIRECTIONS, readings.table, notes)
    return found if isinstance(found, CannotTell) else _change_told(CHANGE, found, means, notes, (Caveat.ONE_TABLE,))


def table_rate(readings: TableReadings) -> ElevationRate | CannotTell:
    """The slope of each direction with a level for each of its pins, t over directions; 4 visits and a year."""
    years = (as_floats(readings.days) - min(readings.days, default=0.0)) / YEAR_DAYS
    if len(np.unique(years)) < LEAST_VISITS:
        return CannotTell(RATE, Why.TOO_FEW_VISITS, len(np.unique(years)), LEAST_VISITS, readings.table)
    if years.max() < LEAST_YEARS - 1e-9:
        return CannotTell(RATE, Why.TOO_FEW_YEARS, float(years.max()), LEAST_YEARS, readings.table)
    notes: list[LeftOut] = []
    piece = np.zeros(len(years), int) if readings.pieces is None else np.unique(readings.pieces, return_inverse=True)[1]
    slopes: dict[str, float] = {}
    for direction, heights in _heights(readings, notes).items():
        levels = np.arange(heights.shape[1])[None, :] * (piece.max() + 1) + piece[:, None]
        seen = np.isfinite(heights)
        seen &= np.bincount(levels[seen], minlength=levels.max() + 1)[levels] > 1
        if len(np.flatnonzero(seen.any(0))) < LEAST_PINS or len(np.unique(years[seen.any(1)])) < LEAST_VISITS:
            notes.append(LeftOut(direction, Why.TOO_FEW_PINS, readings.table))
        else:
            slopes[direction] = float(line_in_pieces(np.broadcast_to(years[:, None], heights.shape)[seen], heights[seen], levels[seen].tolist()).slope)
    found = _over(slopes, RATE, Why.TOO_FEW_DIRECTIONS, LEAST_DIRECTIONS, readings.table, notes)
    return found if isinstance(found, CannotTell) else _rate_told(RATE, found, slopes, notes, (Caveat.ONE_TABLE,))


def zone_change_of_tables(change_mm: Mapping[str, float], zone: str | None = None) -> ElevationChange | CannotTell:
    """A zone from the change of each of its tables: t over tables, at least 3. One table says nothing of the zone beyond it."""
    found = _over(change_mm, ZONE_CHANGE, Why.TOO_FEW_TABLES, LEAST_TABLES, zone, [])
    return found if isinstance(found, CannotTell) else _change_told(ZONE_CHANGE, found, dict(change_mm), [], ())


def zone_rate_of_tables(rate_mm_y: Mapping[str, float], zone: str | None = None) -> ElevationRate | CannotTell:
    """A zone from the rate of each of its tables: t over tables, at least 3."""
    found = _over(rate_mm_y, ZONE_RATE, Why.TOO_FEW_TABLES, LEAST_TABLES, zone, [])
    return found if isinstance(found, CannotTell) else _rate_told(ZONE_RATE, found, dict(rate_mm_y), [], ())


def _heights(readings: TableReadings, notes: list[LeftOut]) -> dict[str, Floats]:
    """By direction (k, pins), without pins that had a note at any visit: their level is another thing's."""
    found = {}
    for direction, rows in readings.pins_mm.items():
        heights = as_floats(rows).reshape(len(readings.days), -1)
        if readings.noted is not None and direction in readings.noted:
            had_note = np.asarray(readings.noted[direction], bool).reshape(heights.shape)
            notes += [LeftOut(f"{direction} {pin + 1}", Why.PIN_NOTED, readings.table) for pin in np.flatnonzero(had_note.any(0))]
            heights = np.where(had_note, np.nan, heights)
        found[direction] = heights
    return found


def _over(values: Mapping[str, float], method: Method, few: Why, least: int, zone: str | None, notes: list[LeftOut]) -> Interval | CannotTell:
    """t over replicates."""
    numbers = as_floats(list(values.values()))
    if len(numbers) < least or not np.isfinite(numbers).all():
        return CannotTell(method, few, int(np.isfinite(numbers).sum()), least, zone, tuple(notes))
    if not is_spread(numbers):
        return CannotTell(method, Why.NO_SPREAD, len(numbers), None, zone, tuple(notes))
    return of_mean(numbers)


def _change_told(method: Method, found: Interval, of: dict[str, float], notes: list[LeftOut], caveats: tuple[Caveat, ...]) -> ElevationChange:
    return ElevationChange(method, *_numbers(found), of, tuple(notes), caveats)


def _rate_told(method: Method, found: Interval, of: dict[str, float], notes: list[LeftOut], caveats: tuple[Caveat, ...]) -> ElevationRate:
    return ElevationRate(method, *_numbers(found), of, tuple(notes), caveats)


def _numbers(found: Interval) -> tuple[float, float, float, float, float]:
    return float(found.value), float(found.se), float(found.df), float(found.low), float(found.high)
