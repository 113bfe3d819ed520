"""A length on the phone is written by the rule of every sentence: halves go up, and nought has no sign."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

CASES = [(-0.001, False, "0.00 m"), (0.125, False, "0.13 m"), (-0.35, False, "\u22120.35 m"), (-0.01, True, "0.0 ft"), (0.3048, True, "1.0 ft"), (None, True, "not known")]


def test_a_length_has_no_signed_nought_and_halves_go_up(modules_page) -> None:
    asked = "async (cases) => { const { length } = await import('/views/words.js'); return cases.map(([m, feet]) => length(m, feet)); }"
    assert modules_page.evaluate(asked, [case[:2] for case in CASES]) == [case[2] for case in CASES]
