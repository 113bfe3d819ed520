"""All that is open of a sheet: of its columns, then of columns together, and of what no column says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, time
from zoneinfo import ZoneInfo

from fieldlog.days import day_words
from fieldlog.imports.asking import MOST_ASKED, Answer, Question, Sheet, kind_named, of_columns, sets
from fieldlog.imports.cells import Cell
from fieldlog.imports.headers import is_repeated
from fieldlog.imports.mapping import ENVELOPE, Column, long_columns
from fieldlog.imports.moments import zone_named
from fieldlog.imports.values import clock_of, comes_twice, day_of
from fieldlog.records.fields import Choice, Date, Instant, Ref, Tag, Text
from fieldlog.records.listed import Listed


def open_questions(sheet: Sheet) -> list[Question]:
    """All that must be said before the sheet can be tried."""
    return [*of_columns(sheet), *_twice(sheet), *_nights(sheet), *_lacking(sheet)]


def _twice(sheet: Sheet) -> Iterator[Question]:
    """Columns of the same name, and fields that two columns claim."""
    kind, paths, columns = sheet.kind, sheet.paths, long_columns(sheet.mapping)
    for header, column in columns.items():
        if is_repeated(header, columns) and not column.is_settled and column.field is None:
            first = header[: header.rindex(" (")]
            field = columns[first].field
            answers = [Answer("Leave this one out", sets(paths[header], "is_settled", True))]
            if field is not None:
                instead = [*sets(paths[header], "field", field), *sets(paths[header], "is_settled", True), *sets(paths[first], "field", None)]
                answers.append(Answer(f"Take this one in the place of “{first}”", instead))
            yield Question(header, "repeated", f"Two columns are called “{first}”. The second one", answers)
    claimed = Counter(column.field for column in columns.values() if column.field is not None)
    for field, count in claimed.items():
        declared = kind.fields.get(field)
        if count > 1 and not isinstance(declared, Instant) and not (isinstance(declared, Text) and not isinstance(declared, Tag)):
            headers = [header for header, column in columns.items() if column.field == field]
            title = declared.title if declared is not None else ENVELOPE[field]
            answers = [
                Answer(header, [one for other in headers if other != header for one in sets(paths[other], "field", None)]) for header in headers
            ]  # fmt: skip
            yield Question(headers[-1], "claimed", f"{title} is in", answers, f"{count} columns say {title}; it takes one.")


def _nights(sheet: Sheet) -> Iterator[Question]:
    """Times in an hour that came twice."""
    kind, mapping, columns, paths = sheet.kind, sheet.mapping, sheet.columns, sheet.paths
    by_field: dict[str, list[tuple[str, Column]]] = {}
    for header, column in long_columns(mapping).items():
        if column.field and isinstance(kind.fields.get(column.field), Instant) and header in columns:
            by_field.setdefault(column.field, []).append((header, column))
    name = mapping.zone or (sheet.known.zones.get(sheet.site_id) if sheet.site_id else None)
    for parts in by_field.values():
        zone = zone_named(next((column.zone for _, column in parts if column.zone), None) or name or "")
        if zone is None or any(column.night for _, column in parts):
            continue
        days, clocks = set[date](), set[time]()
        for header, column in parts:
            summary = columns[header]
            cells: list[Cell] = [*summary.texts]
            cells += [{"on": day} for day in summary.days]
            cells += [{"clock": clock} for clock in summary.clocks]
            for cell in cells:
                day, clock = day_of(cell, column.order, column.days_from), clock_of(cell)
                if isinstance(day, date):
                    days.add(day)
                if isinstance(clock, time):
                    clocks.add(clock)
        met = next(((day, clock) for day in sorted(days) for clock in sorted(clocks) if comes_twice(day, clock, zone)), None) if _changes(days, zone) else None
        if met is not None:
            header = parts[-1][0]
            answers = [Answer("The first", sets(paths[header], "night", "first")), Answer("The second, an hour later", sets(paths[header], "night", "second"))]
            yield Question(header, "night", f"{met[1]:%H:%M} on {day_words(met[0], year=True)} is", answers, f"Clocks in {zone.key} were set back in that night, so this hour came twice.")


def _changes(days: set[date], zone: ZoneInfo) -> bool:
    """Whether clocks are set back on one of these days; most sheets have none, and each time is tried with each day otherwise."""
    return any(comes_twice(day, time(hour, 30), zone) for day in days for hour in range(4))


def _lacking(sheet: Sheet) -> Iterator[Question]:
    """Fields that every record must have and no column says."""
    kind, mapping, known = sheet.kind, sheet.mapping, sheet.known
    said = {column.field for column in long_columns(mapping).values()} | set(mapping.constants)
    datums = {str(declared.metadata["x-datum"]) for name, declared in kind.fields.items() if "x-datum" in declared.metadata and name in said}
    for name, declared in kind.fields.items():
        if name in said or not (declared.required or name in datums):
            continue
        path = ["constants", name]
        if isinstance(declared, Choice):
            answers = [Answer(label, [{"path": path, "value": word}]) for word, label in declared.labels.items()]
            yield Question("", "lacking", f"No column says {declared.title}. In every row it is", answers, path=path)
        elif isinstance(declared, Instant | Date):
            yield Question("", "lacking", f"No column says {declared.title}. Every row is of", typed="day", path=path)
        elif isinstance(declared, Ref) and (to := kind_named(sheet, name)) in known.kinds and to is not None:
            some = known.kinds[to].records
            answers = [Answer(label, [{"path": path, "value": record_id}]) for record_id, (_, label) in list(some.items())[:MOST_ASKED]]
            yield Question("", "lacking", f"No column says {declared.title}. In every row it is", answers, path=path)
        elif not isinstance(declared, Listed):
            yield Question("", "lacking", f"No column says {declared.title}. In every row it is", typed="text", path=path)
