"""A new phone gets this season first and the past after it, backwards: each record whole, nothing for ever missing."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.sync import past
from fieldlog.sync.reading import Reading
from tests.sync.lines import REQUIRED, Lane, record_id
from tests.sync.model_phone import SITE, ModelPhone, named
from tests.sync.storm import START_MS, StormServer
from tests.sync.storm_kinds import PRIVATE
from tests.sync.taking import CREW, take

DAY_MS = 86_400_000
LEAD = Device("writer", "lead", None, None, False)
OTHER_SITE = "00000000-0000-4000-8000-00000000000b"


class Shore:
    """A server, a phone that writes and a new one that reads, whose requests a test sends one by one."""

    def __init__(self, seed: int) -> None:
        self.rnd = random.Random(seed)
        self.now_ms = START_MS
        self.server = StormServer()
        self.writer = ModelPhone(self.rnd, lambda: self.now_ms, frozenset({PRIVATE}))
        self.reader = self.new_reader()
        self.device = Device("reader", "crew", frozenset({SITE}), None, False)

    def new_reader(self) -> ModelPhone:
        return ModelPhone(self.rnd, lambda: self.now_ms, frozenset({PRIVATE}))

    def write(self, record: int, days: float = 0) -> None:
        """The writer changes a record and sends it."""
        self.now_ms += int(days * DAY_MS) + 1
        self.writer.site = OTHER_SITE if record % 5 == 4 else SITE
        kind = PRIVATE if record % 7 == 6 else "quadrat"
        self.writer.edit(kind, f"r{record}", {"count": self.rnd.randrange(9)})
        self.sync(self.writer, LEAD, 50)

    def sync(self, phone: ModelPhone, device: Device, want: int) -> bool:
        again = False
        for lane_id in list(phone.lanes):
            reply = self.server.sync(phone.request(lane_id, 50, want), device, self.now_ms)
            assert reply is not None
            again |= phone.response(lane_id, reply)
        return again or phone.past is not None

    def read_all(self, phone: ModelPhone, want: int) -> None:
        for _ in range(500):
            if not self.sync(phone, self.device, want):
                return
            if phone is self.reader:
                self.check_whole()
        raise AssertionError("the reader does not come to rest")

    def check_whole(self) -> None:
        """Each record that the reader has, it has with every entry up to where it stands."""
        if self.reader.cursor is None:
            return
        have: dict[tuple[str, str], set[str]] = {}
        for entry_id, (_eff, text) in self.reader.others.items():
            said = json.loads(text)
            have.setdefault((said["t"], said["r"]), set()).add(entry_id)
        for (kind, record), ids in have.items():
            there = self.server.db.execute(
                "SELECT entry_id FROM log WHERE kind = ? AND record_id = ? AND seq <= ?", (kind, record, self.reader.cursor[0])
            ).fetchall()
            assert ids >= {row[0] for row in there}, f"half of {record}"


def as_plain(shore: Shore) -> dict[str, Any]:
    """What a phone has that reads everything from the start, as phones of 0.2.0 do."""
    plain = shore.new_reader()
    plain.scribble(b"{}")
    shore.read_all(plain, 50)
    return plain.others


@pytest.mark.parametrize("seed", range(60))
def test_any_course_of_a_season_first_ends_with_what_a_plain_reading_has(seed: int) -> None:
    shore = Shore(seed)
    for turn in range(shore.rnd.randrange(5, 60)):
        shore.write(shore.rnd.randrange(30), days=shore.rnd.choice([0, 1, 10]))
        if turn == 10:
            shore.server.take_snapshot()
    for _ in range(80):
        word = shore.rnd.choices(["read", "write", "role", "restore", "lost"], [50, 35, 3, 1, 8])[0]
        if word == "read":
            shore.sync(shore.reader, shore.device, shore.rnd.choice([1, 2, 5, 50]))
            shore.check_whole()
        elif word == "write":
            shore.write(shore.rnd.randrange(30), days=shore.rnd.choice([0, 1]))
        elif word == "role":
            sites = shore.rnd.choice([None, frozenset({SITE}), frozenset({SITE, OTHER_SITE}), frozenset({OTHER_SITE})])
            shore.device = Device("reader", shore.rnd.choice(["lead", "crew"]), sites, None, False)
        elif word == "restore":
            shore.server.restore(shore.now_ms)
            shore.sync(shore.writer, LEAD, 50)
        else:
            shore.server.sync(shore.reader.request(shore.reader.lane, 50, 5), shore.device, shore.now_ms)
    shore.read_all(shore.writer, 50)
    shore.read_all(shore.reader, shore.rnd.choice([1, 3, 50]))
    assert shore.reader.others == as_plain(shore)
    assert shore.reader.past is None


def test_the_first_answer_is_this_season_and_the_next_go_back() -> None:
    shore = Shore(1)
    shore.device = LEAD
    for record in range(20):
        shore.write(record, days=10)
    shore.sync(shore.reader, shore.device, 5)
    days = past.SEASON_MS / DAY_MS
    assert len(shore.reader.others) == int(days // 10) + 1
    assert shore.reader.past is not None
    before = len(shore.reader.others)
    shore.sync(shore.reader, shore.device, 5)
    assert len(shore.reader.others) == before + 5
    shore.read_all(shore.reader, 5)
    assert len(shore.reader.others) == 20


def test_a_first_answer_says_that_the_season_is_whole() -> None:
    shore = Shore(5)
    for record in range(3):
        shore.write(record)
    reply = shore.server.sync(shore.reader.request(shore.reader.lane, 50, 50), LEAD, shore.now_ms)
    assert reply is not None
    assert (reply["more"], reply["reset"], len(reply["older"]), reply["pull"], "past" in reply) == (False, False, 3, [], False)


def test_a_new_entry_of_a_record_of_long_ago_brings_all_of_it_along() -> None:
    shore = Shore(2)
    for record in (0, 1, 0, 2, 3):
        shore.write(record)
    shore.now_ms += 200 * DAY_MS
    shore.write(5)
    shore.sync(shore.reader, shore.device, 50)
    assert len(shore.reader.others) == 1
    shore.reader.past, kept = shore.reader.past, shore.reader.past
    assert kept is not None
    shore.write(0)
    reply = shore.server.sync(shore.reader.request(shore.reader.lane, 50, 1), shore.device, shore.now_ms)
    assert reply is not None
    records = [json.loads(row[3])["r"] for row in reply["pull"]]
    assert records.count("r0") == 3


@pytest.mark.parametrize(("came_back_to", "brought"), [(3, []), (4, [1, 2, 3]), (5, [1, 2, 3, 4])])
def test_a_record_is_brought_along_only_where_its_newest_entry_was_not_sent_yet(db: Database, crew: Lane, came_back_to: int, brought: list[int]) -> None:
    """A phone at the fourth entry, which has the records whose newest is numbered `came_back_to` or higher; then all of them change."""
    for number, name in enumerate("aaababc", 1):
        fields = {"note": str(number)} if name in "ab" and number > "aaab".index(name) + 1 else REQUIRED["sighting"]
        crew.write("sighting", record_id(name), fields)
    assert {ack[2] for ack in take(db, crew)["acks"]} == {"ok"}
    reading = Reading(db, CREW, None)
    rows = past.unsent_before(reading, reading.after(4, 50), 4, came_back_to)
    assert [row[0] for row in rows] == [*brought, 5, 6, 7]


def test_a_gap_cannot_pass_for_the_end() -> None:
    """A phone that forgets how far back it has come, or says another number, begins again."""
    shore = Shore(3)
    for record in range(10):
        shore.write(record, days=30)
    shore.sync(shore.reader, shore.device, 5)
    assert shore.reader.past is not None
    for lie in (None, shore.reader.past - 1, 1):
        shore.reader.past = lie
        reply = shore.server.sync(shore.reader.request(shore.reader.lane, 50, 50), shore.device, shore.now_ms)
        assert reply is not None and reply["reset"] is True


def test_a_phone_that_does_not_ask_for_the_season_is_answered_as_ever() -> None:
    shore = Shore(4)
    for record in range(10):
        shore.write(record, days=30)
    shore.reader.scribble(b"{}")
    reply = shore.server.sync(shore.reader.request(shore.reader.lane, 50, 3), shore.device, shore.now_ms)
    assert reply is not None
    assert "past" not in reply
    assert [row[0] for row in reply["pull"]] == sorted(row[0] for row in reply["pull"])
    assert len(reply["pull"]) == 3 and reply["more"] is True


def test_entries_that_travel_as_their_lines_alone_are_the_entries_that_others_get() -> None:
    shore = Shore(5)
    for record in range(20):
        shore.write(record, days=10)
    # A line whose stamp is a day ahead of the server is ordered by another.
    shore.now_ms += DAY_MS
    shore.writer.site = SITE
    shore.writer.edit("quadrat", "r1", {"count": 3})
    shore.now_ms -= DAY_MS
    shore.sync(shore.writer, LEAD, 50)

    def asked(older: bool) -> dict[str, Any]:
        header, *_ = shore.reader.request(shore.reader.lane, 50, 5).split(b"\n")
        body = json.dumps({**json.loads(header), "older": older}).encode() + b"\n"
        reply = shore.server.sync(body, LEAD, shore.now_ms)
        assert reply is not None
        return reply

    ahead = 0
    for _ in range(3):
        alone, whole = asked(True), asked(False)
        assert "older" not in whole
        assert alone["pull"] == []
        assert (alone["cursor"], alone.get("past")) == (whole["cursor"], whole.get("past"))
        assert sorted(row[1:] for row in named(alone["older"])) == sorted(row[1:] for row in whole["pull"])
        ahead += sum(not isinstance(one, str) for one in alone["older"])
        shore.reader.cursor, shore.reader.past = alone["cursor"], alone.get("past")
    assert ahead == 1
