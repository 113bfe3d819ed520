"""
The sheet of a visit on paper, for the day on which the phones die: times, who is out, and a box for every field of a check.

Its order is the visit's plan where a lead has saved one for that low, else row by row from the sea and slot by slot; the screen that
types it in afterwards (`static/views/sheet.js`) goes by the same order.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from jinja2 import Environment, PackageLoader, StrictUndefined
from sqlite_utils import Database

from fieldlog.days import day_words
from fieldlog.errors import NoWindow
from fieldlog.package_data import packaged
from fieldlog.plan.stops import PlannedStop, stops_of
from fieldlog.questions.names import names_of
from fieldlog.questions.sites import of_site
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.fields import Choice, Declared, Instant, Measured, Ref, Text, Whole, YesNo
from fieldlog.records.kind import Kind
from fieldlog.rounding import rounded
from fieldlog.shown_names import named
from fieldlog.windows.access import Window
from fieldlog.windows.beds import Ground, ground_of
from fieldlog.windows.rows import path_words, window_row
from fieldlog.windows.season import season

DAYS_AHEAD = 60
SAME_LOW = timedelta(hours=2)
"""A plan is of a low where its time differs by no more; predictions move by minutes when a site's tide is worked out anew."""

STYLE = "online/sheet.css"
PEOPLE_ROWS = 12
SPARE_CHECKS = 2
NOT_ON_PAPER = ("unit_id", "checked_at", "time_known", "looked_only")
"""Fields that the sheet says by the place where something is written."""

NO_TIME = "--:--"
CHECK = CATALOGUE.kinds["unit_check"]


@dataclass(frozen=True)
class Box:
    """
    A field as it stands on paper.

    Attributes:
        title, unit: in words; the unit may be empty.
        choices: words to ring, none where something is written.
        long: whether it is a line of its own.
    """

    title: str
    unit: str
    choices: tuple[str, ...]
    long: bool


@dataclass(frozen=True)
class SheetUnit:
    """A unit's place on the sheet: tag, where it stands, its team and when its turn is; None where nothing is planned."""

    tag: str
    where: str
    team: int | None
    begins: str | None


@dataclass(frozen=True)
class Sheet:
    """What is printed; the times are on the site's clock."""

    site: str
    day: str
    times: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    emergency: str | None
    units: tuple[SheetUnit, ...]
    order: str
    boxes: tuple[Box, ...]
    keys: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]


def sheet_of(db: Database, site: Mapping[str, Any], number: int, now: datetime) -> Sheet:
    """
    The sheet of a site's low tide.

    Args:
        site: its row.
        number: which of the usable lows that are not over, from 1.
        now: aware.

    Raises:
        NoWindow: there is no such low in the next 60 days.
        SiteNotReady: numbers are missing that the times are made from.
    """
    ground = ground_of(db, site)
    window = _low(ground, named(site["name"]), number, now)
    zone = ZoneInfo(site["zone"])
    stops = _planned(db, site["record_id"], window.low_at)
    units = tuple(_units(db, site["record_id"], stops, zone))
    return Sheet(
        named(site["name"]),
        day_words(window.low_at.astimezone(zone), weekday=True, year=True),
        _times(window, ground, zone),
        tuple(caution.sentence for caution in window.cautions),
        site["emergency_card"],
        units,
        "as planned, team by team" if stops else "row by row from the sea, slot by slot",
        tuple(_boxes(CHECK)),
        tuple(_keys(CHECK)),
    )


def page(sheet: Sheet, style: str | None = None) -> str:
    """
    The sheet as one page of HTML.

    Args:
        style: the style sheet's text, for a file that must stand alone; None names the server's.
    """
    template = _TEMPLATES.get_template("sheet.html")
    return template.render(sheet=sheet, style=style, people_rows=PEOPLE_ROWS, spare_checks=SPARE_CHECKS, stylesheet=f"/{STYLE}")


def page_alone(sheet: Sheet) -> str:
    """The same with its style within."""
    return page(sheet, (packaged("static") / STYLE).read_text("utf-8"))


_TEMPLATES = Environment(
    loader=PackageLoader("fieldlog.plan", "."), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
)


def _low(ground: Ground, name: str, number: int, now: datetime) -> Window:
    span = season(ground.station, ground.rules, now - timedelta(days=1), now + timedelta(days=DAYS_AHEAD))
    usable = [window for window in span.windows() if window.safe and window.usable_until and window.usable_until > now]
    if not usable:
        raise NoWindow(f"{name} has no usable low in the next {DAYS_AHEAD} days. To see why: fieldlog windows")
    if number > len(usable):
        raise NoWindow(f"{name} has {len(usable)} usable lows in the next {DAYS_AHEAD} days; there is no number {number}.")
    return usable[number - 1]


def _times(window: Window, ground: Ground, zone: ZoneInfo) -> tuple[tuple[str, str], ...]:
    row = window_row(window, "", ground.rules)

    def clock(name: str) -> str:
        return NO_TIME if row[name] is None else f"{datetime.fromisoformat(row[name]).astimezone(zone):%H:%M}"

    return (
        ("Leave home by", clock("leave_home_at")),
        ("Path dry from", path_words(row, zone)),
        ("Work from", clock("usable_from")),
        ("Low", f"{clock('low_at')}, {rounded(window.low_level_m, 2)} m"),
        ("Turn back by", f"{clock('turn_back_at')}: {window.turn_back_reason}"),
    )


def _planned(db: Database, site_id: str, low_at: datetime) -> list[PlannedStop]:
    """The stops of the newest plan of this low; none where nobody planned it."""
    plans = [plan for plan in of_site(db, "visit_plan", site_id, "made_at") if plan["low_at"] and abs(datetime.fromisoformat(plan["low_at"]) - low_at) <= SAME_LOW]
    newest = max(plans, key=lambda plan: (plan["made_at"] or "", plan["record_id"]), default=None)
    return [] if newest is None else stops_of(newest)


def _units(db: Database, site_id: str, stops: Sequence[PlannedStop], zone: ZoneInfo) -> Iterator[SheetUnit]:
    units = {unit["record_id"]: unit for unit in of_site(db, "unit", site_id, "slot_number")}
    rows = {row["record_id"]: row for row in of_site(db, "row", site_id, "order_number")}
    plots = names_of(db, "plot", [stop.stop_id for stop in stops if stop.stop_id not in units])

    def where(unit: Mapping[str, Any]) -> str:
        row = rows.get(unit["row_id"])
        return f"row {named(row['name'] if row else None, '?')}, slot {'?' if unit['slot_number'] is None else unit['slot_number']}"

    if stops:
        for stop in stops:
            begins = f"{(stop.begins_at + timedelta(seconds=59)).astimezone(zone):%H:%M}"
            if stop.stop_id in units:
                unit = units[stop.stop_id]
                yield SheetUnit(named(unit["tag"], "?"), where(unit), stop.team, begins)
            elif stop.stop_id in plots:
                yield SheetUnit(named(plots[stop.stop_id], "?"), "plot", stop.team, begins)
        return

    def place(unit: Mapping[str, Any]) -> tuple[Any, ...]:
        row = rows.get(unit["row_id"])
        order = None if row is None else row["order_number"]
        slot = unit["slot_number"]
        return (order is None, order or 0, unit["row_id"] or "", slot is None, slot or 0, unit["record_id"])

    for unit in sorted(units.values(), key=place):
        yield SheetUnit(named(unit["tag"], "?"), where(unit), None, None)


def _boxes(kind: Kind) -> Iterator[Box]:
    """Every field of a kind that a hand can write; a level says above which datum, so the datum has no box."""
    datums = {str(declared.metadata["x-datum"]) for declared in kind.fields.values() if "x-datum" in declared.metadata}
    for name, declared in kind.fields.items():
        if name not in NOT_ON_PAPER and name not in datums and not isinstance(declared, Ref | Instant):
            yield _box(declared)


def _box(declared: Declared) -> Box:
    unit = str(declared.metadata.get("x-unit") or "")
    above = ", above ______" if "x-datum" in declared.metadata else ""
    if isinstance(declared, YesNo):
        return Box(declared.title, "", ("yes", "no"), long=False)
    if isinstance(declared, Choice):
        return Box(declared.title, "", tuple(declared.labels.values()), long=True)
    if isinstance(declared, Whole) and declared.metadata.get("x-labels"):
        return Box(declared.title, "", tuple(declared.metadata["x-labels"]), long=False)
    if isinstance(declared, Measured):
        return Box(declared.title, f"{unit}{above}", (), long=False)
    return Box(declared.title, "", (), long=isinstance(declared, Text))


def _keys(kind: Kind) -> Iterator[tuple[str, tuple[tuple[str, str], ...]]]:
    """What the grades mean, printed once."""
    for declared in kind.fields.values():
        if isinstance(declared, Whole) and declared.metadata.get("x-labels"):
            yield declared.title, tuple(declared.metadata["x-labels"].items())
