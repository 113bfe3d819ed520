"""A new phone is sent each entry once, whichever way its record travels: with what a site is made of, with this season, or with the past."""

from __future__ import annotations

import pytest
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.sync.reading import MADE_OF
from fieldlog.sync.send import Asked, pull
from tests.sync.lines import REQUIRED, Lane, record_id
from tests.sync.taking import CREW, INES, LEAD, ROW, SITE, UNIT, YEAR_MS, check_of, take, verdicts


@pytest.fixture
def lead(db: Database) -> Lane:
    """A lead's lane: a site with its row, unit and person, checks in two years, and a change of the unit last."""
    lane = Lane("lead", SITE)
    for kind, record in (("site", SITE), ("row", ROW), ("unit", UNIT), ("person", INES)):
        lane.write(kind, record, REQUIRED[kind])
    lane.write("unit_event", record_id("placed"), {"unit_id": UNIT, "event": "placed", "event_at": "2026-09-01T06:12:00Z"})
    lane.write("unit_check", record_id("old check"), check_of())
    assert set(verdicts(take(db, lane, LEAD))) == {"taken"}
    told = len(lane.texts) + 1
    lane.now_ms += 2 * YEAR_MS
    for n in range(3):
        lane.write("unit_check", record_id(f"check {n}"), check_of())
    lane.write("unit", UNIT, {"slot_number": 2})
    assert set(verdicts(take(db, lane, LEAD, told))) == {"taken"}
    return lane


@pytest.mark.parametrize("older", [False, True], ids=["named", "unnamed"])
@pytest.mark.parametrize("want", [1, 2, 500])
@pytest.mark.parametrize("device", [CREW, LEAD], ids=["site", "programme"])
def test_a_new_phone_is_sent_each_entry_once_also_of_a_row_that_is_changed_meanwhile(db: Database, lead: Lane, device: Device, want: int, older: bool) -> None:
    cursor, past, sent = None, None, []
    for turn in range(30):
        if turn == 1:
            lead.write("row", ROW, {"order_number": 3})
            take(db, lead, LEAD, len(lead.texts))
        told = pull(db, device, Asked(None, 0, cursor, want, season=True, past=past, older=older), lead.now_ms)
        sent += [line for *_, line in told["pull"]]
        sent += [one if isinstance(one, str) else one[0] for one in told.get("older", [])]
        cursor, past = tuple(told["cursor"]), told.get("past")
        if turn > 0 and past is None and not told["more"]:
            break
    lines = [line.decode() for (line,) in db.execute("SELECT line FROM log")]
    assert sorted(sent) == sorted(lines)
    assert {"unit", "unit_event", "person"} <= set(MADE_OF)
