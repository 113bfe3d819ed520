"""An entry that mends a held line hides it from the tray's list, where its device may; one that takes that back shows it again."""

from __future__ import annotations

from sqlite_utils import Database

from fieldlog.access.devices import Device, device_of_lane
from fieldlog.access.held_lines import may_lead_line
from fieldlog.sync.file_parts import file_of
from fieldlog.sync.log import Entry


def settle_held(db: Database, entry: Entry, device: Device) -> None:
    """What a taken entry says of held lines: hide the one that it mends, show the one whose mending it takes back."""
    if entry.reopens is not None:
        _show_again(db, entry.reopens, device)
    if entry.fixes is not None:
        _hide(db, entry.fixes, entry.entry_id, device)


def _hide(db: Database, held_id: str, by: str, device: Device) -> None:
    """The device's own line, or one that its lead may read."""
    rows = db.conn.execute("SELECT lane_id, number, line FROM tray WHERE entry_id = ? AND resolved_by IS NULL", (held_id,)).fetchall()
    for lane_id, number, line in rows:
        holder = device_of_lane(db, lane_id)
        if holder is None:
            continue
        is_own = device.device_id in (holder.device_id, file_of(db, lane_id, number))
        if is_own or (device.role == "lead" and may_lead_line(device, holder.sites, line)):
            db.conn.execute("UPDATE tray SET resolved_by = ? WHERE lane_id = ? AND number = ?", (by, lane_id, number))


def _show_again(db: Database, held_id: str, device: Device) -> None:
    """A device takes back its own mending alone: what somebody else mended stays so."""
    rows = db.conn.execute(
        """SELECT t.lane_id, t.number, log.lane_id, log.number FROM tray t JOIN log ON log.entry_id = t.resolved_by WHERE t.entry_id = ?""",
        (held_id,),
    ).fetchall()
    for lane_id, number, by_lane, by_number in rows:
        holder = device_of_lane(db, by_lane)
        if holder is not None and device.device_id in (holder.device_id, file_of(db, by_lane, by_number)):
            db.conn.execute("UPDATE tray SET resolved_by = NULL WHERE lane_id = ? AND number = ?", (lane_id, number))
