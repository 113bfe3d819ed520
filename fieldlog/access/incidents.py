"""
What devices tried that was not theirs, as leads see it.

The sync counts an incident where a device asks or writes in the name of a lane that it cannot prove to be its own. No more than that
is known: a phone that lost its key does it too.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device, may_lead
from fieldlog.days import day_words
from fieldlog.questions.people import people_known
from fieldlog.shown_names import counted, named

MOST_TOLD = 200
"""So many are told at once, the newest; whoever tells them says of how many."""

_OWN = "own"
"""How the sync names all lanes that the device holds itself (`sync/lanes.py`); of older folders such lanes have their own name."""


def list_incidents(db: Database, lead: Device | None) -> list[dict[str, Any]]:
    """
    The incidents of devices that a lead may lead, the newest first; `lead` None is the command line, which sees all.

    However many lanes of one other device a device showed, it is one incident.

    Each: device_id, device_name, role, person_id and person_name (who was chosen on it), whose ("own": a lane that the device holds
    itself, "other": another's, "unknown": of a lane that is not here), holder_name (the other device's, where the lead may lead it),
    what, first_at, last_at (milliseconds since 1970 UTC), times.
    """
    rows = list(db.query(
        """SELECT i.device_id, d.name AS device_name, d.role, d.sites, d.person_id, i.what,
           min(i.first_at) AS first_at, max(i.last_at) AS last_at, sum(i.times) AS times, h.device_id AS holder_id, h.name AS holder_name,
           h.sites AS holder_sites
           FROM incident i JOIN device d USING (device_id)
           LEFT JOIN lane l ON l.lane_id = i.lane_id LEFT JOIN device h ON h.device_id = iif(i.lane_id = :own, i.device_id, l.device_id)
           GROUP BY i.device_id, h.device_id, i.what ORDER BY max(i.last_at) DESC, i.device_id, h.device_id""",
        {"own": _OWN},
    ))  # fmt: skip
    people = people_known(db, (row["person_id"] for row in rows), None if lead is None else lead.sites)
    told: list[dict[str, Any]] = []
    for row in rows:
        sites, holder_id, holder_sites = row.pop("sites"), row.pop("holder_id"), row.pop("holder_sites")
        if not _leads(lead, sites):
            continue
        row["whose"] = "unknown" if holder_id is None else "own" if holder_id == row["device_id"] else "other"
        if row["whose"] != "other" or not _leads(lead, holder_sites):
            row["holder_name"] = None
        told.append(row | {"person_name": people.get(row["person_id"])})
    return told


def incident_sentence(incident: dict[str, Any]) -> str:
    """What is known of one incident, and no more: times in UTC."""
    whose = {"own": "itself", "unknown": "an unknown device"}.get(
        incident["whose"], f"the device {named(incident['holder_name'])}" if incident["holder_name"] else "another device"
    )
    times = "once" if incident["times"] == 1 else counted(incident["times"], "time")
    last = datetime.fromtimestamp(incident["last_at"] / 1000, UTC)
    return (
        f"The device {named(incident['device_name'])} ({incident['role']}) used the name of {whose} without the right key, {times}, last on {day_words(last, year=True)} at {last:%H:%M} UTC. Nothing was sent or stored."
    )


def _leads(lead: Device | None, sites: str | None) -> bool:
    return lead is None or may_lead(lead, None if sites is None else frozenset(json.loads(sites)))
