"""How a sheet is understood so far: its columns, what is open, and how its first row will read. Nothing is stored."""

from __future__ import annotations

from collections.abc import Mapping as Says
from itertools import islice
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from fieldlog.errors import BadTable
from fieldlog.imports.asking import Answer, Question, Sheet
from fieldlog.imports.cells import Cell, text_of
from fieldlog.imports.headers import fields_of_columns, header_of, headers_in, names_of_kind, plain
from fieldlog.imports.known import Known, known_of
from fieldlog.imports.mapping import (
    ENVELOPE,
    HEADING,
    VALUE,
    Column,
    Mapping,
    as_said,
    long_columns,
    mapping_of,
)
from fieldlog.imports.moments import zone_named
from fieldlog.imports.newcomers import Newcomers
from fieldlog.imports.open_questions import open_questions
from fieldlog.imports.proposal import column_for, kinds_to_import, likely_kinds, proposed
from fieldlog.imports.rows import MadeRow, RowMaker
from fieldlog.imports.sayings import in_words
from fieldlog.imports.table import Summary, Table, first_lines, long_rows, summed_up, turned_long
from fieldlog.imports.trying import kinds_named, own_ids
from fieldlog.imports.values import converted, number_of, units_for
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Measured, Ref
from fieldlog.records.kind import Kind
from fieldlog.records.person import PERSON
from fieldlog.records.person_private import PERSON_PRIVATE
from fieldlog.rounding import shortest
from fieldlog.shown_names import counted


def look(
    db: Database, catalogue: Catalogue, folder: Path, sheets: list[dict[str, Any]], said: Says[str, Any], site_id: str | None, sites: frozenset[str] | None
) -> dict[str, Any]:  # fmt: skip
    """
    How a sheet would be read.

    Args:
        sheets: what the reading child says of the file's sheets.
        said: a mapping as JSON, or as much of it as somebody says: `sheet`, `header_row`, `kind`. Without `columns` they are proposed.

    Raises:
        BadTable: what is said fits no sheet or kind.
    """
    mapping_of({"kind": "", **{name: value for name, value in said.items() if name != "kind"}})
    sheet = _sheet(sheets, said.get("sheet"), catalogue.kinds.get(str(said.get("kind"))))
    path = folder / sheet["lines"]
    row = said.get("header_row")
    table = summed_up(path, headers_in(first_lines(path), kinds_to_import(catalogue), None if row is None else row - 1))
    likely, is_sure = likely_kinds(table.headers.columns, catalogue, sheet["name"])
    kind = likely[0] if not isinstance(said.get("kind"), str) else next((kind for kind in likely if kind.name == said["kind"]), None)
    if kind is None:
        raise BadTable(f"There is no kind of record “{said['kind']}”. Known here: {', '.join(kind.name for kind in likely)}.")
    known = known_of(db, catalogue, kinds_named(kind, catalogue), sites)
    zone = said.get("zone") or (known.zones.get(site_id) if site_id else None)
    if zone is not None and zone_named(zone) is None:
        raise BadTable(f"There is no time zone “{zone}”. Write it as America/New_York.")
    mapping = _mapping(table, kind, known, sheet["name"], zone, said)
    known.add_own(kind.name, own_ids(kind, mapping, table))
    return _told(catalogue, kind, mapping, table, known, site_id, sites) | {
        "kind": kind.name, "kind_is_sure": is_sure or said.get("kind") is not None,
        "kinds": [{"name": one.name, "title": one.title} for one in likely], "sheet": sheet["name"], "sheets": [one["name"] for one in sheets],
        "notes": [*sheet["notes"], *_left_for_contacts(catalogue, kind, mapping)], "rows": table.rows, "site_id": site_id,
    }  # fmt: skip


def _left_for_contacts(catalogue: Catalogue, kind: Kind, mapping: Mapping) -> list[str]:
    """Of a sheet of people that also says how to reach them: how those columns come in, since contacts are records of their own."""
    contacts = catalogue.kinds.get(PERSON_PRIVATE.name)
    if kind.name != PERSON.name or contacts is None:
        return []
    left = [header_of(header) for header, column in mapping.columns.items() if column.field is None]
    said = fields_of_columns(left, contacts)
    headers = [header for header, field in said.items() if field in contacts.fields and not isinstance(contacts.fields[field or ""], Ref)]
    if not headers:
        return []
    return [f"{', '.join(headers)}: contacts are records of their own. Import the people first, then the same file again as {contacts.title} ({contacts.name})."]


def likeliest(sheets: list[dict[str, Any]], kind: Kind | None) -> dict[str, Any]:
    """The sheet that is called as a kind is, else the longest."""
    of_kind = [] if kind is None else [sheet for sheet in sheets if plain(sheet["name"]) in names_of_kind(kind)]
    return max(of_kind or sheets, key=lambda sheet: sheet["rows"])


def _sheet(sheets: list[dict[str, Any]], name: Any, kind: Kind | None) -> dict[str, Any]:
    """The sheet of a name; without one the likeliest."""
    if name is None:
        return likeliest(sheets, kind)
    found = next((sheet for sheet in sheets if sheet["name"] == name), None)
    if found is None and len(sheets) == 1:
        return sheets[0]
    if found is None:
        raise BadTable(f"The file has no sheet “{name}”. It has: {', '.join(sheet['name'] for sheet in sheets)}.")
    return found


def _mapping(table: Table, kind: Kind, known: Known, sheet: str, zone: str | None, said: Says[str, Any]) -> Mapping:
    """What is said; what a kept mapping does not say of this sheet's columns is proposed."""
    made = proposed(table, kind, known, sheet, zone)
    if not said.get("columns") and not said.get("wide"):
        return made
    told = mapping_of({"kind": kind.name, **said})
    if told.wide is not None:
        long = turned_long(table, told.wide)
        for name, column in ((HEADING, told.wide.heading), (VALUE, told.wide.value)):
            _fill(column, column_for(header_of(name), column.field, kind, long[name]))
    told.sheet, told.header_row, told.zone = sheet, table.headers.row + 1, told.zone or zone
    for header in table.headers.columns:
        if header.text not in told.columns:
            told.columns[header.text] = made.columns[header.text] if told.wide is None else Column()
        else:
            # A column that was given to another field is read by what its header and values say of that one.
            if "field" not in said.get("columns", {})[header.text]:
                told.columns[header.text].field = made.columns[header.text].field
            _fill(told.columns[header.text], column_for(header, told.columns[header.text].field, kind, table.columns[header.text]))
    # JSON may have been sorted on its way; columns are told, and written out again, in the file's order.
    told.columns = {header.text: told.columns[header.text] for header in table.headers.columns} | told.columns
    return told


def _fill(column: Column, fresh: Column) -> None:
    for name in ("unit", "decimal", "order", "zone"):
        if getattr(column, name) is None:
            setattr(column, name, getattr(fresh, name))


def _told(
    catalogue: Catalogue, kind: Kind, mapping: Mapping, table: Table, known: Known, site_id: str | None, sites: frozenset[str] | None
) -> dict[str, Any]:  # fmt: skip
    columns = table.columns if mapping.wide is None else turned_long(table, mapping.wide)
    newcomers = Newcomers(catalogue, known, "")
    sheet = Sheet(catalogue, kind, mapping, columns, known, site_id, lambda of, text: newcomers.fields_of(of, text, site_id) is not None)
    questions = list(open_questions(sheet))
    first = _first_row(sheet, questions, table, sites)
    return {
        "mapping": as_said(mapping),
        "columns": [_column(sheet, header, column, columns.get(header) or Summary()) for header, column in long_columns(mapping).items()],
        "fields": [
            {"name": name, "title": one.title, "type": one.type_word, "units": units_for(one.unit) if isinstance(one, Measured) else []}
            for name, one in kind.fields.items()
        ] + [{"name": name, "title": title, "type": "ref", "units": []} for name, title in ENVELOPE.items()],
        "questions": [question.told() for question in questions],
        "first": first,
    }  # fmt: skip


def _column(sheet: Sheet, header: str, column: Column, summary: Summary) -> dict[str, Any]:
    return {
        "header": header, "samples": summary.samples, "path": sheet.paths[header], "said": _said(sheet, column, summary),
        "is_turned": header in (HEADING, VALUE),
    }  # fmt: skip


def _said(sheet: Sheet, column: Column, summary: Summary) -> str:
    """What is said beside a column that leaves nothing open: a value in its unit, how many names are known."""
    declared = sheet.kind.fields.get(column.field or "")
    if isinstance(declared, Measured) and declared.unit and column.unit not in (None, declared.unit):
        number = next((value for text in summary.samples if isinstance(value := number_of(text, column.decimal or ".", None, None), float)), None)
        if number is not None and column.unit is not None:
            return f"{shortest(number, 3)} {column.unit} = {shortest(converted(number, column.unit, declared.unit), 1)} {declared.unit}"
    if isinstance(declared, Ref) and (to := sheet.kind.refs[column.field or ""]) in sheet.known.kinds:
        known = sum(len(sheet.known.called(to, text.strip(), sheet.site_id)) == 1 for text in summary.texts)
        return f"{counted(known, 'name')} known" if summary.texts else ""
    return ""


OPEN_READINGS = {"unit": "unit", "decimal": "decimal sign"}
"""What a number cannot be told without, in the words of a sentence; a column that lacks another answer gives no value to tell."""


def _first_row(sheet: Sheet, questions: list[Question], table: Table, sites: frozenset[str] | None) -> dict[str, Any] | None:
    mapping, known = sheet.mapping, sheet.known
    maker = RowMaker(sheet.catalogue, sheet.kind, mapping, known, sheet.site_id, sites, "")
    for number, cells, column in islice(long_rows(table, mapping), 1):
        row = maker.row(number, cells, column)
        zone = mapping.zone or (known.zones.get(row.site_id) if row.site_id else None)
        still_open = _not_yet_read(sheet, questions, row, cells)
        head, rest = in_words(sheet.kind, row, known, maker.newcomers, zone)
        mends = [one.sentence for one in row.mends]
        return {"row": number, "head": head, "rest": " ".join([rest, *still_open]).strip(), "mends": mends, "is_left_out": row.is_left_out}
    return None


def _not_yet_read(sheet: Sheet, questions: list[Question], row: MadeRow, cells: dict[str, Cell]) -> list[str]:
    """Take out of a row the numbers that its open questions can still change; of each, its cell as it stands and what is to be said of it."""
    lacking: dict[str, list[str]] = {}
    columns = long_columns(sheet.mapping)
    for question in questions:
        column = columns.get(question.column)
        declared = sheet.kind.fields.get(column.field or "") if column is not None else None
        if question.about in OPEN_READINGS and column is not None and isinstance(declared, Measured):
            readings = {number_of(cells.get(question.column), **_answered(column, declared, answer)) for answer in question.answers}
            if len(readings) > 1:
                lacking.setdefault(question.column, []).append(OPEN_READINGS[question.about])
    said = []
    for header, words in lacking.items():
        field = columns[header].field or ""
        row.fields.pop(field, None)
        row.mends = [mend for mend in row.mends if mend.column != header]
        said.append(f"{sheet.kind.fields[field].title}: “{text_of(cells.get(header))}”, {' and '.join(words)} not said yet.")
    return said


def _answered(column: Column, declared: Measured, answer: Answer) -> dict[str, Any]:
    """How a number of a column is read once a question has this answer."""
    given = {change["path"][-1]: change["value"] for change in answer.sets}
    return {"decimal": column.decimal or ".", "unit": column.unit, **given, "into": declared.unit}
