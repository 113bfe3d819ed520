"""The OpenAPI document as a server gives it, for tests that ask the same of each of its operations."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from fieldlog import create_app
from fieldlog.store import create_programme


@cache
def service_document() -> dict[str, Any]:
    """Of an empty programme, which is gone again."""
    with TemporaryDirectory() as folder:
        create_programme(Path(folder) / "programme", "Skein Bay").close()
        app = create_app(Path(folder) / "programme", lambda: datetime(2026, 11, 25, 6, 0, tzinfo=UTC))
        told: dict[str, Any] = app.test_client().get("/api/openapi.json").json
        app.extensions["photo_copies"].close()
        app.extensions["programme"].close()
    return told
