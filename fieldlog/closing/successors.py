"""
The page that a season's leads leave to the next: where things stand, what is open, how it is measured, whom to ask by role, how to get in.

It names no person. What leads wrote themselves stands as they wrote it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from jinja2 import Environment, PackageLoader, StrictUndefined

from fieldlog.access.devices import Device
from fieldlog.access.invitations import open_invitations
from fieldlog.access.leads import count_leads
from fieldlog.backup import backup_age_h
from fieldlog.closing.open_matters import Matter, open_matters
from fieldlog.days import day_words
from fieldlog.instants import written
from fieldlog.questions.sites import of_site
from fieldlog.questions.whole_tables import Span, count_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.method_note import METHODS
from fieldlog.replica.checking import SETTING
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted, named
from fieldlog.store import Programme, setting

STYLE = "online/sheet.css"
LASTING = {"row": "Rows", "unit": "Units", "control_mark": "Control marks", "plot": "Plots"}
OF_SEASON = {
    "visit": "Visits", "unit_check": "Unit checks", "position_fix": "Positions", "unit_event": "Work on units", "sighting": "Sightings", "photo": "Photos",
}  # fmt: skip


@dataclass(frozen=True)
class Page:
    """All that the page says, in words; `closed` is when the season was closed, None while it is not."""

    programme: str
    site: str
    season: int
    made: str
    closed: str | None
    standing: tuple[tuple[str, int], ...]
    of_season: tuple[tuple[str, int], ...]
    matters: tuple[Matter, ...]
    methods: tuple[tuple[str, str, str], ...]
    contacts: str | None
    word: str | None
    emergency: str | None
    addresses: tuple[tuple[str, str], ...]
    invitations: tuple[str, ...]
    leads: int
    marks: tuple[tuple[str, str, str, str], ...]


def page_of(programme: Programme, lead: Device, site: dict[str, Any], now: datetime) -> Page:
    """
    The page of a site as things stand now: of the newest closing, of this year where none was begun.

    Args:
        lead: who asks; the page tells what this one may know.
        now: aware.
    """
    db, site_id = programme.db(), site["record_id"]
    clock = ZoneInfo(site["zone"] or "UTC")
    here = now.astimezone(clock)
    closing = max(of_site(db, "season_closing", site_id, "season_year"), key=lambda row: (row["season_year"] or 0, row["created_eff"]), default=None) or {}
    season = closing.get("season_year") or here.year
    year = _year(site_id, season, clock)
    closed_on = closing.get("closed_on")
    return Page(
        programme=named(setting(db, "programme_name")),
        site=named(site["name"]),
        season=season,
        made=f"{day_words(here, year=True)}, {here:%H:%M}",
        closed=day_words(date.fromisoformat(closed_on), year=True) if closed_on else None,
        standing=tuple((words, len(of_site(db, kind, site_id, "record_id"))) for kind, words in LASTING.items()),
        of_season=tuple((words, count_of(db, CATALOGUE.kinds[kind], year)) for kind, words in OF_SEASON.items()),
        matters=tuple(open_matters(db, lead, site_id, site["zone"], now)),
        methods=tuple(_methods(of_site(db, "method_note", site_id, "from_day DESC"))),
        contacts=closing.get("role_contacts"),
        word=closing.get("word"),
        emergency=site["emergency_card"],
        addresses=tuple(_addresses(programme, now)),
        invitations=tuple(_invitations(programme, lead, site_id, clock, now)),
        leads=count_leads(db, lead.sites),
        marks=tuple(_marks(of_site(db, "control_mark", site_id, "label"))),
    )


def as_html(page: Page) -> str:
    """The page as one document of HTML that prints."""
    return _TEMPLATES.get_template("successors.html").render(page=page, stylesheet=f"/{STYLE}")


_TEMPLATES = Environment(
    loader=PackageLoader("fieldlog.closing", "."), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
)


def _year(site_id: str, season: int, clock: ZoneInfo) -> Span:
    first, last = (written(datetime(year, 1, 1, tzinfo=clock).astimezone(UTC)) for year in (season, season + 1))
    return Span(frozenset([site_id]), first, last)


def _methods(notes: list[dict[str, Any]]) -> Iterator[tuple[str, str, str]]:
    for note in notes:
        since = day_words(date.fromisoformat(note["from_day"]), year=True) if note["from_day"] else "no day given"
        yield METHODS.get(note["about"], "Something else"), since, named(note["note"], "")


def _addresses(programme: Programme, now: datetime) -> Iterator[tuple[str, str]]:
    db = programme.db()
    age_h = backup_age_h(db, int(now.timestamp() * 1000))
    yield "What phones open", setting(db, "address") or "no address is set: fieldlog serve --address https://reef.example.org"
    yield "Data folder on the server", str(programme.folder.resolve())
    yield "Backups on the server", str(programme.backups_folder.resolve())
    yield "Last backup", "none yet" if age_h is None else "less than an hour ago" if age_h < 1 else f"{rounded(age_h, 0)} h ago"
    yield "Second copy", setting(db, SETTING) or "none is set"


def _invitations(programme: Programme, lead: Device, site_id: str, clock: ZoneInfo, now: datetime) -> Iterator[str]:
    for one in open_invitations(programme.db(), lead, int(now.timestamp() * 1000)):
        if one["site_id"] in (None, site_id):
            until = datetime.fromtimestamp(one["expires_at"] / 1000, UTC).astimezone(clock)
            where = "every site" if one["site_id"] is None else "this site"
            yield f"{one['role'].capitalize()}, {where}: {counted(one['uses_left'], 'use')} left, until {day_words(until, year=True)}, {until:%H:%M}"


def _marks(marks: list[dict[str, Any]]) -> Iterator[tuple[str, str, str, str]]:
    for mark in marks:
        level = f"{rounded(mark['level_m'], 3)} m above {mark['level_datum']}" if mark["level_m"] is not None and mark["level_datum"] else "not known"
        yield named(mark["label"]), _metres(mark["east_m"]), _metres(mark["north_m"]), level


def _metres(value: float | None) -> str:
    return "not known" if value is None else f"{rounded(value, 3)} m"
