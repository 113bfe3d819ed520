"""The ledger: no minute twice, nothing counted silently, no hour on two awards, people told apart by record."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from fieldlog.hours.ledger import Given, Ledger, ledger_of
from fieldlog.hours.persons import roots_of
from fieldlog.hours.sums import hours, sums_by, total_of
from fieldlog.hours.worth import Rates, value_of
from fieldlog.rounding import product

SITE = "site"


def person(name: str, **more: Any) -> dict[str, Any]:
    return {"record_id": name, "site_id": SITE, "same_as": None, "role": "volunteer", **more}


def sign_in(name: str, who: str, in_at: str | None, out_at: str | None, **more: Any) -> dict[str, Any]:
    whole = {"record_id": name, "site_id": SITE, "visit_id": None, "person_id": who, "sign_in_role": None, "task": None, "no_out_reason": None, "time_known": None}
    return {**whole, "in_at": in_at and f"2026-{in_at}:00.000Z", "out_at": out_at and f"2026-{out_at}:00.000Z", **more}


def award(name: str, **more: Any) -> dict[str, Any]:
    return {"record_id": name, "site_id": SITE, "name": name, "award_number": None, "funder": None, "federal": None, "from_day": None, "to_day": None, **more}


def counted_to(award_id: str, **more: Any) -> dict[str, Any]:
    empty = dict.fromkeys(("of_visit_id", "person_id", "task", "from_day", "to_day", "of_kind", "of_id"))
    return {"record_id": f"to {award_id}", "site_id": SITE, "award_id": award_id, **empty, **more}


def signing(who: str, signed_h: float, from_day: str = "2026-06-01", to_day: str = "2026-06-30", **more: Any) -> dict[str, Any]:
    return {"record_id": f"signed {who}", "site_id": SITE, "person_id": who, "from_day": from_day, "to_day": to_day, "signed_h": signed_h, "signed_mi": None, **more}


def made(*sign_ins: dict[str, Any], people: list[dict[str, Any]] | None = None, **more: Any) -> Ledger:
    return ledger_of(Given(people or [person("ines"), person("olu")], list(sign_ins), zones={SITE: "America/New_York", "other": "Europe/Oslo"}, **more))


def words(ledger: Ledger) -> list[tuple[str, str, str | None, int]]:
    return [(remark.word, remark.record_id, remark.other_id, remark.minutes) for remark in ledger.remarks]


def test_twelve_of_three_and_a_half_hours_and_seven_of_two_and_a_quarter() -> None:
    """Worked by hand: 12 x 3.50 = 42.00, 7 x 2.25 = 15.75, together 57.75 h; 57.75 x 34.79 = 2009.1225."""
    people = [person(f"p{number}") for number in range(19)]
    long = [sign_in(f"a{number}", f"p{number}", "06-14T13:00", "06-14T16:30") for number in range(12)]
    short = [sign_in(f"b{number}", f"p{number}", "06-14T13:00", "06-14T15:15") for number in range(12, 19)]
    total = total_of(made(*long, *short, people=people).lines)
    assert (hours(total.minutes), total.sign_ins) == (57.75, 19)
    assert f"{value_of(hours(total.minutes), 34.79):,}" == "2,009.12"


@pytest.mark.parametrize(("one", "other", "said"), [(3.5, 34.79, "121.77"), (57.75, 34.79, "2009.12"), (42, 0.14, "5.88"), (12.5, 33.49, "418.63"), (0, 34.79, "0.00")])
def test_money_is_rounded_as_on_paper(one: float, other: float, said: str) -> None:
    """Halves go up, by decimal digits: 3.5 x 34.79 is 121.765, which a binary number is just below."""
    assert product(one, other, 2) == said


def test_what_has_no_length_is_listed_with_why_and_in_no_sum() -> None:
    ledger = made(
        sign_in("counts", "ines", "06-14T13:05", "06-14T16:50"), sign_in("open", "olu", "06-14T13:05", None),
        sign_in("reason", "olu", "06-15T13:05", None, no_out_reason="Night watch"), sign_in("backwards", "olu", "06-16T13:05", "06-16T12:00"),
        sign_in("day", "olu", "06-17T16:00", "06-17T16:00", time_known=0), sign_in("mistake", "olu", "06-18T13:05", "06-18T14:05", no_out_reason="Signed in by mistake"),
    )  # fmt: skip
    assert [(remark.word, remark.record_id) for remark in ledger.uncounted] == [("open", "open"), ("no-out", "reason"), ("out-first", "backwards"), ("day-alone", "day")]
    assert total_of(ledger.lines).minutes == 225
    assert ledger.sign_in_count == 5, "the mistaken one is none"


def test_the_same_person_on_two_phones_counts_once_and_both_are_named() -> None:
    ledger = made(sign_in("a", "ines", "06-14T13:00", "06-14T16:00"), sign_in("b", "ines", "06-14T13:10", "06-14T16:30"))
    assert total_of(ledger.lines).minutes == 210
    assert words(ledger) == [("overlap", "b", "a", 170)]


def test_in_on_two_phones_and_out_on_one_is_counted_once_and_asked_about() -> None:
    ledger = made(sign_in("a", "ines", "06-14T13:00", "06-14T16:00"), sign_in("b", "ines", "06-14T13:10", None), sign_in("c", "olu", "06-14T13:10", None))
    assert total_of(ledger.lines).minutes == 180
    assert [(remark.word, remark.record_id, remark.other_id) for remark in ledger.uncounted] == [("out-elsewhere", "b", "a"), ("open", "c", None)]


def test_two_people_of_one_name_are_two_people() -> None:
    """The ledger knows no names: what overlaps here are two people."""
    people = [person("ines 1", display_name="Ines"), person("ines 2", display_name="Ines")]
    ledger = made(sign_in("a", "ines 1", "06-14T13:00", "06-14T16:00"), sign_in("b", "ines 2", "06-14T13:00", "06-14T16:00"), people=people)
    assert {who: total.minutes for who, total in sums_by(ledger.lines, lambda line: line.person).items()} == {"ines 1": 180, "ines 2": 180}
    assert ledger.remarks == []


def test_one_persons_records_at_several_sites_are_summed_and_overlap_once() -> None:
    people = [person("here"), person("there", site_id="other", same_as="here"), person("third", site_id="x", same_as="there")]
    ledger = made(sign_in("a", "here", "06-14T13:00", "06-14T16:00"), sign_in("b", "there", "06-14T15:00", "06-14T17:00", site_id="other"), people=people)
    assert {who: total.minutes for who, total in sums_by(ledger.lines, lambda line: line.person).items()} == {"here": 240}
    assert words(ledger) == [("overlap", "b", "a", 60)]
    assert set(ledger.people.values()) == {"here"}


def test_records_of_one_person_stand_together_whichever_way_round_it_was_said() -> None:
    """As tests/records/test_same_person.py has it of the phone: a chain, a ring, one that points at a record which is not here."""
    said = [("ines a", None), ("ines b", "ines a"), ("ines c", "ines b"), ("lev b", "lev c"), ("lev c", "lev b"), ("olu", None), ("sam b", "gone")]
    roots = roots_of(said)
    together: dict[str, set[str]] = {}
    for record, root in roots.items():
        together.setdefault(root, set()).add(record)
    assert sorted(map(sorted, together.values())) == [["ines a", "ines b", "ines c"], ["lev b", "lev c"], ["olu"], ["sam b"]]
    assert set(together) <= set(roots), "each is named by a record that is here"


def test_a_night_over_the_end_of_a_month_is_parted_at_the_sites_midnight() -> None:
    """New York's clocks go back at 06:00 UTC: 23:00 to 07:00 are nine hours, one of them in October."""
    lines = made(sign_in("a", "ines", "11-01T03:00", "11-01T12:00")).lines
    by_month = sums_by(lines, lambda line: (line.day.year, line.day.month))
    assert {month: total.minutes for month, total in by_month.items()} == {(2026, 10): 60, (2026, 11): 480}
    assert total_of(lines).sign_ins == 1


def test_a_turn_of_more_than_sixteen_hours_counts_and_is_looked_at() -> None:
    ledger = made(sign_in("a", "ines", "06-14T13:00", "06-15T06:00"))
    assert (total_of(ledger.lines).minutes, words(ledger)) == (17 * 60, [("long", "a", None, 17 * 60)])


def test_preparation_hours_and_miles_are_lines_of_their_day() -> None:
    ledger = made(
        preparations=[{"record_id": "p", "site_id": SITE, "person_id": "ines", "worked_on": "2026-06-13", "spent_h": 1.25, "preparation_role": None, "task": "casting"}],
        mileages=[{"record_id": "m", "site_id": SITE, "person_id": "ines", "driven_on": "2026-06-13", "driven_mi": 42}, {"record_id": "empty", "site_id": SITE, "person_id": "ines", "driven_on": None, "driven_mi": 3}],
    )  # fmt: skip
    total = total_of(ledger.lines)
    assert (total.minutes, total.miles, total.sign_ins) == (75, 42.0, 0)
    assert {line.day for line in ledger.lines} == {date(2026, 6, 13)}


AWARDS = [award("spring", from_day="2026-01-01", to_day="2026-06-30"), award("reef")]


def awards_of(*said: dict[str, Any], **more: Any) -> tuple[dict[str, tuple[str, ...]], list[str]]:
    ledger = made(
        sign_in("a", "ines", "06-14T13:00", "06-14T16:00", task="placing", visit_id="v2"), sign_in("b", "olu", "07-14T13:00", "07-14T16:00", task="casting"),
        visits={"v1": "v1", "v2": "v1"}, awards=AWARDS, award_hours=list(said), **more,
    )  # fmt: skip
    return {line.record_id: line.awards for line in ledger.lines}, [remark.record_id for remark in ledger.remarks]


def test_hours_go_to_an_award_by_visit_by_person_by_task_or_by_days() -> None:
    assert awards_of(counted_to("reef", of_visit_id="v1"))[0] == {"a": ("reef",), "b": ()}, "a visit that was joined to it too"
    assert awards_of(counted_to("reef", person_id="olu"))[0] == {"a": (), "b": ("reef",)}
    assert awards_of(counted_to("reef", task="placing"))[0] == {"a": ("reef",), "b": ()}
    assert awards_of(counted_to("reef", from_day="2026-07-01"))[0] == {"a": (), "b": ("reef",)}
    assert awards_of(counted_to("reef", person_id="olu", task="placing"))[0] == {"a": (), "b": ()}, "both must be true"
    assert awards_of(counted_to("reef"))[0] == {"a": (), "b": ()}, "one that says nothing claims nothing"


def test_an_award_takes_no_hour_before_its_first_day_or_after_its_last() -> None:
    assert awards_of(counted_to("spring", from_day="2026-01-01"))[0] == {"a": ("spring",), "b": ()}


def test_an_hour_that_two_awards_claim_is_shown_for_a_decision_which_one_record_gives() -> None:
    both = (counted_to("reef", task="placing"), counted_to("spring", person_id="ines"))
    assert awards_of(*both) == ({"a": ("reef", "spring"), "b": ()}, ["a"])
    assert awards_of(*both, counted_to("reef", of_kind="sign_in", of_id="a")) == ({"a": ("reef",), "b": ()}, [])


def test_an_award_of_another_site_binds_nothing_here() -> None:
    assert awards_of(counted_to("reef", person_id="olu", site_id="other"))[0] == {"a": (), "b": ()}


def test_hours_that_changed_after_they_were_signed_are_unsigned_again() -> None:
    june = sign_in("a", "ines", "06-14T13:00", "06-14T16:20")
    ledger = made(june, signings=[signing("ines", 3.33)])
    assert ([line.signed for line in ledger.lines], ledger.signings) == ([True], [])
    ledger = made(june, sign_in("late", "ines", "06-20T13:00", "06-20T14:00"), signings=[signing("ines", 3.33)])
    assert [line.signed for line in ledger.lines] == [False, False]
    assert [(word.signed_h, word.now_min) for word in ledger.signings] == [(3.33, 260)]
    again = [signing("ines", 3.33), signing("ines", 4.33, record_id="again")]
    ledger = made(june, sign_in("late", "ines", "06-20T13:00", "06-20T14:00"), signings=again)
    assert ([line.signed for line in ledger.lines], ledger.signings) == ([True, True], [])
    assert total_of(ledger.lines).unsigned_min == 0


def test_a_rate_of_the_task_goes_first_and_two_amounts_are_no_rate() -> None:
    def rate(name: str, amount: float, **more: Any) -> dict[str, Any]:
        return {"record_id": name, "site_id": SITE, "rate_year": 2026, "rate_per": "hour", "rate_role": None, "task": None, "amount": amount, "currency": "USD", **more}

    rates = Rates([rate("plain", 20.0), rate("role", 25.0, rate_role="volunteer"), rate("task", 30.0, task="casting"), rate("old", 9.0, rate_year=2025)])
    assert [[found["record_id"] for found in rates.of(SITE, "hour", 2026, role, task)] for role, task in (("leader", None), ("volunteer", None), ("volunteer", "casting"))] == [["plain"], ["role"], ["task"]]
    assert [found["record_id"] for found in rates.of(SITE, "hour", 2025, "leader", None)] == ["old"]
    assert (rates.of(SITE, "mile", 2026, None, None), rates.of("other", "hour", 2026, None, None)) == ([], [])
    assert [found["amount"] for found in Rates([rate("a", 20.0), rate("b", 21.0), rate("c", 20.0)]).of(SITE, "hour", 2026, None, None)] == [20.0, 21.0]
