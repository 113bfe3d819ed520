"""
What each check says to each rule, kept beside it, so that a rule is given the few checks that count and not those of all years.

A unit's flags hang, measure by measure, on its newest check that raises and the first one after it that does not. With each
check's verdicts in columns and an index on each, both are found by a seek, whatever the length of the history. A verdict hangs on the check, its
unit's site and design, and the site's own limit; whoever changes one of these has the checks judged anew here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from operator import itemgetter
from typing import Any

from sqlite_utils import Database

from fieldlog.flags import condition, grading, position, search  # noqa: F401  (their rules register themselves)
from fieldlog.flags.changes import Change
from fieldlog.flags.flag import Limits, Rule, unit_rule
from fieldlog.flags.trying import Failed, tried
from fieldlog.questions.checks import CHECKED, FAILED, LOOKED_AT, LOOKED_ONLY, all_of_units
from fieldlog.questions.positions import SPARE_TAPES
from fieldlog.questions.units import all_unit_ids_and_removed, held_against, units_of_designs, units_of_sites
from fieldlog.records.catalogue import Kind
from fieldlog.records.unit_check import LOOKED

JUDGED_BY = tuple(dict.fromkeys(column for rule in unit_rule.rules if rule.says is not None for column in rule.about.reads))
"""What of a check a verdict may hang on."""

HANG_ON = ("site", "unit_design", "unit")
"""The kinds that verdicts hang on beside the check's own: their rows must stand in their tables before checks are judged."""

UNITS_AT_ONCE = 200


def kept_rules() -> list[Rule]:
    """The rules whose verdicts are kept."""
    return [rule for rule in unit_rule.rules if rule.says is not None]


def columns_of_rule(rule: Rule) -> tuple[str, ...]:
    """The columns of a rule's verdicts: one, or one a measure."""
    return tuple(f"says_{rule.name}_{measure}" for measure in rule.measures) or (f"says_{rule.name}",)


def whole_column_of(rule: Rule) -> str | None:
    """The column of the measure that speaks for all of a rule's, where there is one."""
    return rule.whole and f"says_{rule.name}_{rule.whole}"


def _kept_columns() -> list[str]:
    return [*(column for rule in kept_rules() for column in columns_of_rule(rule)), LOOKED_AT]


def columns_of(kind: Kind) -> dict[str, str]:
    """The columns that a kind's table has for its verdicts: {name: SQLite type}."""
    if kind.name != "unit_check" or not {"unit_id", "checked_at", "time_known", *JUDGED_BY} <= kind.fields.keys():
        return {}
    return dict.fromkeys(_kept_columns(), "INTEGER")


def indexes_of(kind: Kind) -> Iterator[str]:
    """The statements that make the indexes by which flags are found."""
    for column in columns_of(kind):
        yield f"CREATE INDEX unit_check_{column} ON unit_check(unit_id, {column}, checked_at) WHERE {column} IS NOT NULL"
    if kind.name == "unit_event" and {"unit_id", "event", "event_at"} <= kind.fields.keys():
        yield (
            "CREATE INDEX unit_event_lasting ON unit_event(unit_id, site_id, event_at) "
            "WHERE deleted = 0 AND event_at IS NOT NULL AND event <> 'cleaned'"
        )
    if kind.name == "position_fix" and {"of_id", "fixed_at", "method", "range_3_m"} <= kind.fields.keys():
        yield f"CREATE INDEX position_fix_tapes ON position_fix(site_id, fixed_at) WHERE {SPARE_TAPES}"
        yield "CREATE INDEX position_fix_time ON position_fix(site_id, fixed_at)"
        yield "CREATE INDEX position_fix_unit_time ON position_fix(of_id, fixed_at)"


Unit = tuple[str | None, Limits]
"""What the verdicts of a unit's checks hang on: its site, and what they are held against."""


def _all_said(names: Sequence[str], checks: Iterable[tuple[Any, ...]], of: Mapping[str, Unit]) -> Iterator[tuple[int | None, ...]]:
    """What each of these checks, their columns named by `names`, says to each kept rule; `of` are the units that are on record."""
    unit_id, deleted, at, site_id = map(names.index, ("unit_id", "deleted", "checked_at", "site_id"))
    judged_by = itemgetter(*map(names.index, JUDGED_BY))
    nothing = (None,) * len(_kept_columns())
    for check in checks:
        unit = of.get(check[unit_id])
        if unit is None or check[deleted] or check[at] is None or check[site_id] != unit[0]:
            yield nothing
        else:
            yield _judged(judged_by(check), unit[1])


@lru_cache(4096)
def _judged(values: tuple[Any, ...], limits: Limits) -> tuple[int | None, ...]:
    """Most checks say what some other said: sound, or as last time."""
    check = dict(zip(JUDGED_BY, values, strict=True))
    kept: list[int | None] = []
    for rule in kept_rules():
        said = tried(rule.name, rule.verdicts, check, limits)
        kept += [FAILED] * len(columns_of_rule(rule)) if isinstance(said, Failed) else [None if one is None else int(one) for one in said]
    looked = LOOKED_ONLY if check["looked_only"] else CHECKED
    return (*kept, looked if check["found_state"] in LOOKED else None)


def units(db: Database, unit_ids: Iterable[str]) -> dict[str, Unit]:
    """Those of these units that are on record."""
    return {unit_id: (site_id, Limits(height_mm, lean_look_deg)) for unit_id, site_id, height_mm, lean_look_deg in held_against(db, unit_ids)}


def judged(db: Database, kind: Kind, names: Sequence[str], rows: Iterable[tuple[Any, ...]]) -> Iterable[tuple[Any, ...]]:
    """Rows of a kind, their columns named by `names`, with their verdicts behind where the kind has any."""
    if not columns_of(kind):
        return rows
    rows = list(rows)
    at = names.index("unit_id")
    of = units(db, {row[at] for row in rows if row[at] is not None})
    return [(*row, *said) for row, said in zip(rows, _all_said(names, rows, of), strict=True)]


def keep(db: Database, changes: Sequence[Change]) -> None:
    """Judge anew the checks of units whose design, site or limit changed."""
    _keep_units(db, sorted(set(_judged_anew(db, changes))))


def keep_all(db: Database) -> None:
    """Judge every check anew."""
    _keep_units(db, all_unit_ids_and_removed(db))


def _judged_anew(db: Database, changes: Iterable[Change]) -> Iterator[str]:
    for change in changes:
        if change.kind == "unit" and change.differs_in("design_id", "site_id"):
            yield change.record_id
        elif change.kind == "unit_design" and change.differs_in("height_mm", "site_id"):
            yield from units_of_designs(db, [change.record_id])
        elif change.kind == "site" and change.differs_in("lean_look_deg"):
            yield from units_of_sites(db, [change.record_id])


def _keep_units(db: Database, unit_ids: Sequence[str]) -> None:
    for first in range(0, len(unit_ids), UNITS_AT_ONCE):
        _keep_some(db, unit_ids[first : first + UNITS_AT_ONCE])


def _keep_some(db: Database, unit_ids: Sequence[str]) -> None:
    of = units(db, unit_ids)
    columns = ["record_id", "unit_id", "site_id", "deleted", "checked_at", *JUDGED_BY]
    kept = _kept_columns()
    rows = all_of_units(db, [*columns, *kept], unit_ids)
    said = _all_said(columns, rows, of)
    _write(db, [(row[0], verdicts) for row, verdicts in zip(rows, said, strict=True) if verdicts != row[len(columns) :]])


def _write(db: Database, said: Iterable[tuple[str, tuple[int | None, ...]]]) -> None:
    columns = ", ".join(f"{column} = ?" for column in _kept_columns())
    db.conn.executemany(f"UPDATE unit_check SET {columns} WHERE record_id = ?", [(*verdicts, record_id) for record_id, verdicts in said])
