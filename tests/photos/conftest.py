"""A crew's phone on the first of two sites, and what makes the copies of its photos."""

from __future__ import annotations

import pytest

from a_phone import Phone
from fieldlog.sync.photo_copies import PhotoCopies
from tests.photos.sending import SITE_1, SITE_2


@pytest.fixture
def copies(app) -> PhotoCopies:
    return app.extensions["photo_copies"]


@pytest.fixture
def crew(client_of, now) -> Phone:
    """A crew phone on the first of two sites."""
    now_ms = int(now().timestamp() * 1000)
    lead = Phone(client_of("lead"), now_ms)
    for site_id in (SITE_1, SITE_2):
        lead.note("site", site_id, site_id, name="Alder Spit")
    lead.sync()
    return Phone(client_of("crew", SITE_1), now_ms)
