"""Entries as a phone writes and sends them."""

from __future__ import annotations

import hashlib
import json
import secrets
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse


class Lane:
    """A phone's numbered lines, sent through a joined client."""

    def __init__(self, client: FlaskClient, now_ms: int) -> None:
        self.client = client
        self.lane_id = secrets.token_hex(16)
        self.now_ms = now_ms
        self.lines: list[bytes] = []
        self.chain = ""
        self.cursor: list[Any] | None = None

    def write(self, kind: str, record_id: str, site_id: str | None, **fields: Any) -> None:
        """Append one line; a private kind gets its random key."""
        said = {
            "v": 1, "d": self.lane_id, "n": len(self.lines) + 1, "s": f"{self.now_ms:012x}{len(self.lines):04x}", "u": None,
            "t": kind, "r": record_id, "g": site_id, "y": None, "f": fields, "b": {}, "o": [0, "UTC", 0],
        }  # fmt: skip
        if kind.endswith("_private"):
            said["k"] = secrets.token_hex(16)
        self.lines.append(json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode())

    def body(self) -> bytes:
        header = {
            "p": 1, "rid": secrets.token_hex(8), "d": self.lane_id, "from": 1, "prev": "", "mine": len(self.lines),
            "cursor": self.cursor, "want": 500, "now": self.now_ms, "app": "test",
        }  # fmt: skip
        return b"".join(part + b"\n" for part in (json.dumps(header).encode(), *self.lines))

    def sync(self, **options: Any) -> TestResponse:
        """Send every line again and pull what is new."""
        answer = self.client.post("/api/sync", data=self.body(), **options)
        if answer.status_code == 200:
            self.cursor = answer.json["cursor"]
        return answer


def texts_pulled(answer: TestResponse) -> list[str]:
    """The lines of others that a sync brought."""
    return [line for _, _, _, line in answer.json["pull"] if line is not None]


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
