"""The time zone of a place, out of the boundaries that come with the library `tzfpy`."""

from __future__ import annotations

from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import tzfpy


def zone_of(lat_deg: float, lon_deg: float) -> str | None:
    """
    The IANA zone of a place, territorial waters included.

    None on the open sea, whose zones are bare hours, and where this machine's time zone data do not know the name.
    Boundaries are simplified: within some hundred metres of one the neighbour may be told, so a person confirms it.
    The library reads its boundaries (0.3 s, 34 MB) at the first question, not when it is loaded (0.6 ms).
    """
    zone = tzfpy.get_tz(lon_deg, lat_deg)
    if not zone or zone.startswith("Etc/"):
        return None
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, OSError, ValueError):
        return None
    return zone
