"""A row as it will read once it is a record: “B070, checked at Jul 5, 2025, 08:10” and what else it says."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from fieldlog.days import day_words
from fieldlog.imports.headers import main_instant
from fieldlog.imports.known import Known, name_fields
from fieldlog.imports.moments import zone_named
from fieldlog.imports.newcomers import Newcomers
from fieldlog.imports.rows import TIME_KNOWN, MadeRow
from fieldlog.records.fields import Choice, Date, Declared, Instant, Measured, Ref, YesNo
from fieldlog.records.kind import Kind
from fieldlog.records.sentences import with_unit
from fieldlog.rounding import shortest


def in_words(kind: Kind, row: MadeRow, known: Known, newcomers: Newcomers, zone: str | None) -> tuple[str, str]:
    """What a row is, and what it says beside."""
    names = dict(newcomers.made.values())

    def called(name: str) -> str:
        said = row.fields[name]
        to = kind.refs[name]
        to = row.fields.get(to, to) if to in kind.fields else to
        new = names.get(said)
        return str(next(iter(new.values()))) if new else known.name(to, said)

    moment = main_instant(kind)
    first = [called(name) for name in kind.required if isinstance(kind.fields[name], Ref) and name in row.fields]
    first += [str(row.fields[name]) for name in name_fields(kind) if name in row.fields]
    shown = {name for name in kind.required if isinstance(kind.fields[name], Ref)} | {moment, TIME_KNOWN, *name_fields(kind)}
    if moment is not None and moment in row.fields:
        said = _value(kind.fields[moment], row.fields[moment], zone, has_time=row.fields.get(TIME_KNOWN) is not False)
        first.append(f"{kind.fields[moment].title.lower()} {said}")
    rest = []
    for name, declared in kind.fields.items():
        if name in row.fields and name not in shown:
            value = row.fields[name]
            told = called(name) if isinstance(declared, Ref) else _value(declared, value, zone, has_time=row.fields.get(TIME_KNOWN) is not False)
            rest.append(f"{declared.title}: {told}.")
    if row.observer is not None:
        new = names.get(row.observer)
        rest.append(f"By {next(iter(new.values())) if new else known.name('person', row.observer)}.")
    return ", ".join(first), " ".join(rest)


def _value(declared: Declared, value: Any, zone: str | None, *, has_time: bool) -> str:
    labels: dict[str, str] = declared.metadata.get("x-labels") or {}
    if isinstance(declared, YesNo):
        return "yes" if value else "no"
    if isinstance(declared, Choice) or labels:
        return labels.get(str(value), str(value))
    if isinstance(declared, Measured):
        return with_unit(shortest(float(value), 6), declared.unit)
    if isinstance(declared, Instant):
        known = zone_named(zone or "UTC") or zone_named("UTC")
        local = datetime.fromisoformat(value).astimezone(known)
        return f"{day_words(local.date(), year=True)}{f', {local:%H:%M}' if has_time else ''}"
    if isinstance(declared, Date):
        return day_words(datetime.fromisoformat(value).date(), year=True)
    return str(value)
