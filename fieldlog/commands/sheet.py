"""The command that writes a visit's sheet for paper."""

from __future__ import annotations

from pathlib import Path

import click

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.sites import chosen_sites
from fieldlog.errors import BadRequest
from fieldlog.plan.sheet import page_alone, sheet_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.shown_names import counted
from fieldlog.sync.opening import open_programme


@click.command()
@click.option("--site", help="The site's name or id. Not needed if there is only one.")
@click.option("--window", "number", type=click.IntRange(1), default=1, show_default=True, help="Which of the usable low tides: 1 is the next.")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="The HTML file to write; print it from a browser.")
@folder_option
@json_option
@pass_asked
def sheet(asked: Asked, /, site: str | None, number: int, out: Path) -> None:
    """Write a visit's sheet for paper, for the day the phones die."""
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    sites = chosen_sites(programme.db(), site)
    if len(sites) > 1:
        raise BadRequest(f"There are {len(sites)} sites. Say which: --site NAME.")
    made = sheet_of(programme.db(), sites[0], number, asked.now())
    if out.exists():
        raise BadRequest(f"{out} is there already. Name another file.")
    out.write_text(page_alone(made), "utf-8")
    asked.show({"out": str(out), "units": len(made.units), "day": made.day}, [f"{out}: {counted(len(made.units), 'unit')}, {made.day}. Open it in a browser and print it."])
