"""The command that plans the next visit."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import click

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.sites import chosen_sites
from fieldlog.days import day_words
from fieldlog.errors import BadRequest
from fieldlog.plan import making
from fieldlog.plan.routes import MOST_TEAMS
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted
from fieldlog.sync.opening import open_programme
from fieldlog.windows.rows import path_words


@click.command()
@click.option("--site", help="The site's name or id. Not needed if there is only one.")
@click.option("--window", type=click.IntRange(1), default=1, show_default=True, help="Which of the usable low tides to plan for: 1 is the next.")
@click.option("--teams", type=click.IntRange(1, MOST_TEAMS), default=1, show_default=True, help="How many teams, of two or more people each.")
@click.option("--samples", is_flag=True, help="Every plot too.")
@click.option("--everything", is_flag=True, help="Every unit, due or not.")
@folder_option
@json_option
@pass_asked
def plan(asked: Asked, /, site: str | None, **said: Any) -> None:
    """Plan the next visit: which units, in which order."""
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    sites = chosen_sites(programme.db(), site)
    if len(sites) > 1:
        raise BadRequest(f"There are {len(sites)} sites. Say which: --site NAME.")
    made = making.make_plan(programme.db(), sites[0], making.Asked(**said), asked.now())
    asked.show(made, _lines(made, ZoneInfo(sites[0]["zone"])))


def _lines(made: dict[str, Any], zone: ZoneInfo) -> list[str]:
    def clock(text: str | None, *, starts: bool = False) -> str:
        """Starts are told in the minute after, ends in the one before."""
        inward = timedelta(seconds=59) if starts else timedelta()
        return "--:--" if text is None else f"{datetime.fromisoformat(text).astimezone(zone) + inward:%H:%M}"

    window = made["window"]
    low = datetime.fromisoformat(window["low_at"]).astimezone(zone)
    lines = [
        f"{window['site']}, {day_words(low, weekday=True, year=True)}: low {low:%H:%M} at {rounded(window['low_level_m'], 2)} m. Leave home by {clock(window['leave_home_at'])}; "
        f"path dry from {path_words(window, zone)}, work from {clock(window['usable_from'])}.",
        f"Turn back by {clock(window['turn_back_at'])}: {window['turn_back_reason']}. Predicted: trust what you see.",
    ]
    for team in range(1, made["teams"] + 1):
        stops = [one for one in made["stops"] if one["team"] == team]
        lines.append(f"Team {team}, two people or more: {counted(len(stops), 'stop')}")
        lines += [f"  {clock(one['begins_at'], starts=True)}  {one['tag']:<6} {rounded(one['minutes'], 1):>4} min, until {clock(one['until'])}  {' '.join([*one['reasons'], *(f'({remark})' for remark in one['remarks'])])}" for one in stops]
    if made["left_out"]:
        needed = made["tides_needed"]
        lines.append(f"{counted(len(made['left_out']), 'stop does', 'stops do')} not fit. All stops together need {needed or 'more than 40'} low tides:")
        lines += [f"  {one['tag']:<6} {one['why']}" for one in made["left_out"]]
    return [*lines, "Bring: " + "; ".join(made["bring"]) + ".", *(f"Based on: {said}." for said in made["basis"])]
