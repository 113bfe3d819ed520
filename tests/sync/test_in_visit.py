"""A record's visit is the one its first entry names, until a lead says another; every row says the one that counts."""

from __future__ import annotations

import pytest
from sqlite_utils import Database

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.on_visit import IN_VISIT
from fieldlog.store import write
from fieldlog.sync.replay import replay
from tests.sync.lines import Lane, record_id
from tests.sync.taking import CREW, LEAD, SITE, check_of, take, verdicts

MADE_ON, MOVED_TO, OTHER = record_id("first visit"), record_id("parted visit"), record_id("third visit")
CHECK = record_id("c1")


def visit_of(db: Database) -> str | None:
    """As the row says it, which a replay says again."""
    row = db.execute("SELECT visit_id FROM unit_check WHERE record_id = ?", [CHECK]).fetchone()
    with write(db):
        replay(db, CATALOGUE)
    assert db.execute("SELECT visit_id FROM unit_check WHERE record_id = ?", [CHECK]).fetchone() == row
    return row[0]


@pytest.fixture
def lead(db: Database, crew: Lane) -> Lane:
    """A lead who has a check of a crew before them."""
    crew.write("unit_check", CHECK, check_of(), y=MADE_ON)
    assert verdicts(take(db, crew)) == ["taken"]
    return Lane("lead", SITE)


def test_every_kind_that_is_written_on_a_visit_can_be_moved_to_another() -> None:
    assert {kind.name for kind in CATALOGUE.kinds.values() if IN_VISIT in kind.fields} == {
        "sign_in", "unit_check", "position_fix", "unit_event", "sighting", "photo", "people_photo", "stake_reading", "table_reading",
        "horizon_reading", "level_run", "rod_profile", "cover_reading", "edge_reading", "settlement_count", "water_reading", "plot_event",
    }  # fmt: skip


def test_a_lead_moves_a_record_and_takes_that_back(db: Database, lead: Lane) -> None:
    assert visit_of(db) == MADE_ON
    moved = lead.write("unit_check", CHECK, {IN_VISIT: MOVED_TO})
    assert verdicts(take(db, lead, LEAD)) == ["taken"]
    assert visit_of(db) == MOVED_TO
    lead.write("unit_check", CHECK, {IN_VISIT: None}, b={IN_VISIT: [moved]})
    assert verdicts(take(db, lead, LEAD, 2)) == ["taken"]
    assert visit_of(db) == MADE_ON


def test_a_phone_that_was_away_corrects_the_record_and_moves_it_nowhere(db: Database, crew: Lane, lead: Lane) -> None:
    """Its line names the visit that it knows; so does one that claims to be older than what began the record."""
    lead.write("unit_check", CHECK, {IN_VISIT: MOVED_TO})
    take(db, lead, LEAD)
    crew.write("unit_check", CHECK, {"note": "as last time"}, y=MADE_ON)
    crew.write("unit_check", CHECK, check_of(note="again"), y=OTHER, s="000000000001" + "0000")
    assert verdicts(take(db, crew, CREW, 2)) == ["taken", "taken"]
    assert visit_of(db) == MOVED_TO


def test_a_crew_moves_nothing_neither_its_own_nor_what_it_makes(db: Database, crew: Lane, lead: Lane) -> None:
    crew.write("unit_check", CHECK, {IN_VISIT: OTHER}, y=OTHER)
    crew.write("unit_check", record_id("c2"), check_of(in_visit=OTHER), y=OTHER)
    assert verdicts(take(db, crew, CREW, 2)) == ["not-permitted", "not-permitted"]
    assert visit_of(db) == MADE_ON


def test_a_record_that_is_made_as_moved_is_of_that_visit(db: Database, lead: Lane) -> None:
    """An import's row may be: of one entry no state is folded."""
    lead.write("unit_check", record_id("c3"), check_of(in_visit=MOVED_TO), y=MADE_ON)
    take(db, lead, LEAD)
    assert db.execute("SELECT visit_id, in_visit FROM unit_check WHERE record_id = ?", [record_id("c3")]).fetchone() == (MOVED_TO, MOVED_TO)
    assert visit_of(db) == MADE_ON
