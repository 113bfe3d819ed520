"""A request in slices: each a request of its own, others in between, and nobody waits long."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.errors import WriterBusy
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import connect, write
from fieldlog.sync import admission as doors
from fieldlog.sync.admission import (
    AT_THE_DOOR,
    COMES_BACK,
    LARGE_AT_ONCE,
    OLDEST_FIRST,
    SMALL_LINES,
    Admission,
)
from fieldlog.sync.receive import LINES_AT_ONCE, IsOver, receive
from fieldlog.turns import Turns
from tests.sync.lines import REQUIRED, START_MS, Lane, keyed_lane, record_id
from tests.sync.taking import CREW, INES, LEAD, SITE, check_of, take, verdicts


def by_lines(most: int) -> Callable[[Database], IsOver]:
    return lambda _db: lambda lines: lines >= most


def sliced(db: Database, lane: Lane, who: Callable[[], Device], most: int = 25, now_ms: Callable[[], int] = lambda: START_MS) -> dict[str, Any]:
    return receive(db, lane.body(), CATALOGUE, who, now_ms, by_lines(most))


@pytest.fixture
def long_lane() -> Lane:
    lane = keyed_lane("crew", SITE)
    for number in range(90):
        lane.write("unit_check", record_id(f"c{number}"), check_of())
    return lane


def test_a_body_in_slices_gets_the_receipts_of_a_body(tmp_path: Path, db: Database, long_lane: Lane) -> None:
    reply = sliced(db, long_lane, lambda: CREW)
    assert [ack[0] for ack in reply["acks"]] == list(range(1, 91)) and set(verdicts(reply)) == {"taken"}
    assert db.execute("SELECT top FROM lane").fetchall() == [(90,)]
    assert [ch for (ch,) in db.execute("SELECT ch FROM log ORDER BY seq")] == long_lane.chain[1:]


def test_the_role_is_asked_anew_in_each_slice(db: Database, long_lane: Lane) -> None:
    asked = iter([CREW, CREW, *[Device(CREW.device_id, "reader", CREW.sites, None, False)] * 9])
    said = verdicts(sliced(db, long_lane, lambda: next(asked)))
    assert said == ["taken"] * 50 + ["not-permitted"] * 40


def test_a_device_revoked_between_two_slices_leaves_the_rest_in_the_tray(db: Database, long_lane: Lane) -> None:
    asked = iter([CREW, *[Device(CREW.device_id, "crew", CREW.sites, None, True)] * 9])
    reply = sliced(db, long_lane, lambda: next(asked))
    assert verdicts(reply) == ["taken"] * 25 + ["revoked"] * 65
    assert reply["pull"] == [] and reply["revoked"] is True


def test_the_clock_is_read_anew_in_each_slice(db: Database, long_lane: Lane) -> None:
    clock = iter(range(START_MS, START_MS + 10_000, 1000))
    sliced(db, long_lane, lambda: CREW, now_ms=lambda: next(clock))
    assert db.execute("SELECT count(DISTINCT received_at) FROM log").fetchone() == (4,)


def test_a_small_body_is_taken_in_the_middle_of_a_large_one(tmp_path: Path, db: Database) -> None:
    large, small = keyed_lane("large", SITE), keyed_lane("small", SITE)
    for number in range(3000):
        large.write("unit_check", record_id(f"c{number}"), check_of())
    small.write("unit_check", record_id("between"), check_of())
    path = db.execute("PRAGMA database_list").fetchone()[2]
    begun = threading.Event()

    def who() -> Device:
        begun.set()
        return CREW

    def send_large() -> None:
        own = connect(path)
        receive(own, large.body(), CATALOGUE, who, lambda: START_MS)
        own.conn.close()

    sending = threading.Thread(target=send_large)
    sending.start()
    begun.wait()
    assert verdicts(take(db, small)) == ["taken"]
    sending.join()
    (seq,) = db.execute("SELECT seq FROM log WHERE record_id = ?", (record_id("between"),)).fetchone()
    assert 1 <= seq < 3001, "it waited for the whole of the large body"


def test_a_clone_that_sends_between_two_slices_ends_the_request_with_what_was_taken(db: Database, long_lane: Lane) -> None:
    copied = keyed_lane("crew", SITE)
    for number in range(25):
        copied.add(long_lane.texts[number])
    copied.now_ms = long_lane.now_ms
    copied.write("unit_check", record_id("by the copy"), check_of())
    calls = []

    def now_ms() -> int:
        calls.append(1)
        return START_MS

    def who() -> Device:
        # Asked inside the slice's transaction: what the copy sent is written by the same connection, as if it had come before.
        if len(calls) == 1 and not db.execute("SELECT 1 FROM log WHERE number = 26").fetchone():
            take(db, copied)
        return CREW

    reply = sliced(db, long_lane, who, now_ms=now_ms)
    assert reply["err"] == "fork" and [ack[0] for ack in reply["acks"]] == list(range(1, 26))


def test_a_crash_between_two_slices_leaves_whole_slices(db: Database, long_lane: Lane) -> None:
    asked = iter([CREW, CREW])
    with pytest.raises((StopIteration, RuntimeError)):
        sliced(db, long_lane, lambda: next(asked))
    assert db.execute("SELECT top, (SELECT count(*) FROM log) FROM lane").fetchall() == [(50, 50)]
    assert set(verdicts(sliced(db, long_lane, lambda: CREW))) == {"taken"}


def test_writers_of_one_file_are_served_in_the_order_in_which_they_came(tmp_path: Path) -> None:
    db = connect(tmp_path / "x.sqlite")
    db.execute("CREATE TABLE turn(name TEXT)")
    queued = [threading.Event() for _ in range(6)]

    def write_one(number: int) -> None:
        own = connect(tmp_path / "x.sqlite")
        queued[number].set()
        with write(own):
            own.execute("INSERT INTO turn VALUES (?)", (str(number),))
        own.conn.close()

    threads = [threading.Thread(target=write_one, args=(number,)) for number in range(6)]
    with write(db):
        for number, thread in enumerate(threads):
            thread.start()
            queued[number].wait()
            while len(db.conn.turns._queue) < number + 2:
                time.sleep(0.001)
    for thread in threads:
        thread.join()
    assert [name for (name,) in db.execute("SELECT name FROM turn ORDER BY rowid")] == ["0", "1", "2", "3", "4", "5"]


def test_whoever_waits_too_long_is_told_to_come_again_and_leaves_the_queue() -> None:
    turns = Turns()
    with turns.turn(1.0):
        assert not turns.others_wait
        with pytest.raises(WriterBusy) as told, turns.turn(0.01):
            pass
        assert told.value.status == 503 and told.value.headers["Retry-After"] == "1"
    with turns.turn(0.01):
        assert not turns.others_wait


def test_a_fault_in_a_turn_hands_it_on() -> None:
    turns = Turns()
    with pytest.raises(ValueError, match="on the way"), turns.turn(1.0):
        raise ValueError("on the way")
    with turns.turn(0.01):
        pass


LARGE, SMALL = b"{}\n" * (SMALL_LINES + 2), b"{}\n" * (SMALL_LINES + 1)
NOON = datetime(2026, 6, 14, 12, tzinfo=UTC)


def busy(admission: Admission) -> list[AbstractContextManager[None]]:
    """Large bodies in every place."""
    under_way = [admission.of(f"busy {n}", LARGE, NOON) for n in range(LARGE_AT_ONCE)]
    for place in under_way:
        place.__enter__()
    return under_way


def sent_away(admission: Admission, name: str, at: datetime = NOON) -> bool:
    try:
        with admission.of(name, LARGE, at):
            return False
    except WriterBusy as busy_words:
        assert "Nothing is lost" in str(busy_words)
        return True


def test_of_many_large_bodies_a_few_are_worked_and_a_small_one_always_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doors, "PATIENCE_S", 0.0)
    admission = Admission()
    under_way = busy(admission)
    assert sent_away(admission, "one more")
    with admission.of("small", SMALL, NOON):
        pass
    under_way[0].__exit__(None, None, None)
    assert not sent_away(admission, "one more")


def test_who_was_sent_away_first_is_let_in_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doors, "PATIENCE_S", 0.0)
    admission = Admission()
    under_way = busy(admission)
    crowd = [f"phone {n}" for n in range(OLDEST_FIRST + 3)]
    assert all(sent_away(admission, name) for name in crowd)
    under_way[0].__exit__(None, None, None)
    assert sent_away(admission, crowd[-1]) and sent_away(admission, "a newcomer"), "others came before these"
    assert not sent_away(admission, crowd[OLDEST_FIRST - 1])
    assert not sent_away(admission, crowd[OLDEST_FIRST]), "one ahead of it has been"


def test_who_does_not_come_again_holds_nobody_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doors, "PATIENCE_S", 0.0)
    admission = Admission()
    under_way = busy(admission)
    assert all(sent_away(admission, f"phone {n}") for n in range(OLDEST_FIRST))
    under_way[0].__exit__(None, None, None)
    assert sent_away(admission, "late", NOON + COMES_BACK / 2)
    assert not sent_away(admission, "late", NOON + COMES_BACK)


def test_a_few_wait_at_the_door_and_the_next_is_sent_away_at_once() -> None:
    admission = Admission()
    under_way = busy(admission)
    with ThreadPoolExecutor(AT_THE_DOOR) as pool:
        waiting = [pool.submit(sent_away, admission, f"phone {n}") for n in range(AT_THE_DOOR)]
        while admission._at_the_door < AT_THE_DOOR:
            time.sleep(0.001)
        began = time.monotonic()
        assert sent_away(admission, "one more")
        assert time.monotonic() - began < doors.PATIENCE_S / 2
        for place in under_way:
            place.__exit__(None, None, None)
        assert not any(one.result() for one in waiting)


def test_what_a_line_of_the_same_slice_released_is_known_to_those_behind_it(db: Database) -> None:
    # As after a restore: a record's first entry came before its author's, and another lane goes on with both.
    first, lane = keyed_lane("first", SITE, person_id=INES), keyed_lane("crew", SITE)
    first.write("unit_check", record_id("check"), check_of())
    assert verdicts(take(db, first)) == ["unknown-person"]
    lane.write("unit_check", record_id("check"), {"note": "One anode is loose."})
    lane.write("person", INES, REQUIRED["person"])
    for number in range(LINES_AT_ONCE):
        lane.write("unit_check", record_id(f"c{number}"), check_of())
    lane.write("unit_check", record_id("check"), {"note": "Both are tight again."})
    assert verdicts(take(db, lane, LEAD))[-1] == "taken"
    assert db.execute("SELECT count(*) FROM tray").fetchone() == (0,)
