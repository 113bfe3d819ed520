"""A field's value in words, as a flag's sentence has it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from fieldlog.days import day_words
from fieldlog.records.fields import Date, Declared, FlagId, Instant, Ref, Sha256
from fieldlog.records.listed import Listed
from fieldlog.records.sentences import number_text, with_unit

NAMELESS = (Ref, Sha256, FlagId)
"""Their values are ids, which say nothing to people."""


def moment_words(at: datetime, zone: str | None) -> str:
    """An aware moment as the clock of a site has it, Nov 26, 2026, 14:04; in UTC, and so said, where the site's zone is not known."""
    there = at.astimezone(ZoneInfo(zone or "UTC"))
    return f"{day_words(there, year=True)}, {there:%H:%M}{'' if zone else ' UTC'}"


def value_words(declared: Declared | None, value: Any, zone: str | None) -> str:
    """
    A value that a record may have.

    Args:
        declared: its field; None is whether the record was removed.
        zone: its site's time zone.
    """
    if value is None:
        return "nothing"
    if declared is None:
        return "removed" if value else "not removed"
    if isinstance(declared, Listed) and isinstance(value, list):
        return _list_words(declared, value, zone)
    if isinstance(value, bool):
        return "yes" if value else "no"
    labels = declared.metadata.get("x-labels")
    if labels and str(value) in labels:
        return str(labels[str(value)])
    if isinstance(value, int | float):
        return with_unit(number_text(value), declared.metadata.get("x-unit"))
    if isinstance(declared, Instant):
        return moment_words(datetime.fromisoformat(value), zone)
    return day_words(date.fromisoformat(value), year=True) if isinstance(declared, Date) else str(value)


def _list_words(declared: Listed, items: list[Any], zone: str | None) -> str:
    """23, 31, 18 mm; of small records how many there are, since ids say nothing to people."""
    if not items:
        return "an empty list"
    (inner, *_others) = declared.inner.values()
    if not declared.is_bare or isinstance(inner, NAMELESS):
        return f"a list of {len(items)}"
    unit = inner.metadata.get("x-unit")
    words = [number_text(item) if isinstance(item, int | float) and unit else value_words(inner, item, zone) for item in items]
    return with_unit(", ".join(words), unit)
