"""Sheets beside the demo's programme, whose rows, units and people are known."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from fieldlog.store import Programme
from tests.imports.sheets import Sheet


@pytest.fixture(scope="session")
def demo(demo_folder: Path) -> Iterator[Programme]:
    """The demo's own folder, which these tests only read."""
    opened = Programme(demo_folder)
    yield opened
    opened.close()


@pytest.fixture
def site_id(demo: Programme) -> str:
    return str(demo.db().conn.execute("SELECT record_id FROM site").fetchone()[0])


@pytest.fixture
def sheet(demo: Programme, site_id: str, tmp_path: Path) -> Callable[..., Sheet]:
    def of(data: bytes | str, **said: Any) -> Sheet:
        return Sheet(demo, tmp_path, data, site_id, **said)

    return of
