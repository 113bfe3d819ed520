"""The flags that travel to a phone: those of its site, the gravest and newest, as many as it can show, and how many there are."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from fieldlog.flags.reading import OPEN_MOST, SETTLED_DAYS, SETTLED_MOST, list_flags, packed_flags, words_of
from fieldlog.flags.signed_out import NOT_SIGNED_OUT
from tests.flags.shore import SITE, UNIT, Shore
from tests.sync.lines import record_id

OTHER_SITE = record_id("Heron Bar")
NOW = datetime(2026, 6, 20, 12, 0, tzinfo=UTC)
"""Nothing is overdue yet: the units were placed on the first of the month, or never."""


def put(shore: Shore, name: str, site: str | None = SITE, state: str = "open", severity: str = "look", raised: str = "2026-06-10T10:00:00.000Z", settled: str | None = None, subject: tuple[str, str] | None = None) -> None:
    kind, of = subject or ("unit_check", name)
    shore.db.conn.execute(
        "INSERT INTO flag VALUES (?, 'leaning', ?, ?, ?, ?, ?, '{}', ?, 'r', ?, ?, NULL, NULL)",
        (name, severity, kind, of, site, f"{name}.", raised, state, settled),
    )


def packed(shore: Shore, site: str = SITE) -> tuple[list[str], dict[str, int]]:
    told = packed_flags(shore.db, site, NOW)
    return [flag["flag_id"] for flag in told["flags"]], told["flag_counts"]


def test_a_phone_gets_the_flags_of_its_site_and_their_numbers(shore: Shore) -> None:
    put(shore, "ours")
    put(shore, "theirs", OTHER_SITE)
    put(shore, "theirs settled", OTHER_SITE, "settled", settled="2026-06-19T10:00:00.000Z")
    put(shore, "nobody's", None)
    assert packed(shore) == (["ours"], {"open": 1, "settled": 0})
    assert packed(shore, OTHER_SITE) == (["theirs", "theirs settled"], {"open": 1, "settled": 1})


def test_a_flag_of_the_site_record_itself_counts_wherever_it_was_written(shore: Shore) -> None:
    put(shore, "of the site", None, subject=("site", SITE))
    put(shore, "of the site, settled", OTHER_SITE, "settled", settled="2026-06-19T10:00:00.000Z", subject=("site", SITE))
    put(shore, "of the site, of old", None, "settled", settled="2026-01-19T10:00:00.000Z", subject=("site", SITE))
    put(shore, "of another", None, subject=("site", OTHER_SITE))
    assert packed(shore) == (["of the site", "of the site, settled"], {"open": 1, "settled": 1})


def test_the_list_of_a_site_has_the_flags_of_its_own_record_and_of_no_other_sites(shore: Shore) -> None:
    put(shore, "of the site", None, subject=("site", SITE))
    put(shore, "of another", None, subject=("site", OTHER_SITE))
    put(shore, "nobody's check", None)
    assert [flag["flag_id"] for flag in list_flags(shore.db, SITE, NOW)] == ["of the site"]
    assert [flag["flag_id"] for flag in list_flags(shore.db, OTHER_SITE, NOW)] == ["of another"]


def test_what_was_settled_last_comes_first_whether_it_is_of_the_site_itself_or_at_it(shore: Shore) -> None:
    for day, of_site in ((12, True), (13, False), (15, True), (16, False)):
        subject = ("site", SITE) if of_site else None
        put(shore, f"settled on {day}", None if of_site else SITE, "settled", settled=f"2026-06-{day}T10:00:00.000Z", subject=subject)
    assert packed(shore) == (["settled on 16", "settled on 15", "settled on 13", "settled on 12"], {"open": 0, "settled": 4})


def test_the_gravest_come_first_then_the_newest_and_reopened_ones_are_open(shore: Shore) -> None:
    put(shore, "look, new", raised="2026-06-12T10:00:00.000Z")
    put(shore, "act, old", severity="act", raised="2026-06-02T10:00:00.000Z")
    put(shore, "act, reopened", state="reopened", severity="act", raised="2026-06-05T10:00:00.000Z", settled="2026-06-06T10:00:00.000Z")
    put(shore, "look, old", raised="2026-06-03T10:00:00.000Z")
    put(shore, "settled", state="settled", settled="2026-06-15T10:00:00.000Z")
    put(shore, "accepted", state="accepted", settled="2026-06-16T10:00:00.000Z")
    assert packed(shore) == (
        ["act, reopened", "act, old", "look, new", "look, old", "accepted", "settled"], {"open": 4, "settled": 2},
    )  # fmt: skip


@pytest.mark.parametrize(("ago", "given"), [(timedelta(days=SETTLED_DAYS), True), (timedelta(days=SETTLED_DAYS, seconds=1), False)])
def test_what_was_settled_thirty_days_ago_is_still_given(shore: Shore, ago: timedelta, given: bool) -> None:
    put(shore, "settled", state="settled", settled=f"{NOW - ago:%Y-%m-%dT%H:%M:%SZ}")
    assert packed(shore) == (["settled"] if given else [], {"open": 0, "settled": int(given)})


def test_no_more_are_given_than_a_phone_shows_and_all_are_counted(shore: Shore) -> None:
    for n in range(OPEN_MOST + 5):
        put(shore, f"open {n:03d}", severity="act" if n == 3 else "look", raised=f"2026-06-10T{n // 60:02d}:{n % 60:02d}:00Z")
    for n in range(SETTLED_MOST + 3):
        put(shore, f"settled {n:03d}", state="settled", settled=f"2026-06-11T{n // 60:02d}:{n % 60:02d}:00Z")
    found, counts = packed(shore)
    assert counts == {"open": 205, "settled": 103}
    assert len(found) == 300
    assert found[:2] == ["open 003", "open 204"]
    assert found[199:201] == ["open 006", "settled 102"]
    assert found[-1] == "settled 003"


def test_what_is_overdue_today_is_counted_with_the_open_ones(shore: Shore) -> None:
    told = packed_flags(shore.db, SITE, datetime(2026, 9, 2, tzinfo=UTC))
    assert [(flag["rule"], flag["subject"]["id"]) for flag in told["flags"]] == [("overdue", UNIT)]
    assert told["flag_counts"] == {"open": 1, "settled": 0}


def test_what_becomes_overdue_within_the_day_travels_with_its_moment_and_is_not_open_before(shore: Shore) -> None:
    shore.check("2026-06-20T10:00:30.000Z", found_state="seen")
    day = datetime(2026, 8, 19, tzinfo=UTC)
    told = packed_flags(shore.db, SITE, day)
    assert (told["flags"], told["flag_counts"], told["due_at"]) == ([], {"open": 0, "settled": 0}, ["2026-08-19T10:00:30.000Z"])
    (flag,) = told["due_today"]
    assert (flag["rule"], flag["raised_at"], flag["evidence"]["days"]) == ("overdue", "2026-08-19T10:00:30.000Z", 60)
    assert "60 days ago" in flag["sentence"]
    assert packed_flags(shore.db, SITE, day - timedelta(days=1)) == {
        "flags": [], "flag_counts": {"open": 0, "settled": 0}, "due_today": [], "due_at": [], "not_signed_out": words_of(NOT_SIGNED_OUT),
    }  # fmt: skip
    later = packed_flags(shore.db, SITE, day + timedelta(days=1))
    assert ([one["flag_id"] for one in later["flags"]], later["due_today"]) == ([flag["flag_id"]], [])
    assert (later["flag_counts"], later["due_at"]) == ({"open": 1, "settled": 0}, [])


def test_a_removed_mark_places_nothing_and_half_a_coordinate_neither(shore: Shore) -> None:
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0)
    shore.tapes("2026-07-01T10:00:00.000Z", 12.6, 15.0)
    assert shore.flag("displaced")["evidence"]["displacement_m"] == pytest.approx(0.6, abs=0.002)
    for label in ("M1", "M2"):
        shore.write("control_mark", record_id(label), _deleted=True)
    assert shore.flags("displaced") == [], "one tape is no place"
    shore.db.execute("UPDATE position_fix SET north_m = NULL WHERE method = 'typed'")  # as an older server took it
    shore.typed("2026-07-02T10:00:00.000Z", 12.6, 15.0)
    assert shore.flags("displaced") == [], "half a place is none to compare with"


def test_half_a_planned_place_decides_between_no_two(shore: Shore) -> None:
    """Two tapes meet twice; without a whole planned place the one to the left of their base line counts, north of it."""
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0)
    shore.db.execute("UPDATE unit SET planned_north_m = NULL")  # as an older server took it
    reach = {f"range_{n}_m": round(((12.5 - east_m) ** 2 + 15.0**2) ** 0.5, 3) for n, east_m in ((1, 0.0), (2, 24.0))}
    marks = {"mark_1_id": record_id("M1"), "mark_2_id": record_id("M2")}
    shore.write("position_fix", of_kind="unit", of_id=UNIT, fixed_at="2026-07-01T10:00:00.000Z", method="tapes", tape_sigma_m=0.03, **marks, **reach)
    flag = shore.flag("measure_again")
    assert flag["evidence"]["displacement_m"] == pytest.approx(0.5, abs=0.002)
    assert flag["sentence"].endswith("two places fit two tapes. Measure again, with a tape from a third mark.")
    assert shore.flags("displaced") == [], "which of two places it is nobody knows"
