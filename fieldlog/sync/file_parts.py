"""
Parts of a lane that a file brought which could not prove the lane: of an older phone, whose lane has no key.

Such lines stand in the lane, but are judged as those of a device of their own, a crew of one site: neither when they come nor
when they are released do they have the rights of the device that holds the lane.
"""

from __future__ import annotations

from dataclasses import replace

from sqlite_utils import Database

from fieldlog.access.devices import Device, device_of_id, device_of_lane


def note_part(db: Database, lane_id: str, first: int, last: int, device: Device) -> None:
    """Note that the lines `first` to `last` of a lane came by a file; they lengthen the part before them. Within a `write`."""
    lengthened = db.conn.execute(
        "UPDATE file_part SET last = ? WHERE lane_id = ? AND device_id = ? AND last = ?", (last, lane_id, device.device_id, first - 1)
    )
    if lengthened.rowcount == 0:
        db.conn.execute("INSERT INTO file_part(lane_id, first, last, device_id) VALUES (?, ?, ?, ?)", (lane_id, first, last, device.device_id))


def sender_of(db: Database, lane_id: str, number: int) -> Device | None:
    """By whose rights a line is released: the lane's holder, or the file that brought it, while the holder is not taken off."""
    holder = device_of_lane(db, lane_id)
    file_id = file_of(db, lane_id, number)
    if holder is None or file_id is None:
        return holder
    file = device_of_id(db, file_id)
    return replace(file, revoked=file.revoked or holder.revoked, unconfirmed=holder.unconfirmed)


def file_of(db: Database, lane_id: str, number: int) -> str | None:
    """The device of the file that brought a line, None where its own phone sent it."""
    row = db.conn.execute("SELECT device_id FROM file_part WHERE lane_id = ? AND ? BETWEEN first AND last", (lane_id, number)).fetchone()
    return None if row is None else str(row[0])
