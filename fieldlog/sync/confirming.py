"""A device of a restored backup is confirmed: what it wrote meanwhile leaves the tray."""

from __future__ import annotations

from sqlite_utils import Database

from fieldlog.access import devices
from fieldlog.access.devices import Device
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import write
from fieldlog.sync.apply import release_for
from fieldlog.sync.judge import UNCONFIRMED


def confirm_device(db: Database, catalogue: Catalogue, lead: Device | None, device_id: str, now_ms: int) -> Device:
    """
    Confirm a device; `lead` None is the command line.

    Raises:
        NotHere: no such device.
        NotAllowed: it belongs to sites that are not this lead's.
    """
    with write(db):
        device = devices.confirm(db, lead, device_id)
        release_for(db, catalogue, now_ms, (UNCONFIRMED.why,))
    return device
