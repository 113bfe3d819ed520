"""HTTP of windows: a site's calendar feed, behind a secret address, and the tide stations that a site may take."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime, timedelta
from functools import lru_cache

from flask import Blueprint, Response, jsonify, request
from sqlite_utils import Database

from fieldlog.access.calendar_secrets import Address, address_of_secret
from fieldlog.access.guard import current_device, require
from fieldlog.errors import AddressEnded, NotHere, SiteNotReady
from fieldlog.openapi.operations import answer, in_path, in_query, operation
from fieldlog.openapi.shapes import group, list_of, or_null, text
from fieldlog.questions.sites import site_of
from fieldlog.shown_names import named
from fieldlog.stations import mirrored, nearest_rows, place_of
from fieldlog.store import Programme
from fieldlog.tides.station import Station
from fieldlog.windows.beds import ground_of
from fieldlog.windows.calendar import Event, calendar_feed, ended_feed, events_of
from fieldlog.windows.calendar_cancelled import Cancelling, Stopped, stopped_lows
from fieldlog.windows.calendar_events import in_place, tells
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.season import season
from fieldlog.zones import zone_of

STATIONS_TOLD = 6
ENDED_DAYS = 60
"""How long an ended address takes back what it told; calendars that ask less often than that are rare. Our own proposal."""

DAYS_BACK, DAYS_AHEAD = 7, 120
"""What the feed spans; calendars fetch it anew every few hours."""

KEPT = 16
"""Sites whose events of today are kept: every device of a site asks for the same ones, each at its own address."""


@dataclass(frozen=True)
class _Tide:
    """A station for a cache to tell apart by its id: what an id names never changes."""

    station_id: str
    station: Station = field(compare=False)


def blueprint(programme: Programme, now: Callable[[], datetime]) -> Blueprint:
    """The route of calendar feeds for one programme."""
    routes = Blueprint("windows", __name__)

    @routes.get("/calendar/<secret>.ics")
    @operation(
        "calendar", "A site's usable low tides as a calendar feed; at an address that has ended, its events, canceled",
        {"200": answer("RFC 5545", text(), "text/calendar")},
        parameters=[in_path("secret", "The secret of one device and one site")], open_to_all=True, refuses=("403", "409", "410"),
    )  # fmt: skip
    def calendar(secret: str) -> Response:
        db, at = programme.db(), now()
        address = address_of_secret(db, secret, int(at.timestamp() * 1000))
        if address is None:
            raise NotHere("There is no calendar at this address. Copy the address from the app again.")
        feed = feed_of(db, address.site_id, at) if address.ended_at_ms is None else feed_of_ended(address, at)
        return Response(feed, mimetype="text/calendar", headers={"Cache-Control": "no-cache"})

    @routes.get("/api/stations")
    @operation(
        "stations", "The tide stations nearest to a place, and its time zone (leads)",
        {"200": answer(
            "Nearest first; mirrored: one close to the place at the other sign of longitude, where none is near the place itself",
            group(
                ["stations", "zone", "mirrored"], stations=list_of({"type": "object"}), zone=or_null(text("IANA name")),
                mirrored=or_null({"type": "object"}),
            ),
        )},
        parameters=[in_query("near", "Latitude and longitude in degrees, such as 32.03,-80.92")],
    )  # fmt: skip
    def stations() -> Response:
        require(current_device(request, programme.db()), "lead")
        place = place_of(request.args.get("near", ""))
        there = mirrored(*place)
        return jsonify(stations=nearest_rows(*place, STATIONS_TOLD), zone=zone_of(*place), mirrored=None if there is None else asdict(there))

    return routes


def feed_of(db: Database, site_id: str, now: datetime) -> str:
    """
    A site's calendar of safe windows, from a week ago to 120 days ahead; all cancelled where the site lacks what they are made from.

    Raises:
        NotHere: the site was removed.
        SiteNotReady: it has no tide station or levels yet, and has told nothing.
    """
    site = site_of(db, site_id)
    if site is None:
        raise NotHere("This site was removed, and its calendar with it.")
    today = now.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    from_at, name = today - timedelta(days=DAYS_BACK), named(site["name"])
    events: tuple[Event, ...] = ()
    try:
        ground = ground_of(db, site)
        events, stopped = _events(name, _Tide(ground.station.station_id, ground.station), ground.rules, today)
        cancelling = Cancelling(name, stopped)
    except SiteNotReady as lack:
        # A calendar that is answered with a fault keeps what it holds, and goes on telling people to leave home.
        if not tells(db, site_id, from_at):
            raise
        cancelling = Cancelling(name, (), lack.sentence)
    return calendar_feed(name, in_place(db, site_id, events, cancelling, from_at, now))


@lru_cache(KEPT)
def _events(site_name: str, tide: _Tide, rules: SiteRules, today: datetime) -> tuple[tuple[Event, ...], tuple[Stopped, ...]]:
    start, end = today - timedelta(days=DAYS_BACK), today + timedelta(days=DAYS_AHEAD)
    windows = season(tide.station, rules, start, end).windows()
    return tuple(events_of(site_name, tide.station.name, rules, windows)), stopped_lows(windows)


def feed_of_ended(address: Address, now: datetime) -> str:
    """
    The calendar behind an address that ended: all that it had told, cancelled.

    Raises:
        AddressEnded: it ended over 60 days ago.
    """
    assert address.ended_at_ms is not None
    ended_at = datetime.fromtimestamp(address.ended_at_ms / 1000, UTC)
    if now > ended_at + timedelta(days=ENDED_DAYS):
        raise AddressEnded("This calendar address no longer works. Copy a new address from the app, or ask a lead for one.")
    return ended_feed(address.told, ended_at)
