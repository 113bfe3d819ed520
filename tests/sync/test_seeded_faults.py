"""The faults planted for the storms name code that is there; one that cannot be planted says nothing."""

from __future__ import annotations

import pytest

from seeded_faults import FAULTS, ROOT


@pytest.mark.parametrize(("name", "changes"), FAULTS, ids=[name for name, _changes in FAULTS])
def test_a_fault_can_be_planted(name: str, changes: list[tuple[str, str, str]]) -> None:
    for file, right, wrong in changes:
        assert right in (ROOT / file).read_text(), f"{name}: {file} no longer holds {right!r}"
        assert wrong != right
