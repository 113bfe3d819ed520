"""A tide station as plain values."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, eq=False)
class Offsets:
    """
    How a subordinate station's highs and lows follow from those of its reference station.

    ``kind`` is "ratio" (height times ``height_high`` or ``height_low``) or "added" (that many metres more);
    both work on heights above the reference station's chart datum.
    """

    minutes_high: float
    minutes_low: float
    kind: str
    height_high: float
    height_low: float


@dataclass(frozen=True, eq=False)
class Station:
    """
    One station. Levels everywhere are metres above ``chart_datum``.

    ``constituents`` holds (name, amplitude in metres, Greenwich phase lag in degrees). ``datums_m`` holds heights
    of datums by name, all above one common zero. A station by offsets has ``offsets`` and ``reference`` instead.
    """

    station_id: str
    name: str
    lat_deg: float
    lon_deg: float
    kind: str
    source: str
    chart_datum: str
    datums_m: dict[str, float]
    constituents: tuple[tuple[str, float, float], ...]
    offsets: Offsets | None
    reference: Station | None
    licence: str
    attribution: str

    @property
    def harmonic(self) -> Station:
        """The station whose constants are summed: itself, or its reference station."""
        return self if self.reference is None else self.reference
