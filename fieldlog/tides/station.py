"""A tide station as plain values."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, eq=False)
class Offsets:
    """
    How a station's highs and lows follow from those of its reference station: minutes later, height times and plus.

    Heights are above each station's own chart datum. Published tables give either a ratio (``times``) or metres to add.
    """

    minutes_high: float
    minutes_low: float
    times_high: float = 1.0
    plus_high_m: float = 0.0
    times_low: float = 1.0
    plus_low_m: float = 0.0


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


def station_values(station: Station) -> dict[str, Any]:
    """A station as JSON can hold it, its reference station inside."""
    return asdict(station)


def station_from(values: dict[str, Any]) -> Station:
    """The station of such values."""
    offsets, reference = values["offsets"], values["reference"]
    return Station(
        **{
            **values,
            "constituents": tuple((str(name), float(height), float(lag)) for name, height, lag in values["constituents"]),
            "offsets": None if offsets is None else Offsets(**offsets),
            "reference": None if reference is None else station_from(reference),
        }
    )
