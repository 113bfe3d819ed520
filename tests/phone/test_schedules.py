"""
Two hundred recorded storms play through the phone in the browser.

The server's side is what `receive` answered when record_schedules.py ran; the model's phone is the standard: the same
bytes asked, the same states after each answer, the same records at the end.
"""

from __future__ import annotations

import pytest

SCHEDULES = 200
CHUNK = 50

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("first", [0, CHUNK, *(pytest.param(first, marks=pytest.mark.long) for first in range(2 * CHUNK, SCHEDULES, CHUNK))])
def test_the_phone_asks_keeps_and_shows_what_the_model_does(bench, first: int) -> None:
    told = bench.evaluate(
        "async ([first, end]) => (await import('/test/player.js')).playAll(first, end)", [first, first + CHUNK]
    )
    assert told == []
