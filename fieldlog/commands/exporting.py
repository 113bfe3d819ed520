"""The command that takes a programme's data out."""

from __future__ import annotations

import logging
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, Self

import click

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.printable import say, say_over
from fieldlog.commands.sites import site_called
from fieldlog.exports.asking import check_days
from fieldlog.exports.formats import FORMATS, write_file
from fieldlog.exports.opening import open_export
from fieldlog.exports.stream import Export
from fieldlog.exports.tables import Wanted
from fieldlog.logs import JsonLines
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.shown_names import counted
from fieldlog.sync.opening import open_programme

DAY = click.DateTime(["%Y-%m-%d"])
log = logging.getLogger("fieldlog.exports")

TELL_EVERY_S = 0.2


class Progress:
    """
    How far an export is: all rows so far, and those of the table that is written, on one line that goes at the end.

    Args:
        is_told: whether somebody looks on.
    """

    def __init__(self, export: Export, is_told: bool) -> None:
        self._export, self._is_told = export, is_told
        self.rows = 0
        self._of_table, self._table = 0, ""
        self._told, self._told_s = "", 0.0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_fault: Any) -> None:
        if self._told:
            say_over("", self._told)

    def count(self, more: int) -> None:
        """So many rows more are written."""
        title = self._export.under_way.title if self._export.under_way else ""
        if title != self._table:
            self._table, self._of_table = title, 0
        self.rows += more
        self._of_table += more
        if self._is_told and time.monotonic() - self._told_s >= TELL_EVERY_S:
            line = f"{title}: {counted(self._of_table, 'row')}. In all {self.rows:,} of about {max(self._export.count, self.rows):,}"
            say_over(line, self._told)
            self._told, self._told_s = line, time.monotonic()


@contextmanager
def _ending_cleanly() -> Iterator[None]:
    """An end that is asked for unwinds as Ctrl-C does, so that no half file stays."""
    before = signal.signal(signal.SIGTERM, lambda _number, _frame: sys.exit(1))
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


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
    check_days(wanted)
    if private:
        say(JsonLines().format(log.makeRecord(log.name, logging.INFO, __file__, 0, "Contacts are exported by the command line.", (), None)), err=True)
    with _ending_cleanly(), open_export(programme.path, CATALOGUE, wanted, asked.now()) as made, Progress(made, sys.stderr.isatty()) as progress:
        write_file(made, FORMATS[form], out, progress.count)
    tables, rows = [table.name for table in made.tables], progress.rows
    asked.show({"file": str(out), "rows": rows, "tables": tables}, [f"{out} holds {counted(rows, 'row')} in {counted(len(tables), 'table')}."])
