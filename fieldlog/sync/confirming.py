"""A device of a restored backup is confirmed: what it wrote meanwhile leaves the tray, some lines at a time."""

from __future__ import annotations

from time import sleep

from sqlite_utils import Database

from fieldlog.access import devices
from fieldlog.access.devices import Device
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import write
from fieldlog.sync.apply import release_confirmed, release_some
from fieldlog.sync.release import begin_releasing, has_ready, is_releasing

PAUSE_S = 0.02
"""Between two transactions: SQLite's lock is not fair to the server's writers, where this is a process beside it."""


def confirm_device(db: Database, catalogue: Catalogue, lead: Device | None, device_id: str, now_ms: int) -> Device:
    """
    Confirm a device, and release what it wrote meanwhile; `lead` None is the command line.

    Raises:
        NotHere: no such device.
        NotAllowed: it belongs to sites that are not this lead's.
    """
    with write(db):
        device = devices.confirm(db, lead, device_id)
        begin_releasing(db)
    finish_releasing(db, catalogue, now_ms)
    return device


def finish_releasing(db: Database, catalogue: Catalogue, now_ms: int) -> None:
    """Release what devices wrote before they were confirmed, also what an earlier process was stopped in."""
    while is_releasing(db) or has_ready(db):
        with write(db):
            if is_releasing(db):
                release_confirmed(db, catalogue, now_ms)
            release_some(db, catalogue, now_ms)
        sleep(PAUSE_S)
