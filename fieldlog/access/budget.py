"""
What one device may send in an hour, so that no token fills the disk or keeps the server from the others.

Kept in memory, one process serving a folder: a restart forgets it, which costs nothing but one more hour's worth. A budget
fills up evenly again, so whoever met its end waits minutes, not the rest of the hour.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.errors import OverBudget, TooLarge
from fieldlog.store import setting

MEGABYTE = 1024 * 1024
AN_HOUR = {"bytes": 256 * MEGABYTE, "lines": 40_000, "held lines": 10_000, "photo bytes": 2048 * MEGABYTE}
"""
The most of each in an hour. A crew of one phone writes some hundred lines and fifty photos on a long day; a season kept on
one phone is some thousand lines, which go at once.
"""

HOUR_S = 3600
AFTER_A_RESTORE_MS = 7 * 24 * HOUR_S * 1000
"""So long after a restore nothing is counted: phones send again what the backup did not hold."""


class Budget:
    """What devices sent lately: per device and name a level, which sinks by an hour's worth an hour."""

    def __init__(self, an_hour: Mapping[str, int] = AN_HOUR) -> None:
        self._an_hour = an_hour
        self._levels: dict[tuple[str, str], tuple[float, float]] = {}
        self._lock = threading.Lock()

    def take_sync(self, db: Database, device: Device, body: bytes, at: datetime) -> None:
        """
        Count a sync body before any line of it is judged.

        Raises:
            TooLarge: it has more lines than any hour's worth; the phone halves what it sends.
            OverBudget: the device sent too much lately; nothing of the body was taken.
        """
        lines = max(0, body.count(b"\n") - 1)
        if lines > self._an_hour["lines"]:
            raise TooLarge(f"The request holds {lines} entries; at most {self._an_hour['lines']} are taken at once. Send it in smaller parts.")
        if not is_exempt(db, device, at):
            self._take(device, {"bytes": len(body), "lines": lines, "held lines": 0}, at.timestamp())

    def note_held(self, device: Device, acks: list[list[Any]], at: datetime) -> None:
        """Count the lines of a reply that were held; they are taken already, so the next body waits."""
        held = sum(ack[2] == "q" for ack in acks)
        with self._lock:
            self._levels[device.device_id, "held lines"] = (self._level(device, "held lines", at.timestamp()) + held, at.timestamp())

    def take_photo(self, db: Database, device: Device, part_bytes: int, at: datetime) -> None:
        """
        Count a part of a photo before it is stored.

        Raises:
            OverBudget: the device sent too much lately; the part was not taken.
        """
        if not is_exempt(db, device, at):
            self._take(device, {"photo bytes": part_bytes}, at.timestamp())

    def _take(self, device: Device, amounts: Mapping[str, int], at_s: float) -> None:
        with self._lock:
            levels = {name: self._level(device, name, at_s) + amount for name, amount in amounts.items()}
            for name, level in levels.items():
                if level > self._an_hour[name]:
                    raise _over_budget(name, self._an_hour[name], level)
            for name, level in levels.items():
                self._levels[device.device_id, name] = (level, at_s)

    def _level(self, device: Device, name: str, at_s: float) -> float:
        level, then_s = self._levels.get((device.device_id, name), (0.0, at_s))
        return max(0.0, level - max(0.0, at_s - then_s) * self._an_hour[name] / HOUR_S)


def is_exempt(db: Database, device: Device, at: datetime) -> bool:
    """Whether nothing is counted: a lead's device, since a lead imports whole files, or any for a week after a restore."""
    if device.role == "lead" and not device.revoked:
        return True
    restored_ms = setting(db, "restored_at")
    return restored_ms is not None and 0 <= at.timestamp() * 1000 - int(restored_ms) < AFTER_A_RESTORE_MS


def _over_budget(name: str, most: int, level: float) -> OverBudget:
    wait_s = math.ceil((level - most) * HOUR_S / most)
    limit = f"{most // MEGABYTE} MB" if "bytes" in name else f"{most:,} {name.replace('lines', 'entries')}"
    what = {"bytes": " of entries", "photo bytes": " of photos"}.get(name, "")
    minutes = math.ceil(wait_s / 60)
    return OverBudget(
        f"This phone sent more than {limit}{what} within an hour, the most that is taken from one. Nothing is lost: the rest goes"
        f" in {minutes} min.",
        wait_s,
    )
