"""Where only a day is known, noon is written for its time: it counts for no hours, no tide and no order within the day."""

from __future__ import annotations

from typing import Any

import pytest

from fieldlog.hours.length import Turn, turn_of
from fieldlog.questions.checks import checks_in_turn
from fieldlog.questions.visits import levels_read, never_signed_out, sign_ins_begun
from fieldlog.store import Programme, write


@pytest.fixture
def with_days(demo_programme: Programme) -> tuple[Any, str]:
    """A site with records whose time is known (in 2024), and whose is not (in 2025)."""
    db = demo_programme.db()
    site_id, unit_id = db.conn.execute("SELECT site_id, record_id FROM unit LIMIT 1").fetchone()
    with write(db):
        for year, known in (("2024", None), ("2025", 0)):
            at, end = f"{year}-07-05T16:00:00.000Z", f"{year}-07-05T18:00:00.000Z"
            db.execute("INSERT INTO sign_in(record_id, site_id, person_id, in_at, out_at, time_known) VALUES (?, ?, 'p', ?, ?, ?)", [f"in-{year}", site_id, at, end, known])
            db.execute("INSERT INTO sign_in(record_id, site_id, person_id, in_at, time_known) VALUES (?, ?, 'p', ?, ?)", [f"out-{year}", site_id, at, known])
            db.execute("INSERT INTO visit(record_id, site_id, observed_at, observed_level_m, started_at, time_known) VALUES (?, ?, ?, 0.1, ?, ?)", [f"v-{year}", site_id, at, at, known])
            db.execute("INSERT INTO unit_check(record_id, site_id, visit_id, unit_id, checked_at, time_known) VALUES (?, ?, ?, ?, ?, ?)", [f"c-{year}", site_id, f"v-{year}", unit_id, at, known])
    return db, site_id


def years(texts: Any) -> set[str]:
    return {text[:4] for text in texts if text and text[5:] in ("07-05T16:00:00.000Z", "07-05T18:00:00.000Z")}


def test_no_hours_are_counted(with_days: tuple[Any, str]) -> None:
    sign_ins = sign_ins_begun(*with_days)
    assert years(row["out_at"] for row in sign_ins if isinstance(turn_of(row), Turn)) == {"2024"}
    assert years(row["in_at"] for row in sign_ins) == {"2024", "2025"}, "who was there counts"


def test_nobody_is_out_by_a_day_alone(with_days: tuple[Any, str]) -> None:
    assert {row[0] for row in never_signed_out(*with_days)} & {"out-2024", "out-2025"} == {"out-2024"}


def test_no_level_is_held_against_the_tide(with_days: tuple[Any, str]) -> None:
    assert years(at for at, _ in levels_read(*with_days, "MLLW")) == {"2024"}


def test_the_order_of_checks_on_a_visit_is_asked_of_known_times_alone(with_days: tuple[Any, str]) -> None:
    assert years(check["checked_at"] for check in checks_in_turn(*with_days)) == {"2024"}


SAID = """async (isMore) => {
  const { momentOf } = await import('/views/words.js');
  const { isOut } = await import('/records/heads-out.js');
  const [at, now, zone] = ['2025-07-05T16:00:00.000Z', Date.parse('2025-07-08T16:00:00Z'), 'America/New_York'];
  const { clockOf, turnMs } = await import('/views/words.js');
  const { saidOf } = await import('/views/difference.js');
  const { entryWords } = await import('/views/entry-words.js');
  const { timeOf } = await import('/records/hours.js');
  const { readUnits } = await import('/views/unit-facts.js');
  const properties = { checked_at: { 'x-type': 'instant' } };
  const day = { record_id: 'day', unit_id: 'u', checked_at: at, time_known: false };
  const checks = [day, { record_id: 'dawn', unit_id: 'u', checked_at: '2025-07-05T10:00:00.000Z' },
    { record_id: 'late', unit_id: 'u', checked_at: '2025-07-05T20:00:00.000Z' }, { record_id: 'before', unit_id: 'u', checked_at: '2025-07-04T20:00:00.000Z' }];
  const phone = { now: () => now, pack: () => ({ forms: { kinds: { unit_check: { properties } } } }), me: { site_id: 's' }, row: async () => ({ tag: 'B024' }),
    rowOrRemoved: async () => day, rows: async (kind) => (kind === 'unit_check' ? [...checks] : kind === 'unit' ? [{ record_id: 'u' }] : []) };
  const said = [clockOf(day, Date.parse(at), zone), saidOf(phone, 'unit_check', 'checked_at', at, zone, day), saidOf(phone, 'unit_check', 'checked_at', at, zone),
    await entryWords(phone, { kind: 'unit_check', recordId: 'day', fields: { checked_at: at }, at_ms: now }, zone)];
  const byTurn = (rows) => [...rows].sort((one, other) => turnMs(other, other.checked_at) - turnMs(one, one.checked_at)).map(({ record_id: id }) => id);
  const [known] = await readUnits(phone, null, []);
  if (isMore) return { said, turn: [byTurn(checks), known.checks.map(({ record_id: id }) => id)], hours: timeOf([{ in_at: at, out_at: '2025-07-05T18:00:00.000Z', time_known: false }]) };
  return [momentOf({ time_known: false }, at, now, zone), momentOf({}, at, now, zone), isOut({ in_at: at }), isOut({ in_at: at, time_known: false })];
}"""


@pytest.mark.browser
def test_a_phone_shows_the_day_alone_and_takes_nobody_for_out(modules_page: Any) -> None:
    assert modules_page.evaluate(SAID, False) == ["Jul 5, 2025", "Sat, Jul 5, 12:00", True, False]


@pytest.mark.browser
def test_noon_is_never_shown_nor_is_an_order_made_of_it(modules_page: Any) -> None:
    told = modules_page.evaluate(SAID, True)
    assert told["said"] == ["time not known", "Jul 5, 2025", "Sat, Jul 5, 12:00", "B024, checked Jul 5, 2025"]
    assert told["turn"] == [["late", "dawn", "day", "before"]] * 2, "a day alone stands before all that have a time on it"
    assert told["hours"] == {"minutes": 0, "count": 1}
