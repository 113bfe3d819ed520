"""Reading flags: what is stored, and what depends on today (overdue)."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from fieldlog.flags.flag import OPEN_STATES, Found, flag_id
from fieldlog.flags.histories import last_looks
from fieldlog.flags.search import overdue

SEVERITY_ORDER = {"act": 0, "look": 1}


def list_flags(db: Database, site_id: str, now: datetime, all: bool = False) -> list[dict[str, Any]]:  # noqa: A002
    """
    A site's flags, open ones first, the gravest and newest of them first.

    Args:
        now: for what is overdue, aware.
        all: settled and accepted ones too.

    Returns:
        Each: flag_id, rule, severity, subject ({"kind", "id"}), sentence, evidence, raised_at, state (open, settled,
        accepted, reopened), settled_at, settled_by, settled_reason.
    """
    stored = list(db.query("SELECT * FROM flag WHERE site_id = ? OR (subject_kind = 'site' AND subject_id = ?)", [site_id, site_id]))
    found = [_shown(row, json.loads(row["evidence"])) for row in stored] + _overdue(db, site_id, now)
    if not all:
        found = [flag for flag in found if flag["state"] in OPEN_STATES]
    found.sort(key=lambda flag: flag["raised_at"], reverse=True)
    return sorted(found, key=lambda flag: (flag["state"] not in OPEN_STATES, SEVERITY_ORDER[flag["severity"]]))


def _shown(row: dict[str, Any], evidence: dict[str, Any]) -> dict[str, Any]:
    return {
        "flag_id": row["flag_id"], "rule": row["rule"], "severity": row["severity"],
        "subject": {"kind": row["subject_kind"], "id": row["subject_id"]}, "sentence": row["sentence"], "evidence": evidence,
        "raised_at": row["raised_at"], "state": row["state"], "settled_at": row["settled_at"],
        "settled_by": row["settled_by"], "settled_reason": row["settled_reason"],
    }  # fmt: skip


def _overdue(db: Database, site_id: str, now: datetime) -> list[dict[str, Any]]:
    flags = []
    for history in last_looks(db, site_id):
        found: Found | None = overdue(history, now)
        if found is not None:
            key = history.unit["record_id"]
            row = {
                "flag_id": flag_id("overdue", "unit", key, found.raised_at), "rule": "overdue", "severity": found.severity,
                "subject_kind": "unit", "subject_id": key, "sentence": found.sentence, "raised_at": found.raised_at,
                "state": "open", "settled_at": None, "settled_by": None, "settled_reason": None,
            }  # fmt: skip
            flags.append(_shown(row, found.evidence))
    return flags
