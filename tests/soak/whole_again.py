"""After a restore: what the console and the leads do."""

from __future__ import annotations

from pathlib import Path

from fieldlog.access.carried_over import unconfirmed_devices
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme
from fieldlog.sync.confirming import confirm_device
from tests.soak.served import now_ms


def confirm_all(folder: Path) -> None:
    """Confirm every device that waits."""
    programme = Programme(folder)
    for device_id, _role, _name in unconfirmed_devices(programme.db()):
        confirm_device(programme.db(), CATALOGUE, None, device_id, now_ms())
    programme.close()
