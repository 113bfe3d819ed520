"""
Levels of one datum turned into another: by the tide station's own datums and by offsets that the site states.

A level without a datum is never stored (records/kind.py), and one on a datum that nobody has tied to the chart datum is
told, never guessed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fieldlog.errors import SiteNotReady
from fieldlog.tides.station import Station


@dataclass(frozen=True)
class Zero:
    """Where a datum's zero lies, metres above the chart datum, and who says so."""

    above_chart_m: float
    source: str


def zeros(station: Station, stated: Iterable[Mapping[str, Any]] = ()) -> dict[str, Zero]:
    """
    The zeros that are known at a site, by the datum's name in capitals.

    Args:
        station: the site's tide station; its datums count where the site states no offset of its own.
        stated: the site's `datum_offset` records.
    """
    found = {station.chart_datum.upper(): Zero(0.0, "the chart datum itself")}
    chart_m = station.datums_m.get(station.chart_datum)
    if chart_m is not None:
        for name, level_m in station.datums_m.items():
            found.setdefault(name.upper(), Zero(level_m - chart_m, f"{station.name}'s datums"))
    for one in stated:
        if one["datum"] and one["above_chart_m"] is not None and one["datum"].upper() != station.chart_datum.upper():
            found[one["datum"].upper()] = Zero(one["above_chart_m"], f"{one['source'] or 'no source'}, {one['epoch'] or 'no epoch'}")
    return found


def above_chart_datum(level_m: float, datum: str | None, known: Mapping[str, Zero], chart_datum: str) -> float:
    """
    A level, metres above its own datum, in metres above the chart datum.

    Args:
        datum: None for a level of a record older than the datum field, which is above the site's chart datum.

    Raises:
        SiteNotReady: where the datum lies at this site is not known.
    """
    zero = known.get((datum or chart_datum).upper())
    if zero is None:
        raise SiteNotReady(
            f"A level is on {datum}, and this site does not know how far {datum} is above {chart_datum}. Add it under Set-up, Datums.",
            {"level_datum": f"{datum} is not tied to {chart_datum}"},
        )
    return level_m + zero.above_chart_m
