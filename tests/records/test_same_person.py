"""One person with a record at each site: who is the same, who is not at a site yet, and the hours together."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

PEOPLE = [
    {"record_id": "ines a", "site_id": "a"}, {"record_id": "mei a", "site_id": "a"}, {"record_id": "tobias b", "site_id": "b"},
    {"record_id": "ines b", "site_id": "b", "same_as": "ines a"}, {"record_id": "ines c", "site_id": "c", "same_as": "ines b"},
    # Two leads said it both ways round; somebody is of the whole programme; one points at a record that is not here.
    {"record_id": "lev b", "site_id": "b", "same_as": "lev c"}, {"record_id": "lev c", "site_id": "c", "same_as": "lev b"},
    {"record_id": "olu", "site_id": None}, {"record_id": "sam b", "site_id": "b", "same_as": "gone"},
]  # fmt: skip


@pytest.fixture
def ask(modules_page):
    return lambda call, *given: modules_page.evaluate(f"async (given) => {{ const same = await import('/records/same-person.js'); return {call}; }}", given)


def ids(people: list[dict]) -> list[str]:
    return [person["record_id"] for person in people]


def test_records_of_one_person_are_found_from_each_of_them(ask) -> None:
    for one in ("ines a", "ines b", "ines c"):
        assert ids(ask("same.recordsOf(...given)", PEOPLE, one)) == ["ines a", "ines b", "ines c"]
    assert ids(ask("same.recordsOf(...given)", PEOPLE, "lev b")) == ["lev b", "lev c"]
    assert ids(ask("same.recordsOf(...given)", PEOPLE, "sam b")) == ["sam b"]
    assert ask("same.recordsOf(...given)", PEOPLE, "nobody") == []


def test_who_is_not_at_a_site_yet_is_offered_once(ask) -> None:
    assert ids(ask("same.notAt(...given)", PEOPLE, "a")) == ["tobias b", "lev b", "sam b"]
    assert ids(ask("same.notAt(...given)", PEOPLE, "c")) == ["mei a", "tobias b", "sam b"]


def test_hours_sum_what_has_an_end(modules_page) -> None:
    at = "2026-11-25T{}:00.000Z".format
    signed = [
        {"in_at": at("06:00"), "out_at": at("08:30")}, {"in_at": at("23:00"), "out_at": "2026-11-26T01:00:00.000Z"},
        {"in_at": at("09:00")}, {"in_at": at("09:00"), "out_at": at("08:00")},
    ]  # fmt: skip
    time = modules_page.evaluate("async (given) => (await import('/records/hours.js')).timeOf(given)", signed)
    assert time == {"minutes": 4.5 * 60, "count": 4}
