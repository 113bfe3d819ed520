"""A sheet as it was read: its lines on disk, and what stands in each of its columns."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from dataclasses import field as made
from pathlib import Path

import orjson

from fieldlog.imports.cells import Cell, Row, text_of
from fieldlog.imports.headers import LOOKED_THROUGH, Headers
from fieldlog.imports.mapping import HEADING, VALUE, Mapping, Wide

MOST_DISTINCT = 20_000
"""Different texts of one column that are looked at before a try; what further ones ask is found when the rows are tried."""

SAMPLES = 5


@dataclass
class Summary:
    """What stands in one column: its first values, how often each text stands, and how many cells are numbers."""

    samples: list[str] = made(default_factory=list)
    texts: Counter[str] = made(default_factory=Counter)
    numbers: int = 0
    number_samples: list[float] = made(default_factory=list)
    days: Counter[str] = made(default_factory=Counter)
    clocks: Counter[str] = made(default_factory=Counter)

    def note(self, cell: Cell) -> None:
        """Count one cell."""
        if cell is None:
            return
        if len(self.samples) < SAMPLES and (text := text_of(cell)) not in self.samples:
            self.samples.append(text)
        if isinstance(cell, str):
            if len(self.texts) < MOST_DISTINCT or cell in self.texts:
                self.texts[cell] += 1
        elif isinstance(cell, dict):
            said = cell.get("at") or cell.get("on")
            if said:
                self.days[said[:10]] += 1
            if "at" in cell or "clock" in cell:
                self.clocks[(cell.get("clock") or cell["at"][11:])] += 1
        elif type(cell) in (int, float):
            self.numbers += 1
            if len(self.number_samples) < MOST_DISTINCT:
                self.number_samples.append(float(cell))
        else:
            self.texts[text_of(cell)] += 1


@dataclass
class Table:
    """A sheet whose headers are known."""

    path: Path
    headers: Headers
    rows: int = 0
    columns: dict[str, Summary] = made(default_factory=dict)

    def lines(self) -> Iterator[tuple[int, Row]]:
        """Number, from 1 as people see it, and cells of each row that says anything, below the headers."""
        first = self.headers.row + self.headers.lines
        with self.path.open("rb") as lines:
            for number, line in enumerate(lines, 1):
                if number > first and line != b"[]\n":
                    yield number, orjson.loads(line)


def first_lines(path: Path) -> list[Row]:
    """The lines among which the headers are."""
    found: list[Row] = []
    with path.open("rb") as lines:
        for line in lines:
            found.append(orjson.loads(line))
            if len(found) > LOOKED_THROUGH:
                break
    return found


def summed_up(path: Path, headers: Headers) -> Table:
    """A sheet with what stands in each of its columns."""
    table = Table(path, headers)
    summaries = [Summary() for _ in headers.columns]
    for _, row in table.lines():
        table.rows += 1
        for summary, cell in zip(summaries, row, strict=False):
            if cell is not None:
                summary.note(cell)
    table.columns = {header.text: summary for header, summary in zip(headers.columns, summaries, strict=True)}
    return table


def long_rows(table: Table, mapping: Mapping) -> Iterator[tuple[int, dict[str, Cell], str | None]]:
    """
    The rows that records are made of.

    Returns:
        The number of the sheet's row, its cells by column, and of a wide sheet the column that the row was made of.
    """
    names = [header.text for header in table.headers.columns]
    wide = mapping.wide
    turned = set() if wide is None else set(wide.columns)
    for number, row in table.lines():
        cells: dict[str, Cell] = {name: cell for name, cell in zip(names, row, strict=False) if cell is not None}
        if wide is None:
            yield number, cells, None
            continue
        stay = {name: cell for name, cell in cells.items() if name not in turned}
        for name in wide.columns:
            if name in cells:
                yield number, {**stay, HEADING: name, VALUE: cells[name]}, name


def turned_long(table: Table, wide: Wide) -> dict[str, Summary]:
    """What stands in the columns of a wide sheet once it is long."""
    heading, value = Summary(), Summary()
    for name in wide.columns:
        summary = table.columns.get(name)
        if summary is None:
            continue
        heading.note(name)
        value.samples = list(dict.fromkeys([*value.samples, *summary.samples]))[:SAMPLES]
        value.texts.update(summary.texts)
        value.numbers += summary.numbers
        value.number_samples += summary.number_samples
        value.days.update(summary.days)
        value.clocks.update(summary.clocks)
    stay = {name: summary for name, summary in table.columns.items() if name not in set(wide.columns)}
    return stay | {HEADING: heading, VALUE: value}
