"""The programme that the bench writes is one that phones could have sent."""

from __future__ import annotations

from pathlib import Path

from tests.bench.sample import rows_that_differ
from tests.bench.story import Shape

SMALL = Shape(sites=2, units=20, months=16, sightings=6, odd_share=0.03, held_share=0.02)


def test_tables_written_directly_equal_those_that_the_server_makes_of_the_same_lines(tmp_path: Path) -> None:
    told = rows_that_differ(tmp_path, SMALL)
    assert told.entries > 1500
    assert told.held > 5
    assert told.flags > 30
    assert told.differing == {}
