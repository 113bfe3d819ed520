"""The shore that tests of flags stand on."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme
from tests.flags.shore import Shore
from tests.sync.lines import START_MS


@pytest.fixture
def shore(tmp_path: Path) -> Shore:
    create_programme(tmp_path / "programme", "Skein Bay").close()
    made = Shore(open_programme(tmp_path / "programme", CATALOGUE, START_MS).db())
    made.set_up()
    return made
