"""What was found in a water-level record, in sentences."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from fieldlog.days import day_words
from fieldlog.rounding import rounded, shortest
from fieldlog.shown_names import counted
from fieldlog.tides.record import Fault


def fault_sentence(fault: Fault, zone: str) -> str:
    """One fault as a person reads it; times on the site's clock."""
    return _of_levels(fault, zone) or _of_the_tide(fault) or _of_the_clock(fault, zone)


def _of_levels(fault: Fault, zone: str) -> str | None:
    first, last = day(fault.from_s, zone), day(fault.to_s, zone)
    match fault.word:
        case "gap":
            return f"A gap of {rounded(fault.size, 1)} h from {moment(fault.from_s, zone)}. Nothing is filled in there."
        case "more-gaps":
            return f"{counted(fault.count, 'smaller gap')} more from {first} to {last}, {rounded(fault.size, 1)} h together."
        case "spike":
            if fault.count == 1:
                return f"One level, of {moment(fault.from_s, zone)}, was {rounded(fault.size, 2)} m off the ones around it. It is left out."
            return f"{fault.count} single levels were up to {rounded(fault.size, 2)} m off the ones around them, from {first} to {last}. They are left out."
        case "dry":
            return (
                f"The logger was dry at {counted(fault.count, 'low tide')} from {first} to {last}: the record is flat there at {rounded(fault.size, 2)} m. "
                "These parts are left out, so the record has no lows below that level."
            )
        case "moved":
            return (
                f"The level steps by {rounded(fault.size, 2, signed=True)} m at {moment(fault.from_s, zone)} and stays there: the logger seems to have been "
                "moved. Only the longest part without a step is used."
            )
        case "level-drift":
            return (
                f"Apart from the tide, the level {'rises' if fault.size > 0 else 'falls'} by {rounded(abs(fault.size), 2)} m from {first} to {last}. The sensor may "
                "drift, its post may sink, or a season or a river may move the water. Read a staff gauge at both ends of a record. Until then, levels and datums from it are that uncertain."
            )
    return None


def _of_the_tide(fault: Fault) -> str | None:
    match fault.word:
        case "not-the-tide":
            return (
                f"Only {rounded(max(0.0, 100 * fault.size), 0)} % of the record's movement follows the reference port's tide, so it cannot be this shore's water. Is it air pressure, another column, or a logger that was dry? Upload another file, or choose another column."
            )
        case "too-large":
            return f"The water in this record is typically {rounded(fault.size, 0)} m above or below its mean, more than in any tide. Is its unit right? Choose the unit, or upload another file."
        case "upside-down":
            return (
                "The record falls when the reference port's water rises. It seems to be a distance down to the water. Upload levels: the sensor's height minus that distance."
            )
        case "late":
            return (
                f"The tide in this record comes {rounded(abs(fault.size) / 60, 1)} h {'after' if fault.size > 0 else 'before'} the reference port's. That can be right in an inlet far from the port, or the time zone is wrong. Compare one high tide with what people saw."
            )
        case "weak":
            return (
                f"Only {rounded(max(0.0, 100 * fault.size), 0)} % of the record's movement follows the reference port's tide. The rest is weather, a river, or not water at all. Find out which before you plan with it."
            )
        case "range":
            return (
                f"The tide in this record is {shortest(fault.size, 2)} times as large as the reference port's. That can be right on a sheltered or choked shore, or the unit is wrong. Compare one reading with a staff gauge."
            )
    return None


def _of_the_clock(fault: Fault, zone: str) -> str:
    match fault.word:
        case "drift":
            return (
                f"The clock seems to have drifted by {rounded(fault.size, 0, signed=True)} min against the tide over the record. Compare it with a correct clock. Times from this record are that uncertain."
            )
        case "clock-jump":
            return (
                f"The clock jumps by {rounded(fault.size, 0, signed=True)} min about {day(fault.to_s, zone)}. Was it daylight saving time, or a new battery? Only the longest part without a jump is used. To use all of it, give the zone as an offset such as UTC-05:00."
            )
        case "out-of-order":
            return f"Times go back at {counted(fault.count, 'line')} of the file. They were put in order."
        case "doubled":
            return f"{counted(fault.count, 'reading')} had a time that is already in the file. The first of each is used."
    raise ValueError(fault.word)


def moment(at_s: float, zone: str) -> str:
    """An instant on the site's clock, such as Mar 4, 2026, 06:12."""
    at = datetime.fromtimestamp(at_s, ZoneInfo(zone))
    return f"{day_words(at, year=True)}, {at:%H:%M}"


def day(at_s: float, zone: str) -> str:
    """Its day."""
    return day_words(datetime.fromtimestamp(at_s, ZoneInfo(zone)), year=True)
