"""
Reads `demo_db/evenings.ndjson`: what was written on each visit, days before an anchor.

A line is one evening: {"day", "visit", "leader", "entries": [[phone, kind, name, minute, fields, mark...], ...]}. Names
stand for record ids, minutes after the visit's start for instants, days for dates.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fieldlog.instants import written
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Date, Instant, Ref
from fieldlog.survey.grid import SiteGrid
from fieldlog.windows.access import NAMESPACE, Window

FILE = "evenings.ndjson"


@dataclass(frozen=True)
class Written:
    """One entry of the script."""

    phone: str
    kind: str
    name: str
    minute: float
    fields: dict[str, Any]
    is_unseen: bool


@dataclass(frozen=True)
class Evening:
    """A day's entries; `visit` is None on the day the site was set up."""

    day: int
    visit: str | None
    leader: str | None
    entries: list[Written]


def evenings(folder: Path) -> Iterator[Evening]:
    """The script's evenings in order."""
    with (folder / FILE).open(encoding="utf-8") as lines:
        for line in lines:
            said = json.loads(line)
            entries = [
                Written(phone, kind, name, minute, fields, "unseen" in more)
                for phone, kind, name, minute, fields, *more in said["entries"]
            ]
            yield Evening(said["day"], said["visit"], said["leader"], entries)


def record_id(name: str) -> str:
    """The id of a record that the script calls by a name."""
    return str(uuid.uuid5(NAMESPACE, f"demo|{name}"))


def device_id(phone: str) -> str:
    """The id of the device that the script calls by a name."""
    return uuid.uuid5(NAMESPACE, f"demo device|{phone}").hex


@dataclass(frozen=True)
class Scene:
    """Where and when an evening's entries were written; turns names into ids and minutes into instants."""

    catalogue: Catalogue
    site: dict[str, Any]
    anchor: date
    starts_at: datetime
    visit: str | None
    window: Window | None
    predicted_m: Callable[[datetime], float]
    flag_id: Callable[[str, str], str]

    @property
    def site_id(self) -> str:
        """The one site."""
        return record_id("site")

    @property
    def visit_id(self) -> str | None:
        """The made-up id that any phone gives the visit of this site and window."""
        if self.visit is None or self.window is None:
            return None
        return str(uuid.uuid5(NAMESPACE, f"visit|{self.site_id}|{self.window.window_id}"))

    def record_id(self, kind: str, name: str) -> str:
        """The record's id; what two phones may make alike has a made-up one."""
        if kind == "visit" and self.visit_id is not None:
            return self.visit_id
        if kind == "sign_in":
            person, turn = name.split("/")
            local = self.starts_at.astimezone(ZoneInfo(self.site["zone"])).date()
            return str(uuid.uuid5(NAMESPACE, f"sign_in|{self.site_id}|{local}|{record_id(person)}|{turn}"))
        return record_id(name)

    def at(self, minute: float) -> datetime:
        """An instant, minutes after the start."""
        return self.starts_at + timedelta(minutes=minute)

    def fields(self, kind: str, said: dict[str, Any], minute: float) -> dict[str, Any]:
        """The fields as a phone writes them."""
        declared = self.catalogue.kinds[kind].fields
        found: dict[str, Any] = {}
        for name, value in said.items():
            field = declared[name]
            if value is None:
                found[name] = None
            elif isinstance(field, Instant):
                found[name] = written(self.at(value))
            elif isinstance(field, Date):
                found[name] = (self.anchor + timedelta(days=value)).isoformat()
            elif isinstance(field, Ref):
                found[name] = self.record_id(str(field.metadata["x-ref"]), value)
            else:
                found |= self._said_otherwise(name, value, minute)
        return found

    def _said_otherwise(self, name: str, value: Any, minute: float) -> dict[str, Any]:
        if name == "window_id" and self.window is not None:
            return {name: self.window.window_id}
        if name == "flag_id":
            return {name: self.flag_id(value["rule"], record_id(value["subject"]))}
        if name == "device":
            return {name: device_id(value)}
        if name == "observed_level_m":
            return {name: round(self.predicted_m(self.at(minute)) + value["predicted_plus"], 2)}
        if name == "lat_deg" and isinstance(value, dict):
            return self._degrees(value["east_m"], value["north_m"])
        return {name: value}

    def _degrees(self, east_m: float, north_m: float) -> dict[str, float]:
        grid = SiteGrid(self.site["lat_deg"], self.site["lon_deg"], self.site["grid_azimuth_deg"])
        lat_deg, lon_deg = grid.to_degrees(east_m, north_m)
        return {"lat_deg": round(lat_deg, 7), "lon_deg": round(lon_deg, 7)}


def noon(day: date, zone: str) -> datetime:
    """Local noon of a day, in UTC."""
    return datetime(day.year, day.month, day.day, 12, tzinfo=ZoneInfo(zone)).astimezone(UTC)
