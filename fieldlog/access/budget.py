"""
What one device may send in an hour, so that no token fills the disk or keeps the server from the others.

Kept in memory, one process serving a folder: a restart forgets it, which costs nothing but one more hour's worth. A budget
fills up evenly again, so whoever met its end waits minutes, not the rest of the hour.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Mapping
from datetime import datetime

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
MANY = 10
"""
A lead's device may send so many times as much, since a lead brings in whole files; so may any for a week after a restore, when phones
send again what the backup did not hold.
"""

AFTER_A_RESTORE_MS = 7 * 24 * HOUR_S * 1000
HELD_STEPS = 100
"""A device whose held lines filled its hour waits until this part of it is free again, so that it does not come for every line."""


class Budget:
    """What devices sent lately: per device and name a level, which sinks by an hour's worth an hour."""

    def __init__(self, an_hour: Mapping[str, int] = AN_HOUR) -> None:
        self._an_hour = an_hour
        self._levels: dict[tuple[str, str], tuple[float, float]] = {}
        self._lock = threading.Lock()

    def take_sync(self, db: Database, device: Device, body: bytes, at: datetime) -> Callable[[], bool]:
        """
        Count a sync body before any line of it is judged.

        Returns:
            To be asked before each line that will be held, which it counts: whether the device may have one more held.

        Raises:
            TooLarge: it has more lines than any hour's worth; the phone halves what it sends.
            OverBudget: the device sent too much lately; nothing of the body was taken.
        """
        lines = max(0, body.count(b"\n") - 1)
        if lines > self._an_hour["lines"]:
            raise TooLarge(f"The request has {lines} entries; the limit is {self._an_hour['lines']}. Send it in smaller parts.")
        times, at_s = times_of(db, device, at), at.timestamp()
        held = self._an_hour["held lines"] * times
        free = {"held lines": max(1, held // HELD_STEPS)} if lines else {}
        self._take(device, {"bytes": len(body), "lines": lines}, free, times, at_s)
        return lambda: self._hold(device, times, at_s)

    def take_photo(self, db: Database, device: Device, part_bytes: int, at: datetime) -> None:
        """
        Count a part of a photo before it is stored.

        Raises:
            OverBudget: the device sent too much lately; the part was not taken.
        """
        self._take(device, {"photo bytes": part_bytes}, {}, times_of(db, device, at), at.timestamp())

    def _take(self, device: Device, amounts: Mapping[str, int], free: Mapping[str, int], times: int, at_s: float) -> None:
        """Count amounts, where they and what must be free beside them fit."""
        with self._lock:
            levels = {name: self._level(device, name, times, at_s) + amount for name, amount in {**amounts, **free}.items()}
            for name, level in levels.items():
                most = self._an_hour[name] * times
                if level > most:
                    raise _over_budget(name, most, level)
            for name in amounts:
                self._levels[device.device_id, name] = (levels[name], at_s)

    def _hold(self, device: Device, times: int, at_s: float) -> bool:
        with self._lock:
            level = self._level(device, "held lines", times, at_s) + 1
            if level > self._an_hour["held lines"] * times:
                return False
            self._levels[device.device_id, "held lines"] = (level, at_s)
            return True

    def _level(self, device: Device, name: str, times: int, at_s: float) -> float:
        level, then_s = self._levels.get((device.device_id, name), (0.0, at_s))
        return max(0.0, level - max(0.0, at_s - then_s) * self._an_hour[name] * times / HOUR_S)


def times_of(db: Database, device: Device, at: datetime) -> int:
    """How many times an hour's worth a device may send."""
    if device.role == "lead" and not device.revoked and not device.unconfirmed:
        return MANY
    restored_ms = setting(db, "restored_at")
    return MANY if restored_ms is not None and 0 <= at.timestamp() * 1000 - int(restored_ms) < AFTER_A_RESTORE_MS else 1


def _over_budget(name: str, most: int, level: float) -> OverBudget:
    wait_s = math.ceil((level - most) * HOUR_S / most)
    minutes = math.ceil(wait_s / 60)
    if name == "held lines":
        return OverBudget(
            f"This phone reached the limit of {most:,} held-back entries an hour. Nothing is lost: the rest is sent in"
            f" {minutes} min.",
            wait_s,
        )
    limit = f"{most // MEGABYTE} MB" if "bytes" in name else f"{most:,} {name.replace('lines', 'entries')}"
    what = {"bytes": " of entries", "photo bytes": " of photos"}.get(name, "")
    return OverBudget(
        f"This phone sent more than {limit}{what} in an hour, the limit for one phone. Nothing is lost: the rest is sent in {minutes} min.",
        wait_s,
    )
