"""What the server notes of a phone with each request, and in which order lines stand whose clocks are not believed."""

from __future__ import annotations

import json
from typing import Any

import pytest
from sqlite_utils import Database

from fieldlog.errors import BadHeader
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.clock import DRIFT_MS, pack
from fieldlog.sync.header import read_header
from fieldlog.sync.receive import SEEN_EVERY_MS
from tests.sync.lines import Lane, record_id
from tests.sync.taking import CREW, DESK, INES, SITE, check_of, take, verdicts


def noted(db: Database) -> tuple[int, int]:
    """When the crew's phone was seen last, and how many entries it had left to send."""
    row: tuple[int, int] = db.execute("SELECT seen_at, unsent FROM device WHERE device_id = ?", (CREW.device_id,)).fetchone()
    return row


def test_what_a_phone_has_left_to_send_is_noted(db: Database, crew: Lane) -> None:
    for n in range(2):
        crew.write("unit_check", record_id(f"c{n}"), check_of())
    take(db, crew, mine=5)
    assert noted(db) == (crew.now_ms, 3)
    crew.now_ms += 1
    take(db, crew, first=3, mine=2)
    assert noted(db) == (crew.now_ms, 0)
    take(db, crew, first=3, mine=1)
    assert noted(db)[1] == 0, "a phone restored from an older copy of itself has nothing left to send, not less than nothing"


def test_a_phone_that_only_asks_is_noted_once_a_minute_and_at_once_where_it_says_something_new(db: Database, crew: Lane) -> None:
    crew.write("unit_check", record_id("c"), check_of())
    take(db, crew, mine=3)
    seen_ms = crew.now_ms
    crew.now_ms += SEEN_EVERY_MS - 1
    take(db, crew, first=2, mine=3)
    assert noted(db) == (seen_ms, 2), "nothing was written for it"
    crew.now_ms += 1
    take(db, crew, first=2, mine=3)
    assert noted(db) == (seen_ms + SEEN_EVERY_MS, 2)
    crew.now_ms += 1
    take(db, crew, first=2, mine=4)
    assert noted(db) == (crew.now_ms, 3)
    crew.now_ms += 1
    take(db, crew, first=2, mine=4, app="0.3.0")
    assert db.execute("SELECT seen_at, app FROM device WHERE device_id = ?", (CREW.device_id,)).fetchone() == (crew.now_ms, "0.3.0")


HEADER = {"p": 1, "rid": "r1", "d": "a" * 32, "from": 1, "prev": "", "mine": 0, "cursor": None, "want": 500, "now": 1}
HALF = "0f" * 16


@pytest.mark.parametrize(
    "changes",
    [{"rid": "r"}, {"rid": "r" * 64}, {"prev": HALF}, {"mine": 0}, {"cursor": [0, ""]}, {"cursor": [7, HALF]}, {"want": 0}, {"key": HALF}, {"app": "a" * 64},
     {"person": "p" * 64}, {"season": True}, {"past": 0}, {"from": 2**53 - 1}],
    ids=json.dumps,
)  # fmt: skip
def test_at_its_limit_a_header_is_read(changes: dict[str, Any]) -> None:
    read = read_header(json.dumps({**HEADER, **changes}).encode())
    assert (read.request_id, read.number, read.season) == (changes.get("rid", "r1"), changes.get("from", 1), changes.get("season", False))


@pytest.mark.parametrize(
    "changes",
    [{"p": 2}, {"rid": ""}, {"rid": "r" * 65}, {"rid": 5}, {"d": "a" * 7}, {"from": 0}, {"prev": HALF[:-1]}, {"prev": None}, {"mine": -1}, {"cursor": [7]},
     {"cursor": [7, HALF, 1]}, {"cursor": [-1, ""]}, {"cursor": [7, "x"]}, {"cursor": 7}, {"want": -1}, {"now": None}, {"key": "k"}, {"app": "a" * 65},
     {"person": "p" * 65}, {"season": 2}, {"past": -1}],
    ids=json.dumps,
)  # fmt: skip
def test_one_step_beyond_its_limit_a_header_is_refused_by_the_members_name(changes: dict[str, Any]) -> None:
    with pytest.raises(BadHeader) as told:
        read_header(json.dumps({**HEADER, **changes}).encode())
    assert next(iter(changes)) in told.value.fields


def effs(db: Database) -> list[str]:
    return [eff for (eff,) in db.execute("SELECT eff FROM log WHERE kind = 'unit_check' ORDER BY seq")]


@pytest.mark.parametrize("waits", [False, True], ids=["taken at once", "released from the tray"])
def test_a_clock_that_is_not_believed_comes_right_after_the_latest_that_is(db: Database, crew: Lane, waits: bool) -> None:
    """The first is four minutes ahead, which is believed; the second is a year ahead; the third is on time."""
    ahead_ms = DRIFT_MS - 60_000
    author = INES if waits else None
    now_ms = crew.now_ms + 3000
    for name, claim_ms in (("a", now_ms + ahead_ms), ("b", now_ms + 365 * 86_400_000), ("c", now_ms)):
        crew.write("unit_check", record_id(name), check_of(), u=author, s=pack(claim_ms, 0))
    crew.now_ms = now_ms
    assert verdicts(take(db, crew)) == (["unknown-person"] * 3 if waits else ["taken"] * 3)
    if waits:
        desk = Lane("desk", SITE)
        desk.write("person", INES, {"display_name": "Ines Calder"})
        desk.now_ms = now_ms
        take(db, desk, DESK)
    assert effs(db) == [pack(now_ms + ahead_ms, 0), pack(now_ms + ahead_ms, 1), pack(now_ms, 0)]


def test_a_line_that_waits_for_something_else_now_changes_no_other_in_the_tray(db: Database) -> None:
    """Both are the first lines of their lanes and wait for their records' beginnings; the one then waits for its author."""
    one, other, third = Lane("one", SITE), Lane("other", SITE), Lane("third", SITE)
    one.write("unit_check", record_id("c1"), {"exposed_height_mm": 280}, u=INES)
    other.write("unit_check", record_id("c2"), {"exposed_height_mm": 280})
    assert [verdicts(take(db, lane)) for lane in (one, other)] == [["waits-for-first"], ["waits-for-first"]]
    third.write("unit_check", record_id("c1"), check_of())
    assert verdicts(take(db, third)) == ["taken"]
    assert dict(db.execute("SELECT lane_id, why FROM tray").fetchall()) == {one.lane_id: "unknown-person", other.lane_id: "waits-for-first"}


def test_what_refers_to_a_record_is_found_by_its_index(db: Database) -> None:
    for kind in CATALOGUE.kinds.values():
        for column in kind.fields:
            if column.endswith("_id"):
                (plan, *_) = db.execute(f'EXPLAIN QUERY PLAN SELECT 1 FROM "{kind.name}" WHERE "{column}" = ?', ("x",)).fetchall()
                assert "SEARCH" in plan[-1] and f"({column}=?)" in plan[-1], (kind.name, column, plan)
        (plan, *_) = db.execute(f'EXPLAIN QUERY PLAN SELECT 1 FROM "{kind.name}" WHERE site_id = ? AND visit_id = ?', ("x", "y")).fetchall()
        assert f"{kind.name}_place" in plan[-1], plan
