"""
Where things are, said the same way by every kind that says it.

The site grid is a plane, east and north in metres; levels are in metres above the datum they name. The
limits are common practice, no source: a site is smaller than 100 km, and no tide lifts water by 20 m (the
largest published range is about 16 m, from memory).
"""

from __future__ import annotations

from typing import Any

from fieldlog.records.fields import Number, Text


def latitude(title: str = "Latitude", **says: Any) -> Number:
    """Degrees north, WGS 84."""
    return Number(title, unit="°", least=-90, most=90, **says)


def longitude(title: str = "Longitude", **says: Any) -> Number:
    """Degrees east, WGS 84."""
    return Number(title, unit="°", least=-180, most=180, **says)


def east(title: str = "East", **says: Any) -> Number:
    """Metres east on the site grid."""
    return Number(title, unit="m", least=-100_000, most=100_000, plausible=(-5000, 5000), **says)


def north(title: str = "North", **says: Any) -> Number:
    """Metres north on the site grid."""
    return Number(title, unit="m", least=-100_000, most=100_000, plausible=(-5000, 5000), **says)


LEVEL_DATUM = "level_datum"
"""The field that names the datum of a record's levels."""


def level(title: str, **says: Any) -> Number:
    """Metres above the datum that the same entry names; an entry with a level and no datum is held (kind.py)."""
    own: dict[str, Any] = {"x-datum": LEVEL_DATUM}
    return Number(title, unit="m", least=-20, most=20, plausible=(-3, 6), **own, **says)


def level_datum(**says: Any) -> Text:
    """The name of the datum that the levels beside it are above."""
    return Text("Datum of the level", 40, least=1, description="Such as MLLW or NAVD88", **says)


def radius(title: str, **says: Any) -> Number:
    """How uncertain a reading is, in metres: the 95 % radius that a phone gives."""
    return Number(title, unit="m", least=0, most=1000, **says)
