"""Who reads a held line, and settles it: its text may be private, and says itself of which site it is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device, may_lead
from fieldlog.json_text import read


def held_for(db: Database, lead: Device) -> Iterator[dict[str, Any]]:
    """The held lines that a lead may read, newest first: lane_id, number, entry_id, why, sentence, received_at, line (bytes)."""
    rows = db.query(
        """SELECT t.lane_id, t.number, t.entry_id, t.why, t.sentence, t.received_at, t.line, d.sites
           FROM tray t JOIN lane USING (lane_id) JOIN device d USING (device_id) WHERE t.resolved_by IS NULL
           ORDER BY t.received_at DESC, t.lane_id, t.number DESC"""
    )
    for row in rows:
        sites, line = row.pop("sites"), bytes(row["line"])
        if may_lead_line(lead, None if sites is None else frozenset(json.loads(sites)), line):
            yield {**row, "line": line}


def may_lead_line(lead: Device, sites: frozenset[str] | None, line: bytes) -> bool:
    """
    Whether a lead reads a held line of a device, and hides it by an entry that mends it.

    A lead of the whole programme reads each; one of some sites those of a device on these that name one of them: a device may be
    moved, and what it wrote stays at the site where it was. A line that names no site, or one that its device is not of, is for the whole
    programme's leads.

    Args:
        sites: the device's sites now; None is all.
    """
    if lead.sites is None:
        return True
    return may_lead(lead, sites) and sites is not None and _site_of(line) in sites


def _site_of(line: bytes) -> object:
    """What a line says its site is; None where it says nothing that can be read."""
    try:
        said = read(line)
    except (ValueError, RecursionError):
        return None
    site_id = said.get("g") if isinstance(said, dict) else None
    return site_id if isinstance(site_id, str) else None
