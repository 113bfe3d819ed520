"""The cases worked by hand, which Python and the phone both compute."""

import json
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def window_vectors() -> dict:
    return json.loads((Path(__file__).parents[1] / "vectors" / "windows_cases.json").read_text())
