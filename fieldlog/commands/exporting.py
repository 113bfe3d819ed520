"""The command that takes a programme's data out."""

from __future__ import annotations

import logging
from datetime import datetime
from pathlib import Path

import click

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.printable import say
from fieldlog.commands.sites import site_called
from fieldlog.exports.formats import FORMATS, write_file
from fieldlog.exports.opening import open_export
from fieldlog.exports.tables import Wanted
from fieldlog.logs import JsonLines
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.shown_names import counted
from fieldlog.sync.opening import open_programme

DAY = click.DateTime(["%Y-%m-%d"])
log = logging.getLogger("fieldlog.exports")


@click.command()
@click.option("--as", "form", type=click.Choice(list(FORMATS)), required=True, help="The form of the file.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="The file to write. Nothing is overwritten.")
@click.option("--site", help="The site's name or id. Without it: every site.")
@click.option("--from", "from_day", type=DAY, help="The first day, on the site's clock.")
@click.option("--to", "to_day", type=DAY, help="The last day.")
@click.option("--kinds", help="The tables to write, with commas between, such as unit,unit_check. Without it: all.")
@click.option("--names", is_flag=True, help="Names of people too. Without it: people are numbers.")
@click.option("--private", is_flag=True, help="Contacts too; this is logged. Medical notes are never exported.")
@click.option("--history", is_flag=True, help="Every value that was ever written, by whom and when.")
@folder_option
@json_option
@pass_asked
def export(
    asked: Asked, form: str, out: Path, site: str | None, from_day: datetime | None, to_day: datetime | None, kinds: str | None,
    names: bool, private: bool, history: bool,
) -> None:  # fmt: skip
    """Take a program's data out, in a form that other programs read."""
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    sites = None if site is None else frozenset([str(site_called(programme.db(), site)["record_id"])])
    wanted = Wanted(
        "lead", sites, from_day and from_day.date(), to_day and to_day.date(), (kinds and tuple(kinds.split(","))) or None, names, private, history
    )  # fmt: skip
    if private:
        say(JsonLines().format(log.makeRecord(log.name, logging.INFO, __file__, 0, "Contacts are exported by the command line.", (), None)), err=True)
    rows = 0

    def count(more: int) -> None:
        nonlocal rows
        rows += more

    with open_export(programme.path, CATALOGUE, wanted, asked.now()) as made:
        write_file(made, FORMATS[form], out, count)
    tables = [table.name for table in made.tables]
    asked.show({"file": str(out), "rows": rows, "tables": tables}, [f"{out} holds {counted(rows, 'row')} in {counted(len(tables), 'table')}."])
