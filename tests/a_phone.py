"""A phone that joined: its lane of lines, sent through its client."""

from __future__ import annotations

import secrets
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from fieldlog.records.catalogue import CATALOGUE
from tests.sync.lines import REQUIRED, Lane


class Phone(Lane):
    """A joined client with a lane of its own."""

    def __init__(self, client: FlaskClient, now_ms: int) -> None:
        super().__init__(client.device_id)
        self.client = client
        self.now_ms = now_ms
        self.cursor: list[Any] | None = None
        self.made: set[tuple[str, str]] = set()
        self.purges = False
        """Whether it says that it carries out purges itself, as apps since 0.3.0 do."""

    def note(self, kind: str, record_id: str, site_id: str | None, **fields: Any) -> None:
        """Write one entry; a private kind gets its random key, a record that this phone makes what it must have."""
        if (kind, record_id) not in self.made:
            self.made.add((kind, record_id))
            fields = REQUIRED.get(kind, {}) | fields
        private = {"k": secrets.token_hex(16)} if CATALOGUE.kinds[kind].privacy in ("leader", "medical") else {}
        self.write(kind, record_id, fields, g=site_id, **private)

    def sync(self) -> TestResponse:
        """Send every line again and pull what is new."""
        answer = self.client.post("/api/sync", data=self.body(cursor=self.cursor, **({"purges": True} if self.purges else {})))
        if answer.status_code == 200:
            self.cursor = answer.json["cursor"]
        return answer


def texts_pulled(answer: TestResponse) -> list[str]:
    """The lines of others that a sync brought."""
    return [line for _, _, _, line in answer.json["pull"] if line is not None]
