"""
The parts of packs: forms for all, windows and state for each site, the tray for leads.

A part is kept under what it was made of: a site's state under the site's mark and the day, its windows under their rules,
beds and the day, so that a check makes the state anew and never the windows.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from datetime import UTC, date, datetime, time, timedelta
from itertools import islice
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device, scope_of
from fieldlog.access.held_lines import held_for
from fieldlog.errors import FieldlogError
from fieldlog.flags.reading import packed_flags
from fieldlog.flags.remarks import packed_remarks
from fieldlog.pack.kept import KeptParts, Part, part_of
from fieldlog.pack.marks import DEVICES, TRAY, mark_of, visits_of
from fieldlog.pack.site_part import no_windows, site_levels, site_windows
from fieldlog.pack.visit_sums import visit_sums
from fieldlog.questions.sites import site_ids, sites_and_removed, zones_of
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.records.forms import forms
from fieldlog.windows.beds import Ground, ground_of
from fieldlog.windows.constants import CONSTANTS

TRAY_MOST = 200
LINE_SHOWN = 2000
"""Letters of a held line that a lead is shown."""

FOR_READERS = frozenset(name for name, kind in CATALOGUE.kinds.items() if kind.privacy == "open")
"""The kinds whose flags a reader is told of."""


def day_of(now: datetime) -> date:
    """The UTC day that packs of an instant are made for."""
    return now.astimezone(UTC).date()


def sites_of_device(db: Database, device: Device) -> list[str]:
    """The sites that a device is given, by record id."""
    return [site_id for site_id in site_ids(db) if device.sites is None or site_id in device.sites]


def forms_part(kept: KeptParts, catalogue: Catalogue) -> Part:
    """The forms of every kind of record."""
    return kept.of(("forms", catalogue.version), lambda: part_of({"forms": forms(catalogue)}, catalogue.version))


def state_part(kept: KeptParts, db: Database, site_id: str, day: date, role: str) -> Part:
    """
    What stands at a site: closures, levels of units, doubts about levels, flags (flags/reading.py says which), what surveys tell beside them.

    A reader's has no flags of people, visits and sign-ins, which a reader may not read. It is made for the day's first moment, so that it is the same whenever it is asked for; `hangs_on` names its windows.
    """
    mark = mark_of(db, site_id)

    def make() -> Part:
        ground = _ground(db, site_id)
        flags = packed_flags(db, site_id, datetime.combine(day, time(), UTC), FOR_READERS if role == "reader" else None)
        return part_of({**site_levels(ground), **flags, **packed_remarks(db, site_id)}, hangs_on=_windows_tag(ground, day))

    return kept.of(("state", "reader" if role == "reader" else "crew", site_id, mark, day.isoformat()), make)


def windows_part(kept: KeptParts, db: Database, site_id: str, day: date, role: str) -> Part:
    """Tide, Sun and windows of a site from the day before `day` on: an evening's window may still run after midnight UTC."""
    wanted = state_part(kept, db, site_id, day, role).hangs_on
    part = kept.get(("windows", wanted))
    if part is not None:
        return part
    ground = _ground(db, site_id)
    # Named by what was read now, since the site may have changed after its state was read.
    etag = _windows_tag(ground, day)

    def make() -> Part:
        if isinstance(ground, FieldlogError):
            return part_of(no_windows(ground), etag)
        return part_of(site_windows(ground, day - timedelta(days=1)), etag)

    return kept.of(("windows", etag), make)


def visits_part(kept: KeptParts, db: Database, site_id: str) -> Part:
    """Visits and hours of a site without people, for readers."""
    mark = mark_of(db, visits_of(site_id))
    zone = zones_of(db, [site_id])[site_id]
    return kept.of(("visits", site_id, mark, zone or ""), lambda: part_of(visit_sums(db, site_id, zone)))


def _ground(db: Database, site_id: str) -> Ground | FieldlogError:
    """A site's ground, or why it is not ready."""
    try:
        return ground_of(db, sites_and_removed(db, [site_id])[0])
    except FieldlogError as fault:
        return fault


def _windows_tag(ground: Ground | FieldlogError, day: date) -> str:
    """What an id of a station names never changes, so the id stands for its constants."""
    if isinstance(ground, FieldlogError):
        made_of: list[Any] = [ground.sentence]
    else:
        made_of = [ground.station.station_id, asdict(ground.rules), [[bed.record_id, bed.bed_level_m] for bed in ground.rows]]
    return hashlib.sha256(json.dumps([day, CONSTANTS, *made_of], default=str).encode()).hexdigest()[:32]


def tray_part(kept: KeptParts, db: Database, lead: Device) -> Part:
    """The held lines that a lead may read, newest first; the text goes along, since it is all there is of them."""
    key = ("tray", scope_of(lead), mark_of(db, TRAY), mark_of(db, DEVICES))
    return kept.of(key, lambda: part_of({"tray": _tray(db, lead)}))


def _tray(db: Database, lead: Device) -> list[dict[str, Any]]:
    return [{**row, "line": row["line"].decode("utf-8", "replace")[:LINE_SHOWN]} for row in islice(held_for(db, lead), TRAY_MOST)]
