"""An entry that mends a held line hides it from the tray's list, where its device may."""

from __future__ import annotations

from sqlite_utils import Database

from fieldlog.access.devices import Device, device_of_lane
from fieldlog.access.held_lines import may_lead_line
from fieldlog.sync.file_parts import file_of
from fieldlog.sync.log import Entry


def hide_fixed(db: Database, entry: Entry, device: Device) -> None:
    """Hide the held line that a taken entry names: the device's own, or one that its lead may read."""
    if entry.fixes is None:
        return
    rows = db.conn.execute("SELECT lane_id, number, line FROM tray WHERE entry_id = ? AND resolved_by IS NULL", (entry.fixes,)).fetchall()
    for lane_id, number, line in rows:
        holder = device_of_lane(db, lane_id)
        if holder is None:
            continue
        is_own = device.device_id in (holder.device_id, file_of(db, lane_id, number))
        if is_own or (device.role == "lead" and may_lead_line(device, holder.sites, line)):
            db.conn.execute(
                "UPDATE tray SET resolved_by = ? WHERE lane_id = ? AND number = ?", (entry.entry_id, lane_id, number)
            )
