"""What is worked out of one site for the phone: tide numbers, sun, windows of each row, and what its levels say."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from fieldlog.errors import FieldlogError
from fieldlog.pack.windows_columns import windows_columns
from fieldlog.tides.phone import phone_numbers
from fieldlog.windows.beds import Ground
from fieldlog.windows.constants import CONSTANTS
from fieldlog.windows.daylight import sun_columns
from fieldlog.windows.moon import moon_columns
from fieldlog.windows.rows import no_window_sentence
from fieldlog.windows.season import season

DAYS = 400
"""How far a phone can plan without a network."""

SENTENCE_DAYS = 60


def site_windows(ground: Ground, from_day: date) -> dict[str, Any]:
    """
    Tide, sun and windows of a site for 400 days.

    Args:
        ground: the site's tide, rules and levels.
        from_day: the first UTC day.

    Returns:
        {"constants", "tide", "sun", "moons", "windows", "sentence"}: the numbers of the window rule; `sentence` says why there is
        no window in the next 60 days, or is None.
    """
    start = datetime.combine(from_day, time(), UTC)
    span = season(ground.station, ground.rules, start, start + timedelta(days=DAYS))
    levels = {"site": span.windows()} | {bed.record_id: span.windows(bed.bed_level_m) for bed in ground.rows}
    soon = [window for window in levels["site"] if window.low_at < start + timedelta(days=SENTENCE_DAYS)]
    return {
        "constants": CONSTANTS,
        "tide": phone_numbers(ground.station, *span.reach),
        "sun": sun_columns(span.days),
        "moons": moon_columns(from_day, DAYS),
        "windows": windows_columns(from_day, levels) | {"left_out_m": round(span.curve.left_out_m, 3)},
        "sentence": no_window_sentence(soon, ground.rules, SENTENCE_DAYS),
    }


def no_windows(fault: FieldlogError) -> dict[str, Any]:
    """The same of a site that is not ready, with the sentence that says why."""
    return {"constants": CONSTANTS, "tide": None, "sun": None, "moons": None, "windows": None, "sentence": fault.sentence}


def site_levels(ground: Ground | FieldlogError) -> dict[str, Any]:
    """
    What a phone computes further windows from, empty where the site is not ready.

    Returns:
        {"closures", "beds", "doubts"}: `beds` has the ground of units that were levelled themselves, by id, metres above
        chart datum.
    """
    if isinstance(ground, FieldlogError):
        return {"closures": [], "beds": {}, "doubts": []}
    return {
        "closures": [{**asdict(one), "from_day": one.from_day.isoformat(), "to_day": one.to_day.isoformat()} for one in ground.rules.closures],
        "beds": {bed.record_id: round(bed.bed_level_m, 3) for bed in ground.units if bed.own},
        "doubts": list(ground.doubts),
    }
