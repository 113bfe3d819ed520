"""The command that lists windows."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import click
from sqlite_utils import Database

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.sites import chosen_sites
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.stations import station_of
from fieldlog.sync.opening import open_programme
from fieldlog.windows.rows import no_window_sentence, window_row
from fieldlog.windows.rules import site_rules
from fieldlog.windows.season import season

MOST_DAYS = 800


@click.command()
@click.option("--site", help="The site's name or id; every site where it is left out.")
@click.option("--from", "start", type=click.DateTime(["%Y-%m-%d"]), help="First local day; today where it is left out.")
@click.option("--days", type=click.IntRange(1, MOST_DAYS), default=60, show_default=True, help="How many days.")
@click.option("--rows", is_flag=True, help="Each row's own windows too.")
@folder_option
@json_option
@pass_asked
def windows(asked: Asked, site: str | None, start: datetime | None, days: int, rows: bool) -> None:
    """List when the site can be walked, and why not.

    Times are predicted: wind, waves, air pressure and rain move the water.
    """
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    found: list[dict[str, Any]] = []
    lines: list[str] = []
    for chosen in chosen_sites(programme.db(), site):
        first = (start or asked.now().astimezone(ZoneInfo(chosen["zone"] or "UTC"))).date()
        of_site, sentence = site_windows(programme.db(), chosen, first, days, rows=rows)
        found += of_site
        lines += [*_lines(of_site, chosen), *([sentence] if sentence else [])]
    asked.show(found, lines)


def site_windows(
    db: Database, site: Mapping[str, Any], first: date, days: int, *, rows: bool
) -> tuple[list[dict[str, Any]], str | None]:
    """
    The rows of a site's windows whose low lies on one of `days` local days from `first` on.

    Returns:
        The rows, the site's own level first, and the sentence that says why there is none to use, or None.

    Raises:
        SiteNotReady: a number that windows are made from is missing.
    """
    station = station_of(db, site)
    rules = site_rules(site, station.chart_datum)
    zone = ZoneInfo(rules.zone)
    start, end = datetime.combine(first, time(), zone), datetime.combine(first + timedelta(days=days), time(), zone)
    asked = season(station, rules, start, end - timedelta(seconds=1))
    own = asked.windows()
    found = [window_row(window, site["name"]) for window in own]
    if rows:
        beds = db.query("SELECT name, bed_level_m FROM row WHERE site_id = ? AND deleted = 0 ORDER BY order_number", [site["record_id"]])
        for bed in beds:
            found += [window_row(window, site["name"], bed["name"]) for window in asked.windows(bed["bed_level_m"])]
    return found, no_window_sentence(own, rules, days)


def _lines(found: list[dict[str, Any]], site: Mapping[str, Any]) -> list[str]:
    zone = ZoneInfo(site["zone"])
    return [_line(row, zone) for row in found]


def _line(row: dict[str, Any], zone: ZoneInfo) -> str:
    def clock(name: str) -> str:
        return "--:--" if row[name] is None else f"{datetime.fromisoformat(row[name]).astimezone(zone):%H:%M}"

    low = datetime.fromisoformat(row["low_at"]).astimezone(zone)
    place = row["site"] if row["row"] is None else f"{row['site']}, row {row['row']}"
    why = " ".join(caution["sentence"] for caution in row["cautions"] if caution["stops"])
    times = f"opens {clock('opens_at')}  turn back {clock('turn_back_at')}  closes {clock('closes_at')}"
    usable = f"{row['usable_min']:4d} min  {times}" if row["safe"] else f"not to use: {why}"
    return f"{place}  {low:%a %d %b %Y}  low {low:%H:%M} {row['low_level_m']:5.2f} m  {usable}"
