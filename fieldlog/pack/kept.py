"""Parts of packs as the bytes that travel, kept by what they were made of, within a bound of bytes."""

from __future__ import annotations

import gzip
import hashlib
import json
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Any

KEPT_BYTES = 32 * 1024 * 1024
"""A site's parts of a day are 40 KB or so: today's and tomorrow's of some hundred sites."""

Key = tuple[str, ...]


@dataclass(frozen=True)
class Part:
    """One part: its tag, its JSON object as gzip packed it, and what a further part of the same rows hangs on."""

    etag: str
    packed: bytes
    hangs_on: str = ""

    def text(self) -> bytes:
        """The JSON object."""
        return gzip.decompress(self.packed)


def part_of(content: dict[str, Any], etag: str | None = None, hangs_on: str = "") -> Part:
    """Pack a part; without an `etag` it is named by its content."""
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()
    return Part(etag or hashlib.sha256(text).hexdigest()[:32], gzip.compress(text, 6, mtime=0), hangs_on)


class KeptParts:
    """The parts of one server; those asked for least lately make room."""

    def __init__(self, most_bytes: int = KEPT_BYTES) -> None:
        self.most_bytes = most_bytes
        self.size = 0
        self._parts: OrderedDict[Key, Part] = OrderedDict()
        self._lock = Lock()
        self._making: dict[Key, Lock] = {}

    def get(self, key: Key) -> Part | None:
        """A part that is kept."""
        with self._lock:
            part = self._parts.get(key)
            if part is not None:
                self._parts.move_to_end(key)
            return part

    def of(self, key: Key, make: Callable[[], Part]) -> Part:
        """A part, made by the first who asks while all others wait for it."""
        part = self.get(key)
        if part is not None:
            return part
        with self._lock:
            making = self._making.setdefault(key, Lock())
        with making:
            part = self.get(key)
            if part is None:
                try:
                    part = make()
                    self._keep(key, part)
                finally:
                    with self._lock:
                        self._making.pop(key, None)
        return part

    def _keep(self, key: Key, part: Part) -> None:
        with self._lock:
            former = self._parts.get(key)
            self._parts[key] = part
            self.size += len(part.packed) - (len(former.packed) if former else 0)
            while self.size > self.most_bytes and len(self._parts) > 1:
                _, gone = self._parts.popitem(last=False)
                self.size -= len(gone.packed)
