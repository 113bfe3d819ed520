"""
The child that tries a sheet against what is on record, and stores nothing there: which rows can be taken, and what is to be mended in the others.

It reads the programme's file as it stands and writes two files beside the upload: the entries to be taken and the rows to mend.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from dataclasses import field as made
from io import BufferedWriter
from pathlib import Path
from typing import Any

import orjson
from sqlite_utils import Database

from fieldlog.child import Tell, answer
from fieldlog.imports.cells import Cell, text_of
from fieldlog.imports.doubles import Doubles
from fieldlog.imports.headers import headers_in
from fieldlog.imports.known import known_of
from fieldlog.imports.mapping import RECORD, Column, Mapping, mapping_of
from fieldlog.imports.proposal import kinds_to_import
from fieldlog.imports.readers import reader_of
from fieldlog.imports.rows import MadeRow, Remark, RowMaker, shown_in
from fieldlog.imports.table import Table, first_lines, long_rows
from fieldlog.imports.values import Mend
from fieldlog.questions.whole_tables import one_state
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.records.kind import Kind
from fieldlog.records.listed import PLACE, RECORD_ID, from_item_rows

ENTRIES, TO_MEND = "entries.ndjson", "to-mend.ndjson"
TOLD = 200
"""Remarks and doubles that are told at once; all are in the file of rows to mend."""

TOLD_EACH = 2000
"""After so many rows the parent is told how far it is."""


@dataclass
class Tried:
    """What came of a try; `remarks`, `doubles` and `doubts` are the first ones, the counts are of all."""

    good: int = 0
    to_mend: int = 0
    already_here: int = 0
    left_out: int = 0
    doubtful: int = 0
    remarks: list[dict[str, Any]] = made(default_factory=list)
    doubles: list[dict[str, Any]] = made(default_factory=list)
    doubts: list[dict[str, Any]] = made(default_factory=list)
    made: Counter[str] = made(default_factory=Counter)


def work(job: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """
    Try a sheet.

    Args:
        job: `database` and `folder` (paths), `sheet` (of the reading child), `others` (its other sheets), `mapping`, `site_id`, `sites` (the
            lead's, or None), `seed`, `latest` (the last moment at which something in the sheet can have been seen, in UTC).

    Returns:
        The counts and first remarks of `Tried`; `made`: how many records of each kind come into being beside the sheet's own.
    """
    return try_sheet(CATALOGUE, job, tell)


def try_sheet(catalogue: Catalogue, job: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """The same with a catalogue of the caller's."""
    folder, mapping = Path(job["folder"]), mapping_of(job["mapping"])
    kind = catalogue.kinds[mapping.kind]
    path = folder / job["sheet"]["lines"]
    table = Table(path, headers_in(first_lines(path), kinds_to_import(catalogue), mapping.header_row - 1))
    sites = None if job["sites"] is None else frozenset(job["sites"])
    with one_state(Path(job["database"])) as db:
        known = known_of(db, catalogue, kinds_named(kind, catalogue), sites)
        known.add_own(kind.name, own_ids(kind, mapping, table))
        lists = _lists(kind, mapping, folder, job["others"])
        maker = RowMaker(catalogue, kind, mapping, known, job["site_id"], sites, job["seed"], lists, job["latest"])
        tried = _try_rows(db, kind, mapping, table, maker, folder, job["sheet"]["rows"], tell)
    return {
        "good": tried.good, "to_mend": tried.to_mend, "already_here": tried.already_here, "left_out": tried.left_out, "doubtful": tried.doubtful,
        "remarks": tried.remarks, "doubles": tried.doubles, "doubts": tried.doubts, "made": dict(tried.made),
    }  # fmt: skip


def kinds_named(kind: Kind, catalogue: Catalogue) -> list[str]:
    """The kinds that rows may name, and those of the envelope."""
    named = [to for to in kind.refs.values() if to in catalogue.kinds]
    for to in kind.refs.values():
        if to in kind.fields:
            named += [word for word in kind.fields[to].metadata.get("enum", ()) if word in catalogue.kinds]
    return [name for name in dict.fromkeys([*named, "species", "site", "person", "visit"]) if name in catalogue.kinds]


def own_ids(kind: Kind, mapping: Mapping, table: Table) -> list[str]:
    """The ids that a file gives its own rows, where these may name each other; looked for in such files only."""
    header = next((header for header, column in mapping.columns.items() if column.field == RECORD), None)
    names = [header.text for header in table.headers.columns]
    if header not in names or kind.name not in kind.refs.values():
        return []
    at = names.index(header)
    return [text_of(row[at]) for _, row in table.lines() if len(row) > at and row[at] is not None]


def _lists(kind: Kind, mapping: Mapping, folder: Path, others: list[dict[str, Any]]) -> dict[str, dict[str, list[Any]]]:
    """Items of list fields that stand in sheets of their own, a row an item, by the id that the file gives their record."""
    found: dict[str, dict[str, list[Any]]] = {}
    if not any(column.field == RECORD for column in mapping.columns.values()):
        return found
    for field, listed in kind.lists.items():
        sheet = next((sheet for sheet in others if sheet["name"] in (f"{kind.name}_{field}", listed.title)), None)
        if sheet is None:
            continue
        rows = [orjson.loads(line) for line in (folder / sheet["lines"]).read_bytes().splitlines()]
        names = [text_of(cell) for cell in rows[0]]
        readers = {name: reader_of(declared, Column(name)) for name, declared in listed.inner.items()}
        items: dict[str, list[dict[str, Any]]] = defaultdict(list)
        for row in rows[1:]:
            cells: dict[str, Cell] = dict(zip(names, row, strict=False))
            values = {name: read(cells.get(name)) for name, read in readers.items()}
            item = {name: None if isinstance(value, Mend) else value for name, value in values.items()}
            items[text_of(cells.get(RECORD_ID))].append({RECORD_ID: text_of(cells.get(RECORD_ID)), PLACE: cells.get(PLACE), **item})
        found[field] = {record_id: from_item_rows(listed, list(own)) for record_id, own in items.items()}
    return found


def _try_rows(
    db: Database, kind: Kind, mapping: Mapping, table: Table, maker: RowMaker, folder: Path, of_rows: int, tell: Tell
) -> Tried:  # fmt: skip
    doubles, tried = Doubles(kind), Tried()
    doubles.read(db)
    new_written = 0
    with (folder / ENTRIES).open("wb") as entries, (folder / TO_MEND).open("wb") as to_mend:
        for count, (number, cells, column) in enumerate(long_rows(table, mapping)):
            if count % TOLD_EACH == 0:
                tell(f"row {number:,} of {of_rows:,}")
            row = maker.row(number, cells, column)
            same = None if row.is_left_out or row.mends or doubles.is_here(row) else doubles.earlier(row)
            if same is not None and not same[1]:
                said = f"Row {same[0]:,} is the same {kind.title.lower()} and says something else. Correct one of the two."
                row.mends.append(Remark("", "", said))
            if row.is_left_out:
                tried.left_out += 1
            elif row.mends:
                _note_mend(tried, row, cells, to_mend)
            elif same is not None or doubles.is_here(row):
                _note_double(tried, row, same)
            else:
                tried.good += 1
                _note_doubts(tried, row)
                new_written = _write(entries, kind, row, maker, new_written)
    for name, _, _ in maker.newcomers.made:
        tried.made[name] += 1
    return tried


def _write(entries: BufferedWriter, kind: Kind, row: MadeRow, maker: RowMaker, written: int) -> int:
    """Write a row as an entry, and before it those of records that it is the first to name. Returns how many of these were written in all."""
    fresh = list(maker.newcomers.made.items())[written:] if len(maker.newcomers.made) > written else []
    for (name, _, site_id), (record_id, fields) in fresh:
        entries.write(orjson.dumps({"t": name, "r": record_id, "g": site_id, "y": None, "u": None, "f": fields}) + b"\n")
    said = {"t": kind.name, "r": row.record_id, "g": row.site_id, "y": row.visit_id, "u": row.observer, "f": row.fields}
    entries.write(orjson.dumps(said) + b"\n")
    return written + len(fresh)


def _note_mend(tried: Tried, row: MadeRow, cells: dict[str, Cell], to_mend: BufferedWriter) -> None:
    tried.to_mend += 1
    remarks = [{"row": row.number, "column": one.column, "text": one.text, "sentence": one.sentence} for one in row.mends]
    tried.remarks += remarks[: max(0, TOLD - len(tried.remarks))]
    texts = {name: shown_in(cell) for name, cell in cells.items()}
    to_mend.write(orjson.dumps({"row": row.number, "cells": texts, "sentences": [one.sentence for one in row.mends]}) + b"\n")


def _note_double(tried: Tried, row: MadeRow, same: tuple[int, bool] | None) -> None:
    tried.already_here += 1
    if len(tried.doubles) < TOLD:
        said = "It is here already." if same is None else f"It is the same as row {same[0]:,}."
        tried.doubles.append({"row": row.number, "sentence": said})


def _note_doubts(tried: Tried, row: MadeRow) -> None:
    if row.doubts:
        tried.doubtful += 1
        left = max(0, TOLD - len(tried.doubts))
        tried.doubts += [{"row": row.number, "column": one.column, "text": one.text, "sentence": one.sentence} for one in row.doubts[:left]]


def entries_in(folder: Path) -> Iterator[dict[str, Any]]:
    """The entries that a try found good, in the order in which they are to be written."""
    with (folder / ENTRIES).open("rb") as lines:
        for line in lines:
            yield orjson.loads(line)


if __name__ == "__main__":
    answer(work)
