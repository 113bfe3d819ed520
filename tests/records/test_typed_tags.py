"""Whether a tag that somebody types is one of ours, judged from the tag and from those that are here."""

from __future__ import annotations

import pytest

from fieldlog.records.tags import tag_for

pytestmark = pytest.mark.browser

OURS = [{"tag": tag_for("A", slot), "tag_made_here": True} for slot in range(1, 5)]
OWN = [{"tag": f"A{number}", "tag_made_here": False} for number in range(101, 106)]
OLDER = [{"tag": f"A{number}", "tag_made_here": None} for number in range(101, 121)]
"""Twenty tags in a row that stand on the concrete, of apps that did not say so: by chance two end in our digit."""
RIGHT = tag_for("A", 30)
WRONG = f"A30{int(RIGHT[-1]) ^ 1}"

CASES = [
    (RIGHT, [], True), (RIGHT, OWN, True), (WRONG, OURS, True), (WRONG.lower(), OURS, True), (WRONG, OURS + [{"tag": "17"}] * 20, True),
    (WRONG, [], False), (WRONG, OWN, False), (WRONG, OLDER, False), (WRONG, OURS + OWN, False), (WRONG, [{"tag": None}], False),
    ("17", OURS, False), ("A-3", OURS, False), ("", OURS, False), ("North 4", OURS, False),
]  # fmt: skip


def test_a_tag_is_ours_where_its_digit_is_right_or_where_most_here_have_one(modules_page) -> None:
    taken = modules_page.evaluate(
        "async (cases) => { const { isTakenForOurs } = await import('/records/tags.js'); return cases.map(([tag, units]) => isTakenForOurs(tag, units)); }",
        [[tag, units] for tag, units, _ in CASES],
    )
    assert [(tag, ours) for (tag, _, _), ours in zip(CASES, taken, strict=True)] == [(tag, expected) for tag, _, expected in CASES]
