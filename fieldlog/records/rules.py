"""
The few rules between fields of one record, as data: the phone evaluates the same table
(`static/records/validate.js`).

A broken rule never holds an entry: two phones may each have written one of the fields. It is flagged after
the merge.

    {"rule": "not-before", "field": "ended_at", "other": "started_at"}
    {"rule": "absent-when", "field": "count", "other": "found", "is": ["looked_for_none"]}
    {"rule": "needed-when", "field": "east_m", "other": "method", "is": ["typed", "rtk"]}
    {"rule": "any-of", "fields": ["species_id", "taxon"]}
    {"rule": "together", "fields": ["lat_deg", "lon_deg"]}
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from fieldlog.records.empty import is_empty

Rule = Mapping[str, Any]
Titles = Mapping[str, str]


class Broken(NamedTuple):
    """A rule that a record breaks: the field to mark, a fixed word, the sentence."""

    field: str
    word: str
    sentence: str


def broken_rules(rules: list[dict[str, Any]], row: Mapping[str, Any], titles: Titles) -> list[Broken]:
    """The rules that a merged record breaks, in the table's order."""
    found = (_CHECKS[rule["rule"]](rule, row, titles) for rule in rules)
    return [broken for broken in found if broken is not None]


def _not_before(rule: Rule, row: Mapping[str, Any], titles: Titles) -> Broken | None:
    later, earlier = row.get(rule["field"]), row.get(rule["other"])
    if later is None or earlier is None or later >= earlier:
        return None
    said = f"{titles[rule['field']]} is before {titles[rule['other']]}. Correct one of the two."
    return Broken(rule["field"], "out-of-order", said)


def _absent_when(rule: Rule, row: Mapping[str, Any], titles: Titles) -> Broken | None:
    if is_empty(row.get(rule["field"])) or row.get(rule["other"]) not in rule["is"]:
        return None
    said = f"{titles[rule['field']]} does not go with this answer to {titles[rule['other']]}. Clear one of the two."
    return Broken(rule["field"], "not-together", said)


def _needed_when(rule: Rule, row: Mapping[str, Any], titles: Titles) -> Broken | None:
    if not is_empty(row.get(rule["field"])) or row.get(rule["other"]) not in rule["is"]:
        return None
    said = f"{titles[rule['field']]} is needed with this answer to {titles[rule['other']]}. Fill it in."
    return Broken(rule["field"], "missing", said)


def _any_of(rule: Rule, row: Mapping[str, Any], titles: Titles) -> Broken | None:
    if any(not is_empty(row.get(name)) for name in rule["fields"]):
        return None
    said = f"{' or '.join(titles[name] for name in rule['fields'])} is needed. Fill in one of them."
    return Broken(rule["fields"][0], "missing", said)


def _together(rule: Rule, row: Mapping[str, Any], titles: Titles) -> Broken | None:
    empty = [name for name in rule["fields"] if is_empty(row.get(name))]
    if not empty or len(empty) == len(rule["fields"]):
        return None
    said = f"{' and '.join(titles[name] for name in rule['fields'])} belong together. Fill in both, or neither."
    return Broken(empty[0], "missing", said)


_CHECKS = {
    "not-before": _not_before, "absent-when": _absent_when, "needed-when": _needed_when, "any-of": _any_of,
    "together": _together,
}  # fmt: skip
