"""The tide and the Sun of a span, with the margins that windows at its edges need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from fieldlog.tides.curve import Curve
from fieldlog.tides.station import Station
from fieldlog.windows.access import MARGIN, Window, access_windows
from fieldlog.windows.daylight import Day, Light, daylight, light_of
from fieldlog.windows.exposures import Exposures, exposures
from fieldlog.windows.rules import SiteRules


@dataclass(frozen=True, eq=False)
class Season:
    """What windows of one site are made from; `reach` is the span, aware, that `curve` covers."""

    rules: SiteRules
    start: datetime
    end: datetime
    reach: tuple[datetime, datetime]
    curve: Curve
    days: Sequence[Day]

    @cached_property
    def light(self) -> list[Light]:
        """The stretches of light."""
        return light_of(self.days)

    def exposures(self, beds_m: Sequence[float]) -> Exposures:
        """The windows of many levels as columns, metres above chart datum."""
        return exposures(self.curve, self.rules, self.light, self.start, self.end, beds_m)

    def windows(self, bed_level_m: float | None = None) -> list[Window]:
        """The windows of the site's own work level or of a row's, metres above chart datum, in time order."""
        return access_windows(self.curve, self.rules, self.light, self.start, self.end, bed_level_m)


def season(station: Station, rules: SiteRules, start: datetime, end: datetime) -> Season:
    """Predict the tide and the Sun for the lows from `start` to `end`, both aware and included."""
    reach = (start - 2 * MARGIN, end + 2 * MARGIN)
    first_day = (start - timedelta(days=2)).date()
    days = daylight(rules.lat_deg, rules.lon_deg, rules.zone, first_day, (end - start).days + 5)
    return Season(rules, start, end, reach, Curve.for_station(station, *reach), days)
