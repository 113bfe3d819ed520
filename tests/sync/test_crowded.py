"""A record to which many values are written blindly, by a hostile or a broken device, costs the others no more than a stated bound."""

from __future__ import annotations

import json
from typing import Any

import pytest
from sqlite_utils import Database

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import write
from fieldlog.sync.crowding import MOST_OPEN, MOST_OPEN_BYTES
from fieldlog.sync.log import MAX_FIELDS
from fieldlog.sync.replay import replay
from tests.sync.lines import REQUIRED, Lane, keyed_lane, record_id
from tests.sync.taking import CREW, LEAD, SITE, check_of, take, verdicts

SEEN = record_id("the same animal")
FAT = "x" * 2000


def blind(lane: Lane, count: int, record: str = SEEN, fat: str = "", **envelope: Any) -> None:
    for number in range(count):
        lane.write("sighting", record, {"note": f"{number} {fat}"[:2000]}, **envelope)


def crowd(db: Database, count: int = MOST_OPEN + 60, fat: str = "") -> tuple[Lane, list[str]]:
    """A sighting, and a device that writes its note again and again as if nobody had; its lane and the words it got."""
    lane = keyed_lane("broken app", SITE)
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    blind(lane, count, fat=fat)
    return lane, verdicts(take(db, lane))


def state_of(db: Database, kind: str = "sighting", record: str = SEEN) -> dict[str, Any]:
    (text,) = db.execute("SELECT state FROM record_state WHERE kind = ? AND record_id = ?", (kind, record)).fetchone()
    return dict(json.loads(text))


def heads_of(db: Database, name: str = "note") -> list[str]:
    return [head[0] for head in state_of(db)["fields"][name]["heads"]]


def tables(db: Database) -> list[Any]:
    return [db.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall() for table in ("sighting", "record_state", "disagreement", "flag", "tray")]


def test_what_would_make_too_many_open_values_of_a_field_is_held(db: Database) -> None:
    _lane, words = crowd(db)
    assert words == ["taken"] * (1 + MOST_OPEN) + ["crowded"] * 60
    assert len(heads_of(db)) == MOST_OPEN
    (sentence,) = db.execute("SELECT DISTINCT sentence FROM tray WHERE why = 'crowded'").fetchone()
    assert "save it again" in sentence


@pytest.mark.parametrize("body", [1, 7, 1000], ids=["a line a request", "seven", "all at once"])
def test_the_bound_is_the_logs_alone_however_the_lines_came(db: Database, body: int) -> None:
    lane = keyed_lane("broken app", SITE)
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    blind(lane, MOST_OPEN + 5)
    words, texts = [], lane.texts
    for first in range(0, len(texts), body):
        lane.texts = texts[: first + body]
        words += verdicts(take(db, lane, first=first + 1))
    assert words == ["taken"] * (1 + MOST_OPEN) + ["crowded"] * 5


def test_fat_values_crowd_a_record_by_their_size(db: Database) -> None:
    _lane, words = crowd(db, 3000, FAT)
    assert len(json.dumps(state_of(db))) < MOST_OPEN_BYTES + 64 * 1024
    assert words.count("crowded") > 2500
    assert words[:50] == ["taken"] * 50


def test_names_of_entries_that_never_come_crowd_a_record_as_values_do(db: Database) -> None:
    lane = keyed_lane("broken app", SITE)
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    for number in range(20):
        lane.write("sighting", SEEN, {"note": "a"}, b={"note": [f"{number * 64 + place:032x}" for place in range(MAX_FIELDS)]})
    words = verdicts(take(db, lane))
    assert words.count("taken") == 1 + MOST_OPEN // (MAX_FIELDS + 1)
    assert words[-1] == "crowded"


def test_who_names_the_values_that_stand_is_taken_however_many_there_are(db: Database) -> None:
    crowd(db)
    lane, left = keyed_lane("honest", SITE), MOST_OPEN
    while left > 1:
        heads = heads_of(db)
        lane.write("sighting", SEEN, {"note": "three of them, on the pilings"}, b={"note": heads[-MAX_FIELDS:]})
        assert verdicts(take(db, lane, first=len(lane.texts))) == ["taken"]
        left = len(heads_of(db))
        assert left == max(1, len(heads) - MAX_FIELDS + 1)
    assert db.execute("SELECT note FROM sighting").fetchall() == [("three of them, on the pilings",)]


def test_a_full_record_takes_a_change_of_what_nobody_crowded_and_a_fat_value_in_the_place_of_all(db: Database) -> None:
    crowd(db, 3000, FAT)
    lane = keyed_lane("honest", SITE)
    first = lane.write("sighting", SEEN, {"count": 3})
    second = lane.write("sighting", SEEN, {"count": 4}, b={"count": [first]})
    lane.write("sighting", SEEN, {"count": 5, "note": FAT}, b={"count": [second], "note": heads_of(db)[-MAX_FIELDS:]})
    assert verdicts(take(db, lane)) == ["taken"] * 3


def test_what_names_one_value_to_put_a_fatter_in_its_place_does_not_grow_the_record_without_end(db: Database) -> None:
    crowd(db, MOST_OPEN)
    lane = keyed_lane("patient", SITE)
    for head in heads_of(db):
        lane.write("sighting", SEEN, {"note": "é" * 2000}, b={"note": [head]})
    assert "crowded" in verdicts(take(db, lane))
    assert len(json.dumps(state_of(db), ensure_ascii=False).encode()) < MOST_OPEN_BYTES + 64 * 1024


def test_replay_gives_the_same_and_holds_what_was_held(db: Database) -> None:
    crowd(db)
    before = tables(db)
    with write(db):
        assert replay(db, CATALOGUE) == 1 + MOST_OPEN
    assert tables(db) == before


def test_what_waited_for_a_record_is_released_up_to_the_same_bound(db: Database) -> None:
    lane = keyed_lane("broken app", SITE)
    blind(lane, MOST_OPEN + 40)
    assert set(verdicts(take(db, lane))) == {"waits-for-first"}
    maker = keyed_lane("maker", SITE)
    maker.write("sighting", SEEN, REQUIRED["sighting"])
    take(db, maker)
    assert len(heads_of(db)) == MOST_OPEN
    assert db.execute("SELECT why, count(*) FROM tray GROUP BY why").fetchall() == [("crowded", 40)]


def test_a_hundred_phones_that_begin_the_same_record_without_a_network_are_all_taken(db: Database) -> None:
    for number in range(100):
        lane = keyed_lane(f"phone {number}", SITE)
        lane.write("sighting", SEEN, {**REQUIRED["sighting"], "count": number, "note": f"phone {number} {FAT}"[:500]})
        assert verdicts(take(db, lane)) == ["taken"]


def test_many_changes_that_follow_each_other_crowd_nothing(db: Database) -> None:
    lane, unit = Lane("crew", SITE), record_id("a check")
    last = lane.write("unit_check", unit, check_of(note="0"))
    for number in range(3 * MOST_OPEN):
        last = lane.write("unit_check", unit, {"note": f"{number} {FAT}"[:2000]}, b={"note": [last]})
    assert set(verdicts(take(db, lane, CREW))) == {"taken"}


def test_a_lead_is_held_to_the_same_bound(db: Database) -> None:
    lane = keyed_lane("lead", SITE)
    lane.write("sighting", SEEN, REQUIRED["sighting"])
    blind(lane, MOST_OPEN + 1)
    assert verdicts(take(db, lane, LEAD))[-1] == "crowded"
