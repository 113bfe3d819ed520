"""What is derived of one site for the phone: tide numbers, sun, windows of each row. Costly, so it is kept by its inputs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import Any

from sqlite_utils import Database

from fieldlog.errors import FieldlogError
from fieldlog.pack.windows_columns import windows_columns
from fieldlog.stations import station_of
from fieldlog.tides.phone import phone_numbers
from fieldlog.tides.station import Station
from fieldlog.windows.daylight import sun_columns
from fieldlog.windows.rows import no_window_sentence
from fieldlog.windows.rules import SiteRules, site_rules
from fieldlog.windows.season import season

DAYS = 400
"""How far a phone can plan without a network."""

SENTENCE_DAYS = 60
KEPT = 16
"""Site parts kept: a few sites, today's and yesterday's."""

Beds = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class _Tide:
    """A station for a cache to tell apart by its id: what an id names never changes."""

    station_id: str
    station: Station = field(compare=False)


def site_part(db: Database, site: Mapping[str, Any], rows: Sequence[Mapping[str, Any]], from_day: date) -> dict[str, Any]:
    """
    Tide, sun and windows of a site for 400 days.

    Args:
        db: the programme's, which holds the tides made from its own records.
        site, rows: the records; a row without a bed level is left out.
        from_day: the first UTC day.

    Returns:
        {"tide", "sun", "windows", "sentence"}; the first three None where the site is not ready, `sentence` then says
        why, else why there is no window in the next 60 days, or None.
    """
    beds = tuple((row["record_id"], row["bed_level_m"]) for row in rows if row["bed_level_m"] is not None)
    try:
        station = station_of(db, site)
        rules = site_rules(site, station.chart_datum)
        return _derived(_Tide(station.station_id, station), rules, beds, from_day)
    except FieldlogError as fault:
        return {"tide": None, "sun": None, "windows": None, "sentence": fault.sentence}


@lru_cache(KEPT)
def _derived(tide: _Tide, rules: SiteRules, beds: Beds, from_day: date) -> dict[str, Any]:
    station = tide.station
    start = datetime.combine(from_day, time(), UTC)
    span = season(station, rules, start, start + timedelta(days=DAYS))
    levels = {"site": span.windows()} | {row_id: span.windows(bed_level_m) for row_id, bed_level_m in beds}
    soon = [window for window in levels["site"] if window.low_at < start + timedelta(days=SENTENCE_DAYS)]
    return {
        "tide": phone_numbers(station, *span.reach),
        "sun": sun_columns(span.days),
        "windows": windows_columns(from_day, levels),
        "sentence": no_window_sentence(soon, rules, SENTENCE_DAYS),
    }
