"""
The roster on paper, for the day on which the desk's phone dies: whom to expect, each with boxes, and empty lines for walk-ups.

It says what the crew may read, name, role and whether somebody is a minor, and nothing of contacts or health; those are written on it by hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from jinja2 import Environment, PackageLoader, StrictUndefined
from sqlite_utils import Database

from fieldlog.days import day_words
from fieldlog.instants import written
from fieldlog.plan.sheet import STYLE
from fieldlog.questions.people import roster_of, waiver_in_use
from fieldlog.records.person import PERSON_ROLES
from fieldlog.shown_names import named

ROSTER_OF = timedelta(days=365)
"""Who came longer ago is written on an empty line, like a newcomer."""

EMPTY_LINES = 12

_TEMPLATE = Environment(
    loader=PackageLoader("fieldlog.plan", "."), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
).get_template("roster.html")


@dataclass(frozen=True)
class RosterPerson:
    """Someone to expect: `about` is role and age, `waiver` what they still sign, empty where they did."""

    name: str
    about: str
    is_minor: bool
    waiver: str


def roster_page(db: Database, site: Mapping[str, Any], now: datetime) -> str:
    """
    A site's roster as one page of HTML.

    Args:
        site: its row.
        now: aware.
    """
    version = waiver_in_use(db, site["record_id"], written(now))
    day = day_words(now.astimezone(ZoneInfo(site["zone"] or "UTC")), weekday=True, year=True)
    return _TEMPLATE.render(
        site=named(site["name"]), day=day, people=list(_people(db, site["record_id"], version, now)), version=version,
        empty_lines=EMPTY_LINES, emergency=site["emergency_card"], stylesheet=f"/{STYLE}",
    )  # fmt: skip


def _people(db: Database, site_id: str, version: str | None, now: datetime) -> Iterator[RosterPerson]:
    for row in roster_of(db, site_id, written(now - ROSTER_OF)):
        age = "minor" if row["minor"] else "under 18? yes / no" if row["minor"] is None else ""
        about = ", ".join(word for word in (PERSON_ROLES.get(row["role"] or "", ""), age) if word)
        is_signed = row["waiver_valid"] and version in (None, row["waiver_version"])
        yield RosterPerson(named(row["display_name"]), about, row["minor"] != 0, "" if is_signed else f"sign {version}" if version else "sign")
