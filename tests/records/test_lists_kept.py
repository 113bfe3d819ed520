"""A list on its way through the log: taken, kept as text in its table, rebuilt, differed about; odd ones are held and fail nothing."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.flags.doubt import LETTERS_TOLD, Disagreement, RecordSeen, disagreement, implausible, incomplete
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.records.listed import packed
from fieldlog.store import create_programme, write
from fieldlog.sync import tables
from fieldlog.sync.opening import open_programme
from fieldlog.sync.receive import receive
from fieldlog.sync.replay import replay
from tests.records.made_up import BARREL, CATCH
from tests.sync.lines import START_MS, Lane, record_id

SITE = record_id("Alder Spit")
LEAD = Device("lead-device", "lead", None, None, False)
KINDS = Catalogue([*CATALOGUE.kinds.values(), BARREL, CATCH])
HAULS = [{"net": 2, "note": "as ever"}, {"net": 1, "torn": False}]


@pytest.fixture
def db(tmp_path: Path) -> Database:
    create_programme(tmp_path, "Alder Spit").close()
    db = open_programme(tmp_path, KINDS, START_MS).db()
    db.execute("INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, 'lead', NULL, 'a phone', 0)", [LEAD.device_id] * 2)
    return db


def acks(db: Database, lane: Lane, first: int = 1) -> list[Any]:
    reply = receive(db, lane.body(first), KINDS, lambda: LEAD, lambda: lane.now_ms)
    return list(reply["acks"])


def rows(db: Database) -> list[dict[str, Any]]:
    return sorted(db.query('SELECT * FROM "catch"'), key=lambda row: row["record_id"])


def test_lists_are_kept_as_text_and_a_replay_makes_the_same(db: Database) -> None:
    lane = Lane("crew", SITE)
    for name in ("one", "two"):
        first = lane.write("catch", record_id(name), {"heights": [23, 31.5, 18], "hauls": HAULS, "hits": []})
    lane.write("catch", record_id("two"), {"heights": [24, 31.5], "hauls": None}, b={"heights": [first], "hauls": [first]})
    assert {ack[2] for ack in acks(db, lane)} == {"ok"}
    before = rows(db)
    by_id = {row["record_id"]: [row["heights"], row["hauls"], row["hits"], row["counts"]] for row in before}
    assert by_id == {
        record_id("one"): ["[23,31.5,18]", '[{"net":2,"note":"as ever"},{"net":1,"torn":false}]', "[]", None],
        record_id("two"): ["[24,31.5]", None, "[]", None],
    }
    assert db.execute("SELECT count(*) FROM disagreement").fetchone() == (0,)
    with write(db):
        replay(db, KINDS)
    assert rows(db) == before
    with write(db):
        db.conn.execute('ALTER TABLE "catch" DROP COLUMN "heights"')
        tables.follow(db, KINDS)
    assert rows(db) == before


def test_a_list_merges_whole_and_the_same_numbers_are_no_difference(db: Database) -> None:
    lane = Lane("crew", SITE)
    lane.write("catch", record_id("one"), {"heights": [23, 31], "counts": [1, 2]})
    lane.write("catch", record_id("one"), {"heights": [23, 18], "counts": [1.0, 2.0]})
    assert {ack[2] for ack in acks(db, lane)} == {"ok"}
    differing = db.execute("SELECT field, values_json FROM disagreement").fetchall()
    assert [(field, json.loads(values)) for field, values in differing] == [("heights", [[23, 18], [23, 31]])]
    assert rows(db)[0]["heights"] == "[23,18]"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("[[[9,9],9],9]", "bad-type:heights"), ("[NaN,9]", "cannot-read"), ("[1e999,9]", "cannot-read"), ("[9,true]", "bad-type:heights"),
        ("[" + "9," * 12 + "9]", "beyond-limit:heights"), ('["\\ud800",9]', "cannot-read"), ("[" * 20 + "]" * 20, "cannot-read"),
        ('{"height_mm":9}', "bad-type:heights"), ('"23 31"', "bad-type:heights"), ("[{},9]", "bad-type:heights"), ("[9,9,]", "cannot-read"),
        ("[" + "9," * 30_000 + "9]", "beyond-limit:heights"), ("[" + "9," * 40_000 + "9]", "too-big"),
    ],
    ids=lambda text: text[:12],
)  # fmt: skip
def test_an_odd_list_is_held_with_its_sentence_and_what_follows_is_taken(db: Database, text: str, why: str) -> None:
    lane = Lane("crew", SITE)
    lane.write("catch", record_id("odd"), {"heights": "HERE"})
    lane.texts[-1] = lane.texts[-1].replace(b'"HERE"', text.encode())
    odd = lane.texts.pop()
    lane.chain.pop()
    lane.add(odd)
    lane.write("catch", record_id("plain"), {"heights": [9, 9]})
    held, taken = acks(db, lane)
    assert (held[2], held[4], bool(held[5])) == ("q", why, True)
    assert taken[2] == "ok"


def seen(disagreements: tuple[Disagreement, ...] = (), **fields: Any) -> RecordSeen:
    row = dict.fromkeys([*tables.all_columns(CATCH)]) | {"record_id": record_id("one"), "changed_eff": f"{START_MS:012x}0000"} | fields
    return RecordSeen(CATCH, row, disagreements, {}, zone="America/New_York")


def test_two_lists_are_told_in_words_as_long_as_a_flag_may_be() -> None:
    (numbers,) = disagreement(seen((Disagreement("heights", [[23, 18], [23, 31]]),)))
    assert numbers.sentence == "Catch: two phones wrote 23, 18 mm and 23, 31 mm for Shell heights. 23, 18 mm is used until someone decides."
    assert numbers.evidence["values"] == ["23, 18 mm", "23, 31 mm"]
    (records,) = disagreement(seen((Disagreement("hauls", [HAULS, HAULS[:1]]),)))
    assert "wrote a list of 2 and a list of 1 for Hauls" in records.sentence
    (long,) = disagreement(seen((Disagreement("heights", [[10.123456] * 50, [9, 9]]),)))
    assert len(long.evidence["values"][0]) == LETTERS_TOLD + 1


def test_an_unlikely_item_is_flagged_with_its_place() -> None:
    (found,) = implausible(seen(heights=packed([23, 2, 300])))
    assert found.sentence == "Catch: Shell heights, the 2nd: Height is 2 mm; it is usually between 5 and 250 mm. Is that right?"
    assert found.evidence == {"heights": "23, 2, 300 mm"}
    assert implausible(seen(heights=packed([23, 31]), hauls=packed(HAULS))) == []


def test_a_list_of_nothing_leaves_a_record_incomplete() -> None:
    assert [found.sentence for found in incomplete(seen(heights="[]"))] == ["Catch: Shell heights or Hauls is needed. Fill in one of them."]
    assert incomplete(seen(hauls=packed(HAULS))) == []
