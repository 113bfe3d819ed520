"""Initials are the same wherever a name becomes them: where a person is forgotten, and where one leaves at a season's end."""

from __future__ import annotations

from typing import Any

import pytest

from fieldlog.purging.initials import initials_of

NAMES = {
    "Ruth Okafor-Lind": "R. O. L.", "Ana": "A.", "émile  o'Neil": "É. O.", "Ada B. C. Quill": "A. B. Q.", "(Pat) 2 Quill": "P. Q.", "  ": "N. N.", "…": "N. N.",
}  # fmt: skip
BOTH = "async (names) => { const { initialsOf } = await import('/online/closing-people.js'); return names.map(initialsOf); }"


@pytest.mark.browser
def test_both_sides_make_the_same_initials(modules_page: Any) -> None:
    assert {name: initials_of(name) for name in NAMES} == NAMES
    assert modules_page.evaluate(BOTH, list(NAMES)) == list(NAMES.values())
