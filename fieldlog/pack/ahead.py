"""Parts of a new day are made before the first phone asks for them, a site at a time, so that requests find room between."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable
from datetime import date, datetime, timedelta
from threading import Event

from sqlite_utils import Database

from fieldlog.errors import FieldlogError
from fieldlog.pack.kept import KeptParts
from fieldlog.pack.parts import day_of, windows_part
from fieldlog.questions.sites import site_ids
from fieldlog.store import Programme

LOOK_S = 60.0
PAUSE_S = 0.5
"""Between two sites, whose windows take about half a second of work each."""

EARLY = timedelta(hours=1)
"""So long before midnight UTC tomorrow's are made too."""

log = logging.getLogger("fieldlog")


def make_ahead(programme: Programme, kept: KeptParts, now: Callable[[], datetime], stop: Event) -> None:
    """Make all sites' parts of each day as it comes, until `stop` is set."""
    made: list[date] = []
    while not stop.is_set():
        for day in days_due(now()):
            if day in made:
                continue
            try:
                make_day(programme.db(), kept, day, stop)
            except (FieldlogError, sqlite3.Error) as fault:
                log.error("The packs of %s were not made ahead: %s Phones still get them, the first of each site later.", day, fault)
            made = [*made[-1:], day]
        stop.wait(LOOK_S)
    programme.close()


def days_due(at: datetime) -> list[date]:
    """The UTC days whose parts should be here: today, and tomorrow once it is near."""
    today, soon = day_of(at), day_of(at + EARLY)
    return [today] if today == soon else [today, soon]


def make_day(db: Database, kept: KeptParts, day: date, stop: Event) -> None:
    """Make the parts of every site for a day, unless they are kept."""
    for site_id in site_ids(db):
        if stop.is_set():
            return
        windows_part(kept, db, site_id, day, "crew")
        stop.wait(PAUSE_S)
