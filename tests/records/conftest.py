"""The page that tests of records import the phone's modules in."""

from __future__ import annotations

import pytest


@pytest.fixture
def page(modules_page):
    return modules_page
