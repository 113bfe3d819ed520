"""What one device may send in an hour, and that nothing is lost where it ends."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime

import pytest
from sqlite_utils import Database

from fieldlog import create_app
from fieldlog.access.budget import AN_HOUR, Budget, times_of
from fieldlog.access.devices import Device
from fieldlog.access.invitations import invite
from fieldlog.errors import OverBudget, TooLarge
from fieldlog.store import set_setting
from fieldlog.sync import admission

CREW = Device("a" * 32, "crew", None, None, False)
OTHER = Device("b" * 32, "crew", None, None, False)
LEAD = Device("c" * 32, "lead", None, None, False)
SMALL = {"bytes": 4_000, "lines": 100, "held lines": 20, "photo bytes": 1_000}


def body(lines: int) -> bytes:
    return b"{}\n" * (lines + 1)


def test_an_hour_holds_what_the_longest_day_brings():
    assert AN_HOUR["lines"] >= 20_000
    assert AN_HOUR["photo bytes"] >= 1024**3


def test_a_device_beyond_its_budget_waits_and_the_others_do_not(programme, now):
    budget = Budget(SMALL)
    budget.take_sync(programme.db(), CREW, body(100), now())
    with pytest.raises(OverBudget) as over:
        budget.take_sync(programme.db(), CREW, body(10), now())
    assert over.value.sentence == (
        "This phone sent more than 100 entries in an hour, the limit for one phone. Nothing is lost: the rest is sent in 6 min."
    )
    assert over.value.headers == {"Retry-After": "360"}
    budget.take_sync(programme.db(), OTHER, body(100), now())


def test_after_the_wait_it_goes_on(programme, now):
    budget = Budget(SMALL)
    budget.take_sync(programme.db(), CREW, body(100), now())
    now.forward(seconds=359)
    with pytest.raises(OverBudget):
        budget.take_sync(programme.db(), CREW, body(10), now())
    now.forward(seconds=1)
    budget.take_sync(programme.db(), CREW, body(10), now())


@pytest.mark.parametrize(("over", "wait_s", "words"), [(1, 1, "1 min"), (120, 60, "1 min"), (121, 61, "2 min")])
def test_the_wait_that_is_told_is_long_enough_and_no_second_longer(programme, now, over: int, wait_s: int, words: str):
    """7,200 entries an hour are two a second: half a second is told as a whole one, a second past a minute as two minutes."""
    budget = Budget({**SMALL, "bytes": 1_000_000, "lines": 7_200})
    budget.take_sync(programme.db(), CREW, body(7_200), now())
    with pytest.raises(OverBudget) as told:
        budget.take_sync(programme.db(), CREW, body(over), now())
    assert told.value.headers == {"Retry-After": str(wait_s)}
    assert told.value.sentence.endswith(f" the rest is sent in {words}.")
    now.forward(seconds=wait_s - 1)
    with pytest.raises(OverBudget):
        budget.take_sync(programme.db(), CREW, body(over), now())
    now.forward(seconds=1)
    budget.take_sync(programme.db(), CREW, body(over), now())


def test_what_was_refused_is_not_counted(programme, now):
    budget = Budget(SMALL)
    budget.take_sync(programme.db(), CREW, body(95), now())
    for _ in range(50):
        with pytest.raises(OverBudget):
            budget.take_sync(programme.db(), CREW, body(10), now())
    budget.take_sync(programme.db(), CREW, body(5), now())


def test_bytes_count_as_lines_do(programme, now):
    budget = Budget(SMALL)
    with pytest.raises(OverBudget, match="of entries"):
        budget.take_sync(programme.db(), CREW, b"x" * 4_001, now())


def test_held_lines_are_counted_one_by_one_and_stop_the_next_body(programme, now):
    budget = Budget(SMALL)
    may_hold = budget.take_sync(programme.db(), CREW, body(50), now())
    assert [may_hold() for _ in range(22)] == [True] * 20 + [False] * 2
    with pytest.raises(OverBudget) as over:
        budget.take_sync(programme.db(), CREW, body(1), now())
    assert over.value.sentence == (
        "This phone reached the limit of 20 held-back entries an hour. Nothing is lost: the rest is sent in 3 min."
    )
    assert over.value.headers == {"Retry-After": "180"}
    budget.take_sync(programme.db(), CREW, body(0), now())  # who only asks for what is new is told of it
    budget.take_sync(programme.db(), OTHER, body(1), now())
    now.forward(minutes=3)
    may_hold = budget.take_sync(programme.db(), CREW, body(1), now())
    assert [may_hold(), may_hold()] == [True, False]


def test_a_device_whose_held_lines_filled_its_hour_comes_again_for_some_and_not_for_each(programme, now):
    budget = Budget({**SMALL, "held lines": 1_000})
    may_hold = budget.take_sync(programme.db(), CREW, body(50), now())
    while may_hold():
        pass
    now.forward(seconds=35)
    with pytest.raises(OverBudget) as over:
        budget.take_sync(programme.db(), CREW, body(1), now())
    assert int(over.value.headers["Retry-After"]) <= 2
    now.forward(seconds=2)
    may_hold = budget.take_sync(programme.db(), CREW, body(1), now())
    assert [may_hold() for _ in range(12)] == [True] * 10 + [False] * 2


def test_a_lead_too_waits_for_a_hundredth_of_what_it_may_have_held(programme, now):
    """10,000 an hour: 100 are free again after 36 s."""
    budget = Budget({**SMALL, "held lines": 1_000})
    may_hold = budget.take_sync(programme.db(), LEAD, body(50), now())
    assert sum(may_hold() for _ in range(10_001)) == 10_000
    now.forward(seconds=35)
    with pytest.raises(OverBudget):
        budget.take_sync(programme.db(), LEAD, body(1), now())
    now.forward(seconds=1)
    budget.take_sync(programme.db(), LEAD, body(1), now())


def test_a_body_without_a_line_gives_nothing_back(programme, now):
    budget = Budget(SMALL)
    budget.take_sync(programme.db(), CREW, body(100), now())
    for _ in range(10):
        budget.take_sync(programme.db(), CREW, b"", now())
    with pytest.raises(OverBudget):
        budget.take_sync(programme.db(), CREW, body(1), now())


def test_a_clock_set_back_ends_no_wait_and_lengthens_none(programme, now):
    budget = Budget(SMALL)
    budget.take_sync(programme.db(), CREW, body(100), now())
    now.forward(days=-1)
    with pytest.raises(OverBudget) as over:
        budget.take_sync(programme.db(), CREW, body(10), now())
    assert over.value.headers == {"Retry-After": "360"}


def test_a_body_of_more_lines_than_any_hour_holds_is_too_large_so_that_the_phone_halves_it(programme, now):
    for device in (CREW, LEAD):
        with pytest.raises(TooLarge, match="101 entries"):
            Budget(SMALL).take_sync(programme.db(), device, body(101), now())


def spend_ten_hours(budget: Budget, db: Database, device: Device, at: datetime) -> None:
    """Ten times an hour's worth of each is taken, and no more."""
    for _ in range(10):
        may_hold = budget.take_sync(db, device, body(100), at)
        assert [may_hold() for _ in range(20)] == [True] * 20
        budget.take_photo(db, device, 1_000, at)
    assert not may_hold()
    with pytest.raises(OverBudget, match="1,000 entries"):
        budget.take_sync(db, device, body(1), at)
    with pytest.raises(OverBudget, match="of photos"):
        budget.take_photo(db, device, 1, at)


def test_a_lead_may_send_ten_times_as_much_for_what_it_brings_in_and_no_more(programme, now):
    budget = Budget(SMALL)
    spend_ten_hours(budget, programme.db(), LEAD, now())
    now.forward(minutes=6)
    budget.take_sync(programme.db(), LEAD, body(100), now())
    for doubted in (replace(LEAD, unconfirmed=True), replace(LEAD, device_id="d" * 32, revoked=True)):
        other = Budget(SMALL)
        other.take_sync(programme.db(), doubted, body(100), now())
        with pytest.raises(OverBudget):
            other.take_sync(programme.db(), doubted, body(10), now())


def test_for_a_week_after_a_restore_phones_send_again_what_they_have_within_ten_times_as_much(programme, now):
    budget = Budget(SMALL)
    set_setting(programme.db(), "restored_at", str(int(now().timestamp() * 1000)))
    spend_ten_hours(budget, programme.db(), CREW, now())
    now.forward(days=7)
    budget.take_sync(programme.db(), CREW, body(100), now())
    with pytest.raises(OverBudget):
        budget.take_sync(programme.db(), CREW, body(100), now())


@pytest.mark.parametrize(("s", "times"), [(-1, 1), (0, 10), (7 * 86_400 - 1, 10), (7 * 86_400, 1)])
def test_the_week_after_a_restore_lasts_seven_days_to_the_second(programme, now, s: int, times: int):
    """A restore told for a later moment, by a clock that was wrong then, counts as none."""
    set_setting(programme.db(), "restored_at", str(int((now().timestamp() - s) * 1000)))
    assert times_of(programme.db(), CREW, now()) == times


def test_photos_have_a_budget_of_their_own(programme, now):
    budget = Budget(SMALL)
    budget.take_photo(programme.db(), CREW, 1_000, now())
    budget.take_sync(programme.db(), CREW, body(50), now())
    with pytest.raises(OverBudget, match="of photos"):
        budget.take_photo(programme.db(), CREW, 1, now())


def test_an_hour_is_what_the_sentence_says_to_the_entry_and_the_byte(programme, now):
    budget, db, at = Budget(), programme.db(), now()
    budget.take_photo(db, CREW, 2048 * 2**20, at)
    with pytest.raises(OverBudget, match="more than 2048 MB of photos"):
        budget.take_photo(db, CREW, 1, at)
    may_hold = budget.take_sync(db, CREW, body(40_000), at)
    with pytest.raises(OverBudget, match="more than 40,000 entries"):
        budget.take_sync(db, CREW, body(1), at)
    assert [may_hold() for _ in range(10_001)] == [True] * 10_000 + [False]
    budget.take_sync(db, OTHER, bytes(256 * 2**20), at)
    with pytest.raises(OverBudget, match="more than 256 MB of entries"):
        budget.take_sync(db, OTHER, b"x", at)


def test_over_http_nothing_of_a_refused_body_is_taken_and_the_same_body_is_taken_later(client_of, now, programme):
    crew = client_of("crew")
    header = {"p": 1, "rid": "r", "d": "budget-lane-1", "prev": "", "mine": 39_999, "cursor": None, "want": 1, "now": 1, "from": 1}
    first = json.dumps(header) + "\n" + "{}\n" * 39_999
    answer = crew.post("/api/sync", data=first)
    assert answer.status_code == 200
    top, chain_of = answer.json["top"][0], programme.db().conn.execute("SELECT ch FROM tray ORDER BY number DESC LIMIT 1").fetchone()[0]
    assert (top, len(answer.json["acks"]), answer.json["err"]) == (AN_HOUR["held lines"], AN_HOUR["held lines"], None)
    assert crew.post("/api/sync", data=json.dumps({**header, "from": top + 1, "prev": chain_of}) + "\n").status_code == 200
    more = json.dumps({**header, "from": top + 1, "prev": chain_of}) + "\n{}\n"
    refused = crew.post("/api/sync", data=more)
    assert (refused.status_code, refused.json["word"]) == (429, "over-budget")
    assert int(refused.headers["Retry-After"]) >= 1
    assert "Nothing is lost" in refused.json["detail"]
    assert programme.db().conn.execute("SELECT max(number) FROM tray").fetchone() == (top,)
    now.forward(minutes=1)
    assert crew.post("/api/sync", data=more).json["top"][0] == top + 1


def test_a_body_that_others_sent_away_is_not_counted(programme, now, monkeypatch):
    monkeypatch.setattr(admission, "LARGE_AT_ONCE", 0)
    monkeypatch.setattr(admission, "PATIENCE_S", 0.0)
    monkeypatch.setitem(AN_HOUR, "lines", 60)
    app = create_app(programme.folder, now)
    client = app.test_client()
    code = invite(programme.db(), None, "crew", None, 1, 1, int(now().timestamp() * 1000)).code
    assert client.post("/api/join", json={"code": code, "device_name": "a phone"}).status_code == 200
    assert [client.post("/api/sync", data=body(25)).status_code for _ in range(4)] == [503] * 4
    app.extensions["programme"].close()
