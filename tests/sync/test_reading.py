"""A phone that stood still for long reads its own sites by their index, and the same as one that reads everything."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import create_programme
from fieldlog.sync.opening import open_programme
from fieldlog.sync.past import SEASON_MS, first_page
from fieldlog.sync.reading import FAR, Reading
from tests.sync.lines import START_MS
from tests.sync.taking import CREW, LEAD, OTHER_SITE, SITE

THIRD_SITE = "00000000-0000-4000-8000-00000000000c"
OWN = {10: SITE, 2_000: None, 4_500: SITE, FAR + 400: OTHER_SITE}
"""Where the entries of other sites than the third stand in the log."""

STEP = 100
"""So many instructions of SQLite's machine are counted at a time."""


@pytest.fixture(scope="module")
def long_log(tmp_path_factory: pytest.TempPathFactory) -> Database:
    """A log of another site, among which the phone's own entries stand."""
    folder = tmp_path_factory.mktemp("long")
    create_programme(folder, "Alder Spit").close()
    db = open_programme(folder, CATALOGUE, START_MS).db()
    rows = [
        (seq, f"{seq:032x}", "lane", seq, f"{START_MS + seq:012x}0000", b"{}", "quadrat", f"r{seq}", OWN.get(seq, THIRD_SITE), None, None,
         "open", f"h{seq}", f"c{seq}", START_MS + seq)
        for seq in range(1, FAR + 501)
    ]  # fmt: skip
    with db.conn:
        db.conn.executemany("INSERT INTO log VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)
    return db


@pytest.fixture
def log(long_log: Database) -> Iterator[Database]:
    """The long log; what a test changes of it is taken back."""
    long_log.execute("SAVEPOINT a_test")
    yield long_log
    long_log.execute("ROLLBACK TO a_test")
    long_log.execute("RELEASE a_test")


def steps_of(db: Database, device: Device, start: int, lane: str | None = None) -> tuple[list[int], int]:
    """The numbers that a phone gets after `start`, and what SQLite did for them."""
    told = {"steps": 0}

    def step() -> int:
        told["steps"] += STEP
        return 0

    db.conn.set_progress_handler(step, STEP)
    try:
        return [row[0] for row in Reading(db, device, lane).after(start, 50)], told["steps"]
    finally:
        db.conn.set_progress_handler(None, 0)


@pytest.mark.parametrize("start", [0, 9, 10, 11, 499, 500, 501, 1_999, 4_500, FAR + 399, FAR + 400])
@pytest.mark.parametrize("sites", [{SITE}, {OTHER_SITE}, {SITE, OTHER_SITE}, set()], ids=["its own", "another", "two", "none"])
def test_near_and_far_a_phone_gets_what_is_for_it_in_order(log: Database, start: int, sites: set[str]) -> None:
    device = Device("a-phone", "crew", frozenset(sites), None, False)
    mine = [seq for seq, site in OWN.items() if seq > start and (site is None or site in sites)]
    assert steps_of(log, device, start)[0] == mine


def test_a_phone_far_behind_does_not_read_what_others_wrote(log: Database) -> None:
    near, far = steps_of(log, CREW, 501)[1], steps_of(log, CREW, 500)[1]
    assert far < near / 20, "5,000 entries behind it goes by the site"


def test_a_lane_far_behind_hears_of_what_it_may_not_read(log: Database) -> None:
    log.execute("UPDATE log SET lane_id = 'mine', privacy = 'medical' WHERE seq IN (300, 5300)")
    rows = Reading(log, CREW, "mine").after(0, 50)
    assert [(row[0], bool(row[6])) for row in rows] == [(10, True), (300, False), (2_000, True), (4_500, True), (5_300, False)]
    assert [row[0] for row in Reading(log, CREW, None).after(0, 50)] == [10, 2_000, 4_500]


def test_a_phone_far_behind_does_not_read_all_its_own_lines_for_each_page(log: Database) -> None:
    log.execute("UPDATE log SET lane_id = 'mine', site_id = ?", [SITE])
    (own_lines,) = log.execute("SELECT count(*) FROM log").fetchone()
    (without, least), (pulled, steps) = steps_of(log, CREW, 0), steps_of(log, CREW, 0, "mine")
    assert pulled == without == list(range(1, 51))
    assert steps - least < 10 * own_lines, "each is looked at in the index; reading it takes some forty steps"


def test_of_its_own_lane_a_phone_hears_page_by_page_what_it_may_not_read(log: Database) -> None:
    private = [20, 60, 61, 5_300]
    log.execute("UPDATE log SET lane_id = 'mine', site_id = ?", [SITE])
    log.execute("UPDATE log SET privacy = 'medical' WHERE seq IN (SELECT value FROM json_each(?))", [json.dumps(private)])
    start, pulled = 0, []
    while len(page := Reading(log, CREW, "mine").after(start, 50)) == 50:
        pulled += page
        start = page[-1][0]
        if start > 400:
            break
    assert [row[0] for row in pulled] == list(range(1, start + 1))
    assert [row[0] for row in pulled if not row[6]] == private[:3]


def test_of_several_sites_the_newest_records_come_first(log: Database) -> None:
    device = Device("a-phone", "crew", frozenset({SITE, OTHER_SITE}), None, False)
    found = list(Reading(log, device, None).newest_first(FAR + 1000))
    assert found == [(seq, "quadrat", f"r{seq}", START_MS + seq) for seq in sorted(OWN, reverse=True)]
    assert [row[0] for row in Reading(log, device, None).newest_first(2_000)] == [10], "what stands there has come already"
    log.execute("UPDATE log SET record_id = 'r10' WHERE seq = 4500")
    assert [row[0] for row in Reading(log, device, None).newest_first(FAR + 1000)] == [FAR + 400, 4_500, 2_000], "a record by its newest entry"
    assert [row[0] for row in Reading(log, LEAD, None).newest_first(4)] == [3, 2, 1]


NEEDED_AT_ONCE = (
    "site", "closure", "datum_offset", "row", "control_mark", "unit_design", "casting_batch", "unit", "plot", "species", "person",
    "person_private", "unit_event", "plot_event", "instrument", "own_field", "waiver",
)  # fmt: skip
"""A phone on the shore cannot do without these, however long ago they were written."""


@pytest.mark.parametrize("kind", [*NEEDED_AT_ONCE, "unit_check", "sighting", "visit"])
def test_what_a_site_is_made_of_comes_with_the_season_however_old(log: Database, kind: str) -> None:
    log.execute("UPDATE log SET kind = ? WHERE seq = 10", (kind,))
    after_the_season_ms = START_MS + SEASON_MS + FAR + 1_000
    rows, past = first_page(Reading(log, CREW, None), 50, after_the_season_ms)
    assert [row[0] for row in rows] == ([10] if kind in NEEDED_AT_ONCE else [])
    assert past == FAR + 501, "the rest comes from the log's end backwards"
