"""
The pack and its ETag: what the server derives for one device, and whether it differs from what the phone has.

The ETag is over the content, without what changes at every contact (when it was made, when a phone was last seen), so a
phone fetches the pack only when something in it is new. Every sync reply names the ETag, so it must be cheap: while the
log, the tray and the day are the same, only a few rows are read.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import Any

from sqlite_utils import Database

from fieldlog.access.calendar_secrets import calendar_paths
from fieldlog.access.devices import Device, list_devices, may_lead, scope_of
from fieldlog.errors import FieldlogError
from fieldlog.flags.flag import OPEN_STATES
from fieldlog.flags.reading import list_flags
from fieldlog.pack.site_part import no_part, site_part
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.forms import forms
from fieldlog.stations import ATTRIBUTION
from fieldlog.store import setting
from fieldlog.windows.beds import ground_of

SETTLED_DAYS = 30
"""Flags settled this long ago stay in the pack, so that a crew sees what became of them."""

TRAY_MOST = 200
LINE_SHOWN = 2000
"""Letters of a held line that a lead is shown."""

KEPT = 64
"""ETags kept: a handful of scopes, a few states of the log."""

_kept: dict[tuple[str, ...], str] = {}


def build_pack(db: Database, catalogue: Catalogue, device: Device, now: datetime) -> dict[str, Any]:
    """
    The pack of a device: `etag`, `made_at`, `me`, `programme`, `forms`, `attribution`, `sites`; leads also get `tray`
    and `devices`. `sites` has, by site id, `tide`, `sun`, `windows` (windows_columns.py), `sentence`, `flags`, `calendar`.
    """
    content = _content(db, catalogue, device, now)
    etag = _digest(content, device)
    calendars = _calendars(db, device)
    for site_id, path in calendars.items():
        content["sites"][site_id]["calendar"] = path
    pack = {
        "etag": _with_calendars(etag, calendars),
        "made_at": now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "me": {
            "device_id": device.device_id, "role": device.role,
            "sites": None if device.sites is None else sorted(device.sites),
        },
        **content,
    }  # fmt: skip
    if device.role == "lead":
        pack["devices"] = list_devices(db, device)
    return pack


def pack_etag(db: Database, catalogue: Catalogue, device: Device, now: datetime) -> str:
    """The ETag that `build_pack` would give now."""
    row = db.conn.execute("SELECT h FROM log ORDER BY seq DESC LIMIT 1").fetchone()
    tray = db.conn.execute("SELECT count(*), max(rowid), count(resolved_by) FROM tray").fetchone()
    # The log's chain stands for all that was ever taken, so equal keys have equal content.
    key = (str(_file(db)), row[0] if row else "", str(tray), catalogue.version, scope_of(device), _day(now).isoformat())
    etag = _kept.get(key)
    if etag is None:
        etag = _digest(_content(db, catalogue, device, now), device)
        if len(_kept) >= KEPT:
            _kept.clear()
        _kept[key] = etag
    return _with_calendars(etag, _calendars(db, device))


def _file(db: Database) -> str:
    path: str = db.conn.execute("PRAGMA database_list").fetchone()[2]
    return path


def _day(now: datetime) -> date:
    return now.astimezone(UTC).date()


def _content(db: Database, catalogue: Catalogue, device: Device, now: datetime) -> dict[str, Any]:
    sites = [site for site in db.query("SELECT * FROM site WHERE deleted = 0 ORDER BY record_id") if _sees(device, site)]
    content: dict[str, Any] = {
        "programme": {"name": setting(db, "programme_name")},
        "forms": _forms(catalogue),
        "attribution": list(ATTRIBUTION),
        "sites": {site["record_id"]: _site(db, site, now) for site in sites},
    }
    if device.role == "lead":
        content["tray"] = _tray(db, device)
    return content


def _sees(device: Device, site: Mapping[str, Any]) -> bool:
    return device.sites is None or site["record_id"] in device.sites


@lru_cache(4)
def _forms(catalogue: Catalogue) -> dict[str, Any]:
    return forms(catalogue)


def _site(db: Database, site: Mapping[str, Any], now: datetime) -> dict[str, Any]:
    site_id = site["record_id"]
    # From yesterday on: a window of last evening may still run, and no zone is a day behind UTC.
    try:
        part = site_part(ground_of(db, site), _day(now) - timedelta(days=1))
    except FieldlogError as fault:
        part = no_part(fault)
    return {**part, "flags": _flags(db, site_id, now)}


def _calendars(db: Database, device: Device) -> dict[str, str]:
    """The device's own calendar address of each of its sites, which no other device may be given."""
    sites = db.query("SELECT record_id FROM site WHERE deleted = 0 ORDER BY record_id")
    return calendar_paths(db, device, [site["record_id"] for site in sites if _sees(device, site)])


def _with_calendars(etag: str, calendars: dict[str, str]) -> str:
    return hashlib.sha256(json.dumps([etag, calendars]).encode()).hexdigest()[:32]


def _flags(db: Database, site_id: str, now: datetime) -> list[dict[str, Any]]:
    """The open ones, and those that were settled or accepted in the last 30 days."""
    since = (now - timedelta(days=SETTLED_DAYS)).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S")
    found = list_flags(db, site_id, now, all=True)
    return [flag for flag in found if flag["state"] in OPEN_STATES or (flag["settled_at"] or "") >= since]


def _tray(db: Database, lead: Device) -> list[dict[str, Any]]:
    """The held lines of devices on a lead's sites, newest first; the text goes along, since it is all there is of them."""
    rows = db.query(
        """SELECT t.lane_id, t.number, t.entry_id, t.why, t.sentence, t.received_at, t.line, d.sites
           FROM tray t JOIN lane USING (lane_id) JOIN device d USING (device_id) WHERE t.resolved_by IS NULL
           ORDER BY t.received_at DESC, t.lane_id, t.number DESC LIMIT ?""",
        [TRAY_MOST],
    )
    found = []
    for row in rows:
        sites = row.pop("sites")
        if may_lead(lead, None if sites is None else frozenset(json.loads(sites))):
            found.append({**row, "line": bytes(row["line"]).decode("utf-8", "replace")[:LINE_SHOWN]})
    return found


def _digest(content: dict[str, Any], device: Device) -> str:
    text = json.dumps([scope_of(device), content], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:32]
