"""
Reading the histories of units from the tables: all of it, or the few checks and events that rules hang on.

A reference binds only within one site, or to a record of the whole programme. A line cannot be held for what it names, since
that may come later, so each join here is one on the site too: whoever writes for one site changes no history of another.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from sqlite_utils import Database

from fieldlog.flags.flag import Rule
from fieldlog.flags.joined import roots_of
from fieldlog.flags.survey_rows import rows_of
from fieldlog.flags.unit_history import UnitHistory
from fieldlog.flags.verdicts import JUDGED_BY, columns_of_rule, whole_column_of
from fieldlog.questions.checks import (
    CHECKED,
    LOOKED_ONLY,
    any_failing,
    checks_of_ids,
    checks_of_units,
    first_quiet_after,
    newest_look,
    newest_quiet_before,
    newest_raising,
    raising_after,
)
from fieldlog.questions.photos import photos_of_checks
from fieldlog.questions.records import rows_of_ids
from fieldlog.questions.sites import sites_and_removed
from fieldlog.questions.units import designs_of, events_of, lasting_events, unit_ids
from fieldlog.records.unit_check import MISSED
from fieldlog.survey.movement import STARTS_ANEW

AT_ONCE = 6
"""Units read at a time with all of their years, which would fill the server's memory; with the few that count, a hundred."""

FEW_AT_ONCE = 100

DRY_MOST = 500
"""Dry searches in a row that are read of a unit not found, the newest: a search a week for ten years; two make it missing."""

CHECK_COLUMNS = ("record_id", "site_id", "unit_id", "visit_id", "checked_at", "time_known", *JUDGED_BY)
Rows = list[dict[str, Any]]
Grouped = defaultdict[tuple[str, str | None], Rows]
NO_SITE = {"zone": None, "lean_look_deg": None, "check_every_days": None, "grid_azimuth_deg": None}


def binds(site_id: str | None, to_site_id: str | None) -> bool:
    """Whether a record of `site_id` may refer to one of `to_site_id`: its own site's, or the whole programme's (None)."""
    return to_site_id is None or site_id == to_site_id


def full_histories(db: Database, unit_ids: list[str]) -> Iterator[UnitHistory]:
    """All that is on record of those of these units that are not removed."""
    return _in_pages(db, unit_ids, AT_ONCE, _read_all)


def check_histories(db: Database, asked: Mapping[str, Sequence[Rule]]) -> Iterator[tuple[UnitHistory, list[Rule]]]:
    """
    The same with those checks alone that rules with kept verdicts hang on, and the events that begin anew or retire.

    Args:
        asked: the rules that are asked of each unit.

    Yields:
        A unit's history, and those of its rules to which a check since the epoch says more than that all is well: the others
        find nothing. A unit without any is left out.

    For such a rule that is of each measure the newest check since the epoch that raises, and the first one after it that does not;
    for a unit not found, the dry searches since the last find. Rows are found by seeks, so the length of the history does not matter.
    """
    def read(db: Database, units: Rows, sites: dict[str, dict[str, Any]]) -> Iterator[tuple[UnitHistory, list[Rule]]]:
        return _read_counting(db, units, sites, asked)

    return _in_pages(db, sorted(asked), FEW_AT_ONCE, read)


def place_histories(db: Database, unit_ids: list[str]) -> Iterator[UnitHistory]:
    """The same without checks, for the rules that look at positions and events only."""
    return _in_pages(db, unit_ids, FEW_AT_ONCE, _read_places)


def last_looks(db: Database, site_id: str) -> Iterator[UnitHistory]:
    """The histories of a site's units with no more than what tells when each was last looked at: its newest check, its newest mere look, its events."""
    return _in_pages(db, unit_ids(db, site_id), FEW_AT_ONCE, _read_looks)


T = TypeVar("T")
Read = Callable[[Database, Rows, dict[str, dict[str, Any]]], Iterator[T]]


def _in_pages(db: Database, ids: list[str], at_once: int, read: Read[T]) -> Iterator[T]:
    for first in range(0, len(ids), at_once):
        units = rows_of_ids(db, "unit", ids[first : first + at_once])
        yield from read(db, units, _by_id(sites_and_removed(db, _named(units, "site_id"))))


def _read_all(db: Database, units: Rows, sites: dict[str, dict[str, Any]]) -> Iterator[UnitHistory]:
    ids = [unit["record_id"] for unit in units]
    checks = _grouped(checks_of_units(db, CHECK_COLUMNS, ids), "unit_id", "checked_at")
    for history in _read_places(db, units, sites):
        site_id = history.unit["site_id"]
        own = checks[history.unit["record_id"], site_id]
        yield UnitHistory(
            history.unit, history.site, history.design, own, history.events,
            _counted(_photos(db, [check["record_id"] for check in own]), site_id, own), joined=_joined(db, own),
        )  # fmt: skip


def _read_places(db: Database, units: Rows, sites: dict[str, dict[str, Any]]) -> Iterator[UnitHistory]:
    ids = [unit["record_id"] for unit in units]
    designs = designs_of(db, _named(units, "design_id"))
    events = _grouped(events_of(db, ids), "unit_id", "event_at")
    for unit in units:
        site_id = unit["site_id"]
        key = (unit["record_id"], site_id)
        design = _bound(designs.get(unit["design_id"]), site_id)
        history = UnitHistory(unit, sites.get(site_id, NO_SITE), design, [], events[key], {})
        since = history.epoch["event_at"] if history.epoch else ""
        yield replace(history, surveys=rows_of(db, unit["record_id"], site_id, since))


def _read_counting(
    db: Database, units: Rows, sites: dict[str, dict[str, Any]], asked: Mapping[str, Sequence[Rule]]
) -> Iterator[tuple[UnitHistory, list[Rule]]]:
    designs = designs_of(db, _named(units, "design_id"))
    bare = []
    for unit in units:
        site_id = unit["site_id"]
        design = _bound(designs.get(unit["design_id"]), site_id)
        bare.append(UnitHistory(unit, sites.get(site_id, NO_SITE), design, [], _lasting_events(db, unit), {}))
    counting = [_counting_for(db, history, asked[history.unit["record_id"]]) for history in bare]
    wanted = [record_id for of_rules in counting for ids in of_rules.values() for record_id in ids]
    checks = checks_of_ids(db, CHECK_COLUMNS, wanted)
    photos = _photos(db, wanted)
    for history, of_rules in zip(bare, counting, strict=True):
        if of_rules:
            own = _in_time([checks[record_id] for record_id in {one for ids in of_rules.values() for one in ids}], "checked_at")
            counted = _counted(photos, history.unit["site_id"], own)
            yield replace(history, checks=own, photos=counted, joined=_joined(db, own)), list(of_rules)


def _joined(db: Database, checks: Rows) -> dict[str, str]:
    """The visits of dry searches that were joined to another, each with that one."""
    return roots_of(db, ((check["visit_id"], check["site_id"]) for check in checks if check["visit_id"] and check["found_state"] == MISSED))


def _counting_for(db: Database, history: UnitHistory, rules: Iterable[Rule]) -> dict[Rule, list[str]]:
    """The ids of the checks of a unit that each of these rules hangs on, where there are any."""
    since = history.epoch["event_at"] if history.epoch else ""
    found = {rule: [*_counting(db, rule, history.unit["record_id"], since)] for rule in rules}
    return {rule: ids for rule, ids in found.items() if ids}


def _read_looks(db: Database, units: Rows, sites: dict[str, dict[str, Any]]) -> Iterator[UnitHistory]:
    for unit in units:
        looks = [look for how_far in (CHECKED, LOOKED_ONLY) for look in newest_look(db, unit["record_id"], how_far)]
        newest = _in_time(looks, "checked_at")
        yield UnitHistory(unit, sites.get(unit["site_id"], NO_SITE), {}, newest, _lasting_events(db, unit), {})


def _counting(db: Database, rule: Rule, unit_id: str, since: str) -> Iterator[str]:
    """The ids of the checks of a unit that one rule hangs on, measure by measure."""
    columns, whole = columns_of_rule(rule), whole_column_of(rule)
    # A rule that fails on a check fails for all of its measures.
    if (failing := any_failing(db, unit_id, columns[0], since)) is not None:
        yield failing[1]
    for column in columns:
        newest = newest_raising(db, unit_id, column, since)
        if newest is None:
            continue
        yield newest[1]
        for quiet in (column,) if whole in (None, column) else (column, whole):
            if (settling := first_quiet_after(db, unit_id, quiet, newest)) is not None:
                yield settling[1]
        if rule.name == "not_found":
            yield from _searches(db, column, unit_id, since, newest)


def _searches(db: Database, says: str, unit_id: str, since: str, newest: tuple[str, str]) -> Iterator[str]:
    """The dry searches of a unit since it was last found, the newest of them."""
    found = newest_quiet_before(db, unit_id, says, newest) or ("", "")
    yield from (record_id for _, record_id in raising_after(db, unit_id, says, max(found, (since, "")), DRY_MOST))


def _lasting_events(db: Database, unit: dict[str, Any]) -> Rows:
    """The newest event that begins anew and the newest that is no cleaning: the epoch, and whether the unit is in use."""
    found: Rows = []
    for record_id, event, event_at in lasting_events(db, unit["record_id"], unit["site_id"]):
        found.insert(0, {"record_id": record_id, "event": event, "event_at": event_at})
        if event in STARTS_ANEW:
            break
    return found


def _bound(row: dict[str, Any] | None, site_id: str) -> dict[str, Any]:
    return row if row is not None and binds(site_id, row["site_id"]) else {}


def _photos(db: Database, check_ids: list[str]) -> Counter[tuple[str, str | None]]:
    """How many photos each of these checks has, by check and the photos' own site."""
    return Counter(photos_of_checks(db, check_ids))


def _counted(photos: Counter[tuple[str, str | None]], site_id: str, checks: Rows) -> dict[str, int]:
    """The photos of these checks that are of their site."""
    return {check["record_id"]: photos[check["record_id"], site_id] for check in checks}


def _named(rows: Rows, column: str) -> list[str]:
    return sorted({row[column] for row in rows if row[column] is not None})


def _by_id(rows: Rows) -> dict[str, dict[str, Any]]:
    return {row["record_id"]: row for row in rows}


def _in_time(rows: Rows, when: str) -> Rows:
    return sorted(rows, key=lambda row: (row[when] or "", row["record_id"]))


def _grouped(rows: Rows, column: str, when: str) -> Grouped:
    """Rows by what they belong to and their site, in time order; one without its time says nothing about order and is left out."""
    found: Grouped = defaultdict(list)
    for row in _in_time([row for row in rows if row[when] is not None], when):
        found[row[column], row["site_id"]].append(row)
    return found
