"""Which records are of one person: `same_as`, followed both ways, as the phone has it (static/records/same-person.js)."""

from __future__ import annotations

from collections.abc import Iterable


def roots_of(people: Iterable[tuple[str, str | None]]) -> dict[str, str]:
    """
    The one record that stands for each person.

    Args:
        people: (record id, the record that it is the same person as).

    Returns:
        {record id: the id of the record that its chain ends at}; a ring of them ends at one of its own, a chain that leaves what is on
        record at the first of its own.
    """
    towards: dict[str, str] = {}

    def root_of(record_id: str) -> str:
        while record_id in towards:
            record_id = towards[record_id]
        return record_id

    ids = []
    for record_id, same_as in people:
        ids.append(record_id)
        here, there = root_of(record_id), same_as and root_of(same_as)
        if there and there != here:
            towards[here] = there
    ends = {record_id: root_of(record_id) for record_id in ids}
    stands = {end: end for end in ends.values() if end in ends}
    return {record_id: stands.setdefault(end, record_id) for record_id, end in ends.items()}
