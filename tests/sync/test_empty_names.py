"""A required text that shows nothing is missing, as null is; what was taken before that was asked stays."""

from __future__ import annotations

import pytest
from sqlite_utils import Database

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import write
from fieldlog.sync.replay import replay
from tests.records.taken_rows import take_rows
from tests.sync.lines import REQUIRED, Lane
from tests.sync.taking import INES, LEAD, ROW, SITE, take, verdicts

EMPTY = ["", " ", "\n", "\u200b", "\u00a0\ufeff"]


@pytest.mark.parametrize("text", EMPTY, ids=["none", "space", "line end", "zero width", "two signs"])
def test_a_name_that_shows_nothing_is_missing_when_a_record_is_made_and_when_it_is_changed(db: Database, text: str) -> None:
    lane = Lane("lead", SITE)
    lane.write("site", SITE, REQUIRED["site"])
    lane.write("person", INES, {"display_name": text})
    lane.write("row", ROW, {**REQUIRED["row"], "name": text})
    lane.write("row", ROW, REQUIRED["row"])
    lane.write("row", ROW, {"name": text})
    lane.write("row", ROW, {"name": f"{text}A"})
    reply = take(db, lane, LEAD)
    assert verdicts(reply) == ["taken", "missing:display_name", "missing:name", "taken", "missing:name", "taken"]
    assert reply["acks"][1][5] == "Name is not filled in. Fill it in, then save again."


def test_what_was_taken_without_a_name_stays_and_is_changed_like_any_other(programme) -> None:
    db = programme.db()
    row = {"record_id": INES, "site_id": None, "visit_id": None, "created_by": None, "display_name": " \u200b"}
    take_rows(programme, {"person": [row]}, 1_790_000_000_000)
    with write(db):
        replay(db, CATALOGUE)
    lane = Lane("lead", None)
    lane.write("person", INES, {"role": "leader"})
    lane.write("person", INES, {"display_name": "Ines Calder"})
    db.execute("INSERT INTO device(device_id, token_sha256, role, name, made_at) VALUES (?, 'x', 'lead', 'a phone', 0)", (LEAD.device_id,))
    assert [name for (name,) in db.execute("SELECT display_name FROM person")] == [" \u200b"]
    assert verdicts(take(db, lane, LEAD)) == ["taken", "taken"]
