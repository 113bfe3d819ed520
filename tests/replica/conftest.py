"""The same small programme as in the tests of backups, and a folder as its replica."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldlog.replica.checking import set_replica
from fieldlog.store import Programme
from tests.backup.conftest import call, full, phone, refused

__all__ = ["call", "full", "phone", "place", "refused"]


@pytest.fixture
def place(full: Programme, tmp_path: Path) -> Path:
    """A folder that is the programme's replica from now on."""
    set_replica(full, str(tmp_path / "other disk"))
    return tmp_path / "other disk"
