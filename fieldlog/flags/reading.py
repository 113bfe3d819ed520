"""Reading flags: what is stored, and what depends on today (overdue, not signed out)."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable
from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from fieldlog.flags.flag import About, Found, about_of, flag_id, moment_of
from fieldlog.flags.histories import last_looks
from fieldlog.flags.search import overdue
from fieldlog.flags.signed_out import NOT_SIGNED_OUT, left_out
from fieldlog.flags.trying import NOT_JUDGED, Failed, tried
from fieldlog.instants import written
from fieldlog.questions.flags import (
    OPEN_STATES,
    count_of_open,
    count_of_settled,
    flags_about,
    flags_of_its_record,
    flags_of_marks,
    flags_of_site,
    gravest_flags,
    latest_settled,
)

FIRST = "mark_moved"
"""The rule whose open flags come before any unit's: what was measured from that mark says nothing until it is checked."""

SEVERITIES = ("act", "look")

OPEN_MOST, SETTLED_MOST = 200, 100
"""Flags of a site that a phone is given; of all others it is told how many there are."""

SETTLED_DAYS = 30
"""Flags settled this long ago are given too, so that a crew sees what became of them."""

Flag = dict[str, Any]


def list_flags(db: Database, site_id: str, now: datetime, all: bool = False) -> list[dict[str, Any]]:  # noqa: A002
    """
    A site's flags, open ones first, the gravest and newest of them first.

    Args:
        now: for what is overdue, aware.
        all: settled and accepted ones too.

    Returns:
        Each: title, todo and settles (words of its rule), flag_id, rule, severity, subject ({"kind", "id"}), sentence, evidence, raised_at, state (open, settled,
        accepted, reopened), settled_at, settled_by, settled_reason.
    """
    found = _stored(flags_of_site(db, site_id)) + _overdue(db, site_id, now, now) + _left_out(db, site_id, now)
    if not all:
        found = [flag for flag in found if flag["state"] in OPEN_STATES]
    return _in_order(found)


def flags_of_unit(db: Database, site_id: str, unit_id: str) -> list[Flag]:
    """
    The stored flags of a unit of this site as `list_flags` gives them, open ones first, those too that were settled long ago.

    Of each rule that is the flag since the unit was last placed, set or righted; a unit of another site has none here.
    """
    return _in_order(_stored(row for row in flags_about(db, [("unit", unit_id)]) if row["site_id"] == site_id))


def packed_flags(db: Database, site_id: str, now: datetime, kinds: Collection[str] | None = None) -> dict[str, Any]:
    """
    A site's flags as they travel: as many as a phone can show, and how many there are.

    Args:
        now: for what is overdue and what was settled lately, aware.
        kinds: the kinds of record that whoever asks may read; None is all that raise flags.

    Returns:
        {"flags", "flag_counts", "due_today", "due_at", "not_signed_out"}: `flags` as in `list_flags`, the gravest and newest open ones first, then
        the latest settled; `flag_counts` {"open", "settled"} of all, whether given or not; `due_today` flags of units that become
        overdue within 24 hours of `now`, each open from its `raised_at` on, the first ones; `due_at` those moments of all;
        `not_signed_out` the words of that rule, whose flags a phone makes itself.
    """
    since = written(now - timedelta(days=SETTLED_DAYS))
    of_site = _stored(flags_of_its_record(db, site_id))
    late = _overdue(db, site_id, now, now + timedelta(days=1))
    due = sorted((flag for flag in late if flag["rule"] == "overdue" and flag["raised_at"] > written(now)), key=lambda flag: flag["raised_at"])
    further = [flag for flag in of_site if flag["state"] in OPEN_STATES] + [flag for flag in late if flag not in due]
    settled = [flag for flag in of_site if flag["state"] not in OPEN_STATES and (flag["settled_at"] or "") >= since]
    # Marks that may have moved come before any unit, so that no limit cuts them off.
    stored = [flag for state in OPEN_STATES for flag in _stored([*flags_of_marks(db, site_id, FIRST, state), *gravest_flags(db, site_id, state, kinds, OPEN_MOST)])]
    flags = [*{flag["flag_id"]: flag for flag in stored}.values(), *further]
    latest = _stored(latest_settled(db, site_id, since, kinds, SETTLED_MOST))
    settled += latest
    settled.sort(key=lambda flag: (flag["settled_at"], flag["flag_id"]), reverse=True)
    return {
        "flags": _in_order(flags)[:OPEN_MOST] + settled[:SETTLED_MOST],
        "not_signed_out": words_of(NOT_SIGNED_OUT),
        "flag_counts": {
            "open": len(further) + count_of_open(db, site_id, kinds),
            "settled": len(settled) - len(latest) + count_of_settled(db, site_id, since, kinds),
        },
        "due_today": due[:OPEN_MOST],
        "due_at": [flag["raised_at"] for flag in due],
    }


def _stored(rows: Iterable[dict[str, Any]]) -> list[Flag]:
    return [_shown(row, json.loads(row["evidence"])) for row in rows]


def _in_order(flags: list[Flag]) -> list[Flag]:
    """Open ones first, marks that may have moved before any unit, the gravest of them before the rest, each newest first."""
    newest = sorted(flags, key=lambda flag: flag["raised_at"], reverse=True)
    rank = {severity: n for n, severity in enumerate(SEVERITIES)}
    return sorted(newest, key=lambda flag: (flag["state"] not in OPEN_STATES, flag["rule"] != FIRST, rank.get(flag["severity"], len(rank))))


def words_of(about: About) -> dict[str, str]:
    """What is said of a rule beside each of its flags."""
    return {"title": about.title, "todo": about.todo, "settles": about.settles}


def _shown(row: dict[str, Any], evidence: dict[str, Any]) -> dict[str, Any]:
    about = about_of(row["rule"])
    return ({} if about is None else words_of(about)) | {
        "flag_id": row["flag_id"], "rule": row["rule"], "severity": row["severity"],
        "subject": {"kind": row["subject_kind"], "id": row["subject_id"]}, "sentence": row["sentence"], "evidence": evidence,
        "raised_at": row["raised_at"], "state": row["state"], "settled_at": row["settled_at"],
        "settled_by": row["settled_by"], "settled_reason": row["settled_reason"],
    }  # fmt: skip


def _left_out(db: Database, site_id: str, now: datetime) -> list[Flag]:
    """Who was not signed out. A phone makes these of its own rows, where they are newest, so no pack carries them."""
    rule = "not_signed_out"
    return [
        _shown({
            "flag_id": flag_id(rule, "sign_in", found.record_id, found.raised_at), "rule": rule, "severity": found.severity,
            "subject_kind": "sign_in", "subject_id": found.record_id, "sentence": found.sentence, "raised_at": found.raised_at,
            "state": "open", "settled_at": None, "settled_by": None, "settled_reason": None,
        }, found.evidence)
        for found in left_out(db, site_id, now)
    ]  # fmt: skip


def _overdue(db: Database, site_id: str, now: datetime, until: datetime) -> list[Flag]:
    flags = []
    for history in last_looks(db, site_id):
        key, rule = history.unit["record_id"], "overdue"
        told: Found | Failed | None = tried(rule, overdue, history, now, until)
        found = told
        if isinstance(told, Failed):
            rule, found = NOT_JUDGED, told.found(history.tag, moment_of(history.unit["changed_eff"]), key)
        if isinstance(found, Found):
            row = {
                "flag_id": flag_id(rule, "unit", key, found.part or found.raised_at), "rule": rule, "severity": found.severity,
                "subject_kind": "unit", "subject_id": key, "sentence": found.sentence, "raised_at": found.raised_at,
                "state": "open", "settled_at": None, "settled_by": None, "settled_reason": None,
            }  # fmt: skip
            flags.append(_shown(row, found.evidence))
    return flags
