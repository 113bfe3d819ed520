"""Whoever has no time out is told of, whatever the day, until a time or a reason is given."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from fieldlog.flags.reading import list_flags, packed_flags
from fieldlog.flags.signed_out import not_signed_out
from tests.flags.shore import SITE, Shore
from tests.sync.lines import record_id

IN = datetime(2026, 11, 26, 19, 4, tzinfo=UTC)
IN_AT = "2026-11-26T19:04:00.000Z"
NEXT_DAY = IN + timedelta(hours=25)
KENJI = record_id("Kenji")


def told(shore: Shore, now: datetime) -> list[str]:
    return [flag["sentence"] for flag in list_flags(shore.db, SITE, now) if flag["rule"] == "not_signed_out"]


def came(shore: Shore, **more: object) -> str:
    shore.write("person", KENJI, display_name="Kenji Rourke")
    return shore.write("sign_in", person_id=KENJI, in_at=IN_AT, **more)


def test_who_has_no_time_out_is_told_of_with_name_and_local_time(shore: Shore) -> None:
    came(shore)
    assert told(shore, NEXT_DAY) == [
        "Kenji Rourke: not signed out. In since Nov 26, 2026, 14:04. Ask, then give a time or a reason under People."
    ]
    assert told(shore, NEXT_DAY + timedelta(days=300)) == told(shore, NEXT_DAY)


@pytest.mark.parametrize(("hours", "count"), [(15.99, 0), (16, 1)], ids=["still of this tide", "of an earlier one"])
def test_from_sixteen_hours_on(shore: Shore, hours: float, count: int) -> None:
    came(shore)
    assert len(told(shore, IN + timedelta(hours=hours))) == count


@pytest.mark.parametrize("said", [{"out_at": "2026-11-26T22:00:00.000Z"}, {"no_out_reason": "Stays for the night watch"}, {"_deleted": True}], ids=["a time", "a reason", "removed"])
def test_a_time_or_a_reason_ends_it(shore: Shore, said: dict[str, object]) -> None:
    sign_in = came(shore)
    shore.write("sign_in", sign_in, **said)
    assert told(shore, NEXT_DAY) == []


def test_a_reason_that_says_nothing_and_a_person_not_here_yet_are_told(shore: Shore) -> None:
    shore.write("sign_in", person_id=record_id("nobody yet"), in_at=IN_AT, no_out_reason="")
    (said,) = told(shore, NEXT_DAY)
    assert said.startswith("No name yet: not signed out.")


def test_it_is_raised_at_the_end_of_the_tide_and_travels_in_no_pack(shore: Shore) -> None:
    came(shore)
    found = not_signed_out("s", "Kenji Rourke", IN_AT, None, NEXT_DAY)
    assert found is not None
    assert (found.raised_at, found.severity) == ("2026-11-27T11:04:00.000Z", "act")
    assert "not_signed_out" not in {flag["rule"] for flag in packed_flags(shore.db, SITE, NEXT_DAY)["flags"]}


def test_who_comes_again_on_a_phone_that_has_not_heard_of_the_time_out_is_still_out(shore: Shore) -> None:
    """Both phones name the turn alike; the second one says with the time in that there is none out."""
    turn = came(shore, out_at=None, no_out_reason=None)
    shore.write("sign_in", turn, out_at="2026-11-26T19:30:00.000Z")
    again = {"person_id": KENJI, "in_at": "2026-11-26T19:50:00.000Z", "out_at": None, "no_out_reason": None}
    shore.write("sign_in", turn, bases={}, **again)
    assert len(told(shore, NEXT_DAY)) == 1


@pytest.mark.parametrize("bases", [{}, None], ids=["that had not heard of it", "that had"])
@pytest.mark.parametrize("ended", [{"out_at": "2026-11-26T19:30:00.000Z"}, {"no_out_reason": "Went home with the van"}], ids=["a time", "a reason"])
def test_who_comes_again_on_an_app_that_says_nothing_of_the_time_out_is_still_out(shore: Shore, ended: dict[str, object], bases: dict[str, list[str]] | None) -> None:
    """Apps of 0.2.0 write the new time in alone, under the name of the turn that another phone has ended."""
    turn = came(shore)
    shore.write("sign_in", turn, **ended)
    shore.write("sign_in", turn, bases=bases, person_id=KENJI, in_at="2026-11-26T19:50:00.000Z")
    assert len(told(shore, NEXT_DAY)) == 1
    shore.write("sign_in", turn, out_at="2026-11-26T19:40:00.000Z")
    assert told(shore, NEXT_DAY) == [], "whoever writes a time out after that has the last word"


def test_a_time_in_that_is_corrected_brings_nobody_back(shore: Shore) -> None:
    turn = came(shore)
    shore.write("sign_in", turn, out_at="2026-11-26T22:00:00.000Z")
    shore.write("sign_in", turn, in_at="2026-11-26T19:50:00.000Z")
    assert told(shore, NEXT_DAY) == []


def test_who_was_signed_in_late_is_told_of_when_the_visit_is_over_and_not_hours_after_its_alarm(shore: Shore) -> None:
    visit = shore.write("visit", record_id("night"), purpose="monitoring", started_at="2026-11-26T16:34:00.000Z")
    shore.write("person", KENJI, display_name="Kenji Rourke")
    shore.write("sign_in", person_id=KENJI, in_at=IN_AT, visit=visit)
    begun = datetime(2026, 11, 26, 16, 34, tzinfo=UTC)
    assert told(shore, begun + timedelta(hours=15.99)) == []
    assert len(told(shore, begun + timedelta(hours=16))) == 1
