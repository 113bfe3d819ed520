"""The command that answers a question in SQL."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from itertools import chain, islice
from typing import Any

import click

from fieldlog.apostrophes import guarded
from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.printable import printable, show_json_list, show_line
from fieldlog.exports.csv_package import write_csv
from fieldlog.query.asking import Answer
from fieldlog.query.asking import asked as answer_to
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.shown_names import counted
from fieldlog.sync.opening import open_programme

WIDTHS_FROM = 200
"""Rows whose widths a table's columns have; what comes later and is wider stands out."""

WIDEST = 48
"""Letters of a cell that a table shows."""


@click.command()
@click.argument("sql")
@click.option("--as", "form", type=click.Choice(["table", "csv"]), default="table", help="A table to read (default), or CSV.")
@folder_option
@json_option
@pass_asked
def query(asked: Asked, sql: str, form: str) -> None:
    """Answer a question in SQL from the open data."""
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    programme.close()
    try:
        with answer_to(programme.path, CATALOGUE, sql) as answer:
            if asked.as_json:
                show_json_list(_documents(answer))
            elif form == "csv":
                header = [guarded(name) for name in answer.columns]
                write_csv(header, map(_csv_cells, answer.rows), sys.stdout.buffer, lambda _rows: None)
            else:
                for line in table_lines(answer.columns, answer.rows):
                    show_line(line)
            sys.stdout.flush()
    except BrokenPipeError:
        # Whoever reads the answer has had enough; Python flushes once more when it ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def table_lines(columns: tuple[str, ...], rows: Iterable[tuple[Any, ...]]) -> Iterator[str]:
    """An answer as a table to read, line by line: a head, a rule, the rows, and how many there are."""
    rows = iter(rows)
    first = [[_cell(value) for value in row] for row in islice(rows, WIDTHS_FROM)]
    head = [_cell(name) for name in columns]
    widths = [max(map(len, texts)) for texts in zip(head, *first, strict=True)]
    yield "  ".join(name.ljust(width) for name, width in zip(head, widths, strict=True)).rstrip()
    yield "  ".join("-" * width for width in widths)
    count = 0
    for cells in chain(first, ([_cell(value) for value in row] for row in rows)):
        yield "  ".join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True)).rstrip()
        count += 1
    yield counted(count, "row")


def _cell(value: Any) -> str:
    text = printable(str(_plain(value)))
    return text if len(text) <= WIDEST else f"{text[: WIDEST - 1]}…"


def _plain(value: Any) -> Any:
    """A value as people read it: nothing for null, a whole number without its point, bytes as hex digits."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value.hex() if isinstance(value, bytes) else value


def _csv_cells(row: tuple[Any, ...]) -> list[Any]:
    return [guarded(value) if isinstance(value, str) else _plain(value) for value in row]


def _documents(answer: Answer) -> Iterator[dict[str, Any]]:
    for row in answer.rows:
        yield {name: value.hex() if isinstance(value, bytes) else value for name, value in zip(answer.columns, row, strict=True)}
