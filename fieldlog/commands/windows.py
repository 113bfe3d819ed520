"""The command that lists windows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import click
from sqlite_utils import Database

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.sites import chosen_sites
from fieldlog.days import day_words
from fieldlog.errors import FieldlogError
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.rounding import rounded
from fieldlog.shown_names import named
from fieldlog.sync.opening import open_programme
from fieldlog.windows.access import Window
from fieldlog.windows.beds import ground_of
from fieldlog.windows.ranking import ranked
from fieldlog.windows.rows import no_window_sentence, path_words, window_row
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.season import season

MOST_DAYS = 800


@click.command()
@click.option("--site", help="The site's name or id. Without it: every site.")
@click.option("--from", "start", type=click.DateTime(["%Y-%m-%d"]), help="First local day. Without it: today.")
@click.option("--days", type=click.IntRange(1, MOST_DAYS), default=60, show_default=True, help="How many days.")
@click.option("--rows", is_flag=True, help="Each row's own times too.")
@click.option("--units", is_flag=True, help="Each unit's own times too.")
@click.option("--best", type=click.IntRange(1), metavar="N", help="Only the N best low tides, best first, with their points.")
@folder_option
@json_option
@pass_asked
def windows(asked: Asked, /, site: str | None, start: datetime | None, best: int | None, **wanted: Any) -> None:
    """List the low tides you can walk, and why not the others.

    Times are predicted: wind, waves, air pressure and rain move the water.
    """
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    found: list[dict[str, Any]] = []
    lines: list[str] = []
    sites = chosen_sites(programme.db(), site)
    for chosen in sites:
        zone = ZoneInfo(chosen["zone"] or "UTC")
        first = (start or asked.now().astimezone(zone)).date()
        try:
            of_site, sentences = site_windows(programme.db(), chosen, first, best=best, **wanted)
        except FieldlogError as fault:
            # One that is not ready hides no other.
            if len(sites) == 1:
                raise
            of_site, sentences = [], [fault.sentence]
        found += of_site
        lines += [*(window_line(row, zone) for row in of_site), *sentences]
    asked.show(found, lines)


def site_windows(
    db: Database, site: Mapping[str, Any], first: date, days: int, *, rows: bool, units: bool = False, best: int | None = None
) -> tuple[list[dict[str, Any]], list[str]]:
    """
    The rows of a site's windows whose low lies on one of `days` local days from `first` on.

    Args:
        rows, units: also those of each row's and each unit's own ground.
        best: only so many of each, those to be chosen first, with `rank`, `points` and `margin_m`.

    Returns:
        The rows, the site's own level first, and sentences: why there is none to use, which levels could not be used.

    Raises:
        SiteNotReady: a number that windows are made from is missing.
    """
    ground = ground_of(db, site)
    rules = ground.rules
    zone = ZoneInfo(rules.zone)
    start, end = datetime.combine(first, time(), zone), datetime.combine(first + timedelta(days=days), time(), zone)
    asked = season(ground.station, rules, start, end - timedelta(seconds=1))
    own = asked.windows()
    found = _rows_of(own, rules, best, named(site["name"]))
    for bed in ground.rows if rows else ():
        found += _rows_of(asked.windows(bed.bed_level_m), rules, best, named(site["name"]), row=bed.name)
    for bed in ground.units if units else ():
        found += _rows_of(asked.windows(bed.bed_level_m), rules, best, named(site["name"]), unit=bed.name)
    sentence = no_window_sentence(own, rules, days)
    return found, [*([sentence] if sentence else []), *ground.doubts]


def _rows_of(
    windows: Sequence[Window], rules: SiteRules, best: int | None, site: str, row: str | None = None, unit: str | None = None
) -> list[dict[str, Any]]:
    if best is None:
        return [window_row(window, site, rules, row, unit) for window in windows]
    return [
        {**window_row(one.window, site, rules, row, unit), "rank": place, "score": one.score, "points": one.points, "margin_m": round(one.margin_m, 3) + 0.0}
        for place, one in enumerate(ranked(windows, rules)[:best], 1)
    ]


def window_line(row: dict[str, Any], zone: ZoneInfo) -> str:
    """A window's row as one line, its times at the site."""
    def clock(name: str) -> str:
        return "--:--" if row[name] is None else f"{datetime.fromisoformat(row[name]).astimezone(zone):%H:%M}"

    low = datetime.fromisoformat(row["low_at"]).astimezone(zone)
    place = row["site"] + (f", row {row['row']}" if row["row"] else "") + (f", unit {row['unit']}" if row["unit"] else "")
    rank = f"{row['rank']:3d}. {row['score']:3d} points  " if "rank" in row else ""
    why = " ".join(caution["sentence"] for caution in row["cautions"] if caution["stops"])
    leave = f"leave the row {clock('leave_row_at')}  " if row["leave_row_at"] else ""
    times = f"leave home {clock('leave_home_at')}  path dry {path_words(row, zone)}  work {clock('usable_from')}  {leave}turn back {clock('turn_back_at')}"
    usable = f"{row['usable_min']:4d} min  {times}: {row['turn_back_reason']}" if row["safe"] else f"not to use: {why}"
    return f"{rank}{place}  {day_words(low, weekday=True, year=True)}  low {low:%H:%M} {rounded(row['low_level_m'], 2):>5} m  {usable}"
