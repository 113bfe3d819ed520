"""What a device is told of its pack: the index of its parts, or, for apps older than the parts, all of it in one document."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from fieldlog.access.calendar_secrets import calendar_paths
from fieldlog.access.devices import Device, list_devices
from fieldlog.access.leads import count_leads
from fieldlog.instants import written
from fieldlog.pack.kept import KeptParts
from fieldlog.pack.marks import pack_tag
from fieldlog.pack.parts import (
    day_of,
    forms_part,
    sites_of_device,
    state_part,
    tray_part,
    visits_part,
    windows_part,
)
from fieldlog.records.catalogue import Catalogue
from fieldlog.stations import ATTRIBUTION
from fieldlog.store import setting


def build_index(kept: KeptParts, db: Database, catalogue: Catalogue, device: Device, now: datetime) -> dict[str, Any]:
    """
    The index of a device's pack: `etag`, `made_at`, `me`, `programme`, `attribution`, `calendars`, `parts`.

    `parts` has the tag of each part by its address below /api/pack/: "forms", "sites/ID/windows", "sites/ID/state",
    "sites/ID/visits" for readers and "tray" for leads. What is this device's own, such as its calendar addresses by site, stands here and in no part.
    """
    sites, day = sites_of_device(db, device), day_of(now)
    calendars = calendar_paths(db, device, sites)
    # Read before what it stands for: a phone that is given newer rows under an older tag asks once more.
    etag = pack_tag(db, catalogue, device, day)
    parts = {"forms": forms_part(kept, catalogue).etag}
    for site_id in sites:
        state = state_part(kept, db, site_id, day, device.role)
        parts |= {f"sites/{site_id}/windows": state.hangs_on, f"sites/{site_id}/state": state.etag}
        if device.role == "reader":
            parts[f"sites/{site_id}/visits"] = visits_part(kept, db, site_id).etag
    if device.role == "lead":
        parts["tray"] = tray_part(kept, db, device).etag
    return {
        "etag": etag,
        "made_at": written(now),
        "me": {
            "device_id": device.device_id, "role": device.role,
            "sites": None if device.sites is None else sorted(device.sites),
        },
        "programme": {"name": setting(db, "programme_name"), **_leads(db, device)},
        "attribution": list(ATTRIBUTION),
        "calendars": calendars,
        "parts": parts,
    }  # fmt: skip


def _leads(db: Database, device: Device) -> dict[str, int]:
    """How many people lead what a lead does: one alone is told so."""
    return {"leads": count_leads(db, device.sites)} if device.role == "lead" else {}


def build_document(kept: KeptParts, db: Database, catalogue: Catalogue, device: Device, now: datetime) -> dict[str, Any]:
    """The index and all its parts as one document, which apps before the parts ask for: `sites` by id, each with all of its own."""
    index, day = build_index(kept, db, catalogue, device, now), day_of(now)
    calendars = index.pop("calendars")
    del index["parts"]
    document = {**index, **json.loads(forms_part(kept, catalogue).text()), "sites": {}}
    for site_id, calendar in calendars.items():
        windows, state = windows_part(kept, db, site_id, day, device.role), state_part(kept, db, site_id, day, device.role)
        document["sites"][site_id] = {**json.loads(windows.text()), **json.loads(state.text()), "calendar": calendar}
    if device.role == "lead":
        document |= {**json.loads(tray_part(kept, db, device).text()), "devices": list_devices(db, device)}
    return document
