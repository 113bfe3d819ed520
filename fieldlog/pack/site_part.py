"""What is derived of one site for the phone: tide numbers, sun, windows of each row. Costly, so it is kept by its inputs."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import Any

from fieldlog.errors import FieldlogError
from fieldlog.pack.windows_columns import windows_columns
from fieldlog.tides.phone import phone_numbers
from fieldlog.tides.station import Station
from fieldlog.windows.beds import Ground
from fieldlog.windows.daylight import sun_columns
from fieldlog.windows.rows import no_window_sentence
from fieldlog.windows.rules import SiteRules
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


def site_part(ground: Ground, from_day: date) -> dict[str, Any]:
    """
    Tide, sun and windows of a site for 400 days.

    Args:
        ground: the site's tide, rules and levels.
        from_day: the first UTC day.

    Returns:
        {"tide", "sun", "windows", "sentence", "closures", "beds", "doubts"}: `sentence` says why there is no window in the next 60
        days, or is None; `beds` has the ground of units that were levelled themselves, by id, metres above chart datum.
    """
    beds = tuple((bed.record_id, bed.bed_level_m) for bed in ground.rows)
    derived = _derived(_Tide(ground.station.station_id, ground.station), ground.rules, beds, from_day)
    return {
        **derived,
        "closures": [{**asdict(one), "from_day": one.from_day.isoformat(), "to_day": one.to_day.isoformat()} for one in ground.rules.closures],
        "beds": {bed.record_id: round(bed.bed_level_m, 3) for bed in ground.units if bed.own},
        "doubts": list(ground.doubts),
    }


def no_part(fault: FieldlogError) -> dict[str, Any]:
    """The same of a site that is not ready, with the sentence that says why."""
    return {"tide": None, "sun": None, "windows": None, "sentence": fault.sentence, "closures": [], "beds": {}, "doubts": []}


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
