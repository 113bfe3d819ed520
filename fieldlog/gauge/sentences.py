"""What was found in a water-level record, in sentences."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from fieldlog.days import day_words
from fieldlog.rounding import rounded, shortest
from fieldlog.tides.record import Fault


def fault_sentence(fault: Fault, zone: str) -> str:
    """One fault as a person reads it; times on the site's clock."""
    return _of_levels(fault, zone) or _of_the_tide(fault) or _of_the_clock(fault, zone)


def _of_levels(fault: Fault, zone: str) -> str | None:
    first, last = day(fault.from_s, zone), day(fault.to_s, zone)
    match fault.word:
        case "gap":
            return f"A gap of {rounded(fault.size, 1)} h from {moment(fault.from_s, zone)}. What lies in it is not guessed."
        case "more-gaps":
            return f"{_counted(fault.count, 'smaller gap')} more from {first} to {last}, {rounded(fault.size, 1)} h together."
        case "spike":
            if fault.count == 1:
                return f"One level, of {moment(fault.from_s, zone)}, stood {rounded(fault.size, 2)} m off its neighbours. It is left out."
            return f"{fault.count} levels stood alone, up to {rounded(fault.size, 2)} m off their neighbours, from {first} to {last}. They are left out."
        case "dry":
            return (
                f"The logger fell dry at {_counted(fault.count, 'low water')} from {first} to {last}: the record is flat there at {rounded(fault.size, 2)} m. "
                "These stretches are left out, so low waters below that are not in the record."
            )
        case "moved":
            return (
                f"The level steps by {rounded(fault.size, 2, signed=True)} m at {moment(fault.from_s, zone)} and stays there: the logger seems to have been "
                "moved. Only the longest part without a step is used."
            )
        case "level-drift":
            return (
                f"Beside the tide the level {'rises' if fault.size > 0 else 'falls'} by {rounded(abs(fault.size), 2)} m from {first} to {last}. The sensor may "
                "drift, its post may sink, or a season or a river moves the water. Read the water at a staff at both ends of a record; until you "
                "know, levels and datums from it are that uncertain."
            )
    return None


def _of_the_tide(fault: Fault) -> str | None:
    match fault.word:
        case "not-the-tide":
            return (
                f"Only {rounded(max(0.0, 100 * fault.size), 0)} % of what the record moves follows the reference port's tide: it cannot be this shore's water. "
                "Is it the pressure of the air, another column, or a logger that lay dry? Bring another file, or say which column."
            )
        case "too-large":
            return f"The record moves by {rounded(fault.size, 0)} m (standard deviation), more than any tide. Is its unit right? Say the unit, or bring another file."
        case "upside-down":
            return (
                "The record falls where the reference port's water rises: it seems to be a distance down to the water. Bring levels: the sensor's height "
                "less that distance."
            )
        case "late":
            return (
                f"The tide in this record comes {rounded(abs(fault.size) / 60, 1)} h {'after' if fault.size > 0 else 'before'} the reference port's. An inlet far from "
                "the port may be so; so is a wrong zone of the times. Compare one high water with what people saw."
            )
        case "weak":
            return (
                f"Only {rounded(max(0.0, 100 * fault.size), 0)} % of what the record moves follows the reference port's tide; the rest is weather, a river, or "
                "something else than water. Do not plan by it before you know which."
            )
        case "range":
            return (
                f"The tide in this record is {shortest(fault.size, 2)} times as large as the reference port's. A sheltered or choked shore may be so; so is a "
                "wrong unit. Compare one reading with a staff."
            )
    return None


def _of_the_clock(fault: Fault, zone: str) -> str:
    match fault.word:
        case "drift":
            return (
                f"The clock seems to have drifted by {rounded(fault.size, 0, signed=True)} min against the tide over the record. Compare it with a clock that "
                "is right; times from this record are that uncertain."
            )
        case "clock-jump":
            return (
                f"The clock jumps by {rounded(fault.size, 0, signed=True)} min about {day(fault.to_s, zone)}. Was it summer time, or a new battery? Only the "
                "longest part without a jump is used; give the zone as an offset such as UTC-05:00 to use all."
            )
        case "out-of-order":
            return f"Times go back at {_counted(fault.count, 'line')} of the file. They were put in order."
        case "doubled":
            return f"{_counted(fault.count, 'reading')} had a time that stands in the file already. The first of each counts."
    raise ValueError(fault.word)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def moment(at_s: float, zone: str) -> str:
    """An instant on the site's clock, such as Mar 4, 2026, 06:12."""
    at = datetime.fromtimestamp(at_s, ZoneInfo(zone))
    return f"{day_words(at, year=True)}, {at:%H:%M}"


def day(at_s: float, zone: str) -> str:
    """Its day."""
    return day_words(datetime.fromtimestamp(at_s, ZoneInfo(zone)), year=True)
