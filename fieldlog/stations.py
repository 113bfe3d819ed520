"""
The tide stations that come with the program: found by id, name or place, handed on as plain values.

The file (data/stations.sqlite, written by data/build_stations.py) holds 5,843 stations: 1,246 of NOAA with harmonic
constants, 2,241 of NOAA predicted by offsets, 2,323 of TICON-4 and 33 of Kartverket, out of the open database named in
ATTRIBUTION. Changes made to it: values rounded to their published precision, zero amplitudes dropped, names of
constituents brought to one spelling; TICON-4's M1 (phase + 110 degrees, amplitude / 1.14) and Kartverket's SA (phase - 76.8),
S1 (phase + 154, amplitude x 0.70) and NO1 (to M1: amplitude / 1.415, phase + 20.3) converted to NOAA's convention;
time zones and fields taken from gazetteers left out.
"""

from __future__ import annotations

import difflib
import json
import sqlite3
import struct
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from sqlite_utils import Database

from fieldlog.errors import BadRequest, NameAmbiguous, SiteNotReady, StationUnknown
from fieldlog.instants import written
from fieldlog.tides.predict import level_curve, tide_extremes
from fieldlog.tides.station import Offsets, Station, station_from

ATTRIBUTION = (
    "Stations: Neaps tide database (github.com/openwatersio/tide-database), CC BY 4.0, modified.",
    "NOAA stations: US National Oceanic and Atmospheric Administration, Center for Operational Oceanographic Products "
    "and Services; public domain.",
    "TICON-4 stations: Hart-Davis, M., Dettmering, D., Seitz, F. (2025), TICON-4: TIdal CONstants based on GESLA-4 "
    "sea-level records, SEANOE, doi 10.17882/109129; CC BY 4.0.",
    "Kartverket stations: Norwegian Mapping Authority, Hydrographic Service; CC BY 4.0.",
)

_EARTH_RADIUS_KM = 6371.0088
_MOST_NAMES_SHOWN = 8
_OF_SOURCE = {"NOAA": ATTRIBUTION[1], "TICON-4": ATTRIBUTION[2], "Kartverket": ATTRIBUTION[3]}


@dataclass(frozen=True)
class Nearby:
    """A station near a place, as the command line prints it and the set-up of a site offers it."""

    id: str
    name: str
    lat_deg: float
    lon_deg: float
    distance_km: float
    kind: str
    source: str
    chart_datum: str


def find(station: str) -> Station:
    """
    The station of an id ("noaa/8443970") or of a name that only one station bears ("Boston, MA").

    Raises:
        StationUnknown: no such id or name; the sentence gives near ones.
        NameAmbiguous: several stations of that name; the sentence gives their ids.
    """
    wanted = station.strip()
    with _station_file() as db:
        row = db.execute("SELECT * FROM station WHERE station_id = ?", (wanted,)).fetchone()
        if row is None:
            row = _by_name(db.execute("SELECT * FROM station ORDER BY station_id").fetchall(), wanted)
        return _station(db, row)


OWN = "own/"
"""What ids of stations begin with that were made from a site's own record."""


def station_of(db: Database, site: Mapping[str, Any]) -> Station:
    """
    The station that a site's tide is taken from: a packaged one, or one made from the site's own record.

    Args:
        db: the programme's.
        site: its row.

    Raises:
        SiteNotReady: none is chosen yet.
        StationUnknown: the one that is named is not here.
    """
    if not site["tide_station"]:
        raise SiteNotReady(
            f"{site['name'] or 'This site'} has no tide station yet, so its tide cannot be computed. Choose one under Set-up.",
            {"tide_station": "missing"},
        )
    wanted: str = site["tide_station"]
    if not wanted.startswith(OWN):
        return find(wanted)
    row = db.conn.execute("SELECT station FROM own_station WHERE station_id = ?", (wanted,)).fetchone()
    if row is None:
        raise StationUnknown(
            f"The tide {wanted!r} was made from a water-level record that is not here. Choose another under Set-up."
        )
    return station_from(json.loads(row[0]))


def _by_name(rows: list[sqlite3.Row], wanted: str) -> sqlite3.Row:
    folded = wanted.casefold()
    found = [row for row in rows if folded in (row["name"].casefold(), _full_name(row).casefold())]
    if len(found) == 1:
        return found[0]
    if found:
        listed = "; ".join(f"{row['station_id']} ({_full_name(row)})" for row in found[:_MOST_NAMES_SHOWN])
        more = "" if len(found) <= _MOST_NAMES_SHOWN else f"; and {len(found) - _MOST_NAMES_SHOWN} more"
        raise NameAmbiguous(f"{len(found)} tide stations are named {wanted!r}. Give an id: {listed}{more}.")
    by_name = {row["name"].casefold(): row for row in rows}
    near = difflib.get_close_matches(folded, by_name, n=3, cutoff=0.6)
    near += [name for name in by_name if len(folded) > 2 and folded in name and name not in near][: 3 - len(near)]
    known = "; ".join(f"{_full_name(by_name[name])} ({by_name[name]['station_id']})" for name in near)
    ask = f"Did you mean {known}?" if near else "Choose one under Set-up, or find one near a place with: fieldlog stations --near LAT,LON"
    raise StationUnknown(f"No tide station {wanted!r}. {ask}")


def place_of(text: str) -> tuple[float, float]:
    """
    Latitude and longitude in degrees out of "32.03,-80.92".

    Raises:
        BadRequest: the text is no such pair.
    """
    try:
        lat_deg, lon_deg = map(float, text.split(","))
    except ValueError:
        raise BadRequest(f"{text!r} is not a place; write latitude,longitude in degrees as 32.03,-80.92.") from None
    return lat_deg, lon_deg


def near(lat_deg: float, lon_deg: float, count: int) -> list[Nearby]:
    """
    The stations nearest to a place, nearest first.

    Distances are great circles on a sphere of the earth's mean radius (within 0.6 % of the ellipsoid's).

    Raises:
        BadRequest: the place is not on the earth, or the count is not positive.
    """
    if not (-90 <= lat_deg <= 90 and -180 <= lon_deg <= 180):
        raise BadRequest(
            f"No such place: {lat_deg:g},{lon_deg:g}. Latitude is between -90 and 90, longitude between -180 and 180."
        )
    if count < 1:
        raise BadRequest(f"The number of stations is {count}; ask for one or more.")
    ids, lat, lon = _places()
    here_lat, here_lon = np.radians((lat_deg, lon_deg))
    haversine = np.sin((lat - here_lat) / 2) ** 2 + np.cos(lat) * np.cos(here_lat) * np.sin((lon - here_lon) / 2) ** 2
    distance_km = 2 * _EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.minimum(haversine, 1)))
    nearest = np.argsort(distance_km, kind="stable")[:count].tolist()
    with _station_file() as db:
        rows = [db.execute("SELECT * FROM station WHERE station_id = ?", (ids[i],)).fetchone() for i in nearest]
    return [_nearby(row, float(distance_km[i])) for row, i in zip(rows, nearest, strict=True)]


@cache
def _places() -> tuple[tuple[str, ...], np.ndarray, np.ndarray]:
    """Every station's id, latitude and longitude in radians, by id: the file never changes while the program runs."""
    with _station_file() as db:
        rows = db.execute("SELECT station_id, lat_deg, lon_deg FROM station ORDER BY station_id").fetchall()
    lat, lon = np.radians([(row["lat_deg"], row["lon_deg"]) for row in rows]).T
    return tuple(row["station_id"] for row in rows), lat, lon


def _nearby(row: sqlite3.Row, distance_km: float) -> Nearby:
    return Nearby(
        id=row["station_id"],
        name=_full_name(row),
        lat_deg=row["lat_deg"],
        lon_deg=row["lon_deg"],
        distance_km=round(distance_km, 2),
        kind=row["kind"],
        source=row["source"],
        chart_datum=row["chart_datum"],
    )


FAR_KM, CLOSE_KM = 300, 50
"""A shore farther than this from every station, whose mirror image at the other sign of longitude is as close as this to one."""


def mirrored(lat_deg: float, lon_deg: float) -> Nearby | None:
    """
    The station that says the longitude's sign is likely wrong: close to the mirrored place, while none is near the place itself.

    Raises:
        BadRequest: the place is not on the earth.
    """
    (nearest,) = near(lat_deg, lon_deg, 1)
    if nearest.distance_km <= FAR_KM:
        return None
    (there,) = near(lat_deg, -lon_deg, 1)
    return there if there.distance_km <= CLOSE_KM else None


def nearest_rows(lat_deg: float, lon_deg: float, count: int) -> list[dict[str, Any]]:
    """What near() finds, as JSON-able rows."""
    return [asdict(nearby) for nearby in near(lat_deg, lon_deg, count)]


def extreme_rows(station: Station, from_utc: datetime, to_utc: datetime) -> list[dict[str, Any]]:
    """Highs and lows as JSON-able rows: at (UTC, whole seconds), level_m above chart datum, kind."""
    return [
        {"at": _iso(extreme.at_utc), "level_m": round(extreme.level_m, 3) + 0.0, "kind": extreme.kind}
        for extreme in tide_extremes(station, from_utc, to_utc)
    ]


def level_rows(
    station: Station, from_utc: datetime, to_utc: datetime, step: timedelta
) -> list[dict[str, Any]]:
    """Levels at even steps as JSON-able rows: at (UTC, whole seconds), level_m above chart datum."""
    at_utc, level_m = level_curve(station, from_utc, to_utc, step)
    return [
        {"at": written(at.replace(tzinfo=UTC)), "level_m": level}
        for at, level in zip(at_utc.astype("datetime64[ms]").tolist(), (np.round(level_m, 3) + 0.0).tolist(), strict=True)
    ]


def _iso(at_utc: datetime) -> str:
    return written((at_utc + timedelta(milliseconds=500)).replace(microsecond=0))


@contextmanager
def _station_file() -> Iterator[sqlite3.Connection]:
    path = Path(__file__).with_name("data") / "stations.sqlite"
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True)) as db:
        db.row_factory = sqlite3.Row
        yield db


def _full_name(row: sqlite3.Row) -> str:
    return ", ".join(part for part in (row["name"], row["part_of"], row["place"]) if part)


def _station(db: sqlite3.Connection, row: sqlite3.Row) -> Station:
    reference, offsets = None, None
    if row["reference_id"] is not None:
        of_reference = db.execute("SELECT * FROM station WHERE station_id = ?", (row["reference_id"],)).fetchone()
        reference = _station(db, of_reference)
        offsets = _offsets(row)
    return Station(
        station_id=row["station_id"],
        name=_full_name(row),
        lat_deg=row["lat_deg"],
        lon_deg=row["lon_deg"],
        kind=row["kind"],
        source=row["source"],
        chart_datum=row["chart_datum"],
        datums_m=json.loads(row["datums_json"] or "{}"),
        constituents=_constants(db, row["constants"] or b""),
        offsets=offsets,
        reference=reference,
        licence=row["licence"],
        attribution=f"{_OF_SOURCE[row['source']]} {ATTRIBUTION[0]}",
    )


def _offsets(row: sqlite3.Row) -> Offsets:
    if row["height_kind"] == "ratio":
        return Offsets(row["minutes_high"], row["minutes_low"], times_high=row["height_high"], times_low=row["height_low"])
    return Offsets(row["minutes_high"], row["minutes_low"], plus_high_m=row["height_high"], plus_low_m=row["height_low"])


def _constants(db: sqlite3.Connection, packed: bytes) -> tuple[tuple[str, float, float], ...]:
    """Unpack what data/build_stations.py packed: constituent's number, hundredths of mm, hundredths of a degree."""
    name_of = dict(tuple(row) for row in db.execute("SELECT number, name FROM constituent"))
    return tuple((name_of[n], amplitude / 1e5, lag / 100) for n, amplitude, lag in struct.iter_unpack("<BIH", packed))
