"""A damage recorded offline shows at once on that phone, and says that it is not sent."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

SEEN = """async ({ checks, waiting, site, events = [] }) => {
  const { seenHere } = await import('/views/seen-here.js');
  const rows = { unit: { record_id: 'u1', site_id: 's1', tag: 'A010', design_id: 'd1' }, unit_design: { height_mm: 450 } };
  const phone = {
    me: { site_id: site }, counts: () => ({ phone: waiting.length }), now: () => Date.parse('2026-07-02T12:00:00Z'),
    entries: async ({ limit }) => waiting.map((recordId) => ({ kind: 'unit_check', recordId })).slice(0, limit),
    row: async (kind, id) => (kind === 'unit_check' ? checks[id] : rows[kind]),
    rowsOf: async (kind) => (kind === 'unit_check' ? Object.values(checks) : events),
  };
  return (await seenHere(phone, { lean_look_deg: 15 }, 'UTC')).map(({ sentence, severity, unitId, rule }) => [rule, severity, unitId, sentence]);
}"""


def check(at: str = "2026-07-02T10:00:00Z", *, is_sent: bool = False, **fields: object) -> dict[str, object]:
    return {"unit_id": "u1", "checked_at": at, "found_state": "seen", "is_sent": is_sent, **fields}


def event(name: str, at: str) -> dict[str, str]:
    return {"event": name, "event_at": at}


def seen(page, *checks: dict[str, object], site: str = "s1", events: tuple[dict[str, str], ...] = ()) -> list[list[str]]:
    by_id = {str(n): {"record_id": str(n), **one} for n, one in enumerate(checks)}
    waiting = [one for one, check in by_id.items() if not check["is_sent"] for _ in range(2)]
    return page.evaluate(SEEN, {"checks": by_id, "waiting": waiting, "site": site, "events": list(events)})


def test_a_damage_that_waits_here_is_told_at_once(modules_page) -> None:
    assert seen(modules_page, check(lost_volume_pct=12)) == [
        ["damaged", "act", "u1", "A010: a piece broken off, about 12 % of the unit, seen today, not yet sent."],
    ]  # fmt: skip


def test_what_waits_since_an_earlier_day_says_which(modules_page) -> None:
    ((_, severity, _, sentence),) = seen(modules_page, check("2026-06-30T10:00:00Z", tilt_deg=20))
    assert severity == "look"
    assert sentence.startswith("A010: leaning 20\u00b0 (flagged from 15\u00b0), seen Tue")
    assert sentence.endswith("not yet sent.")


def test_a_later_check_that_waits_too_settles_what_it_looked_at(modules_page) -> None:
    later = check("2026-07-02T11:00:00Z", crack_width_mm=0)
    assert [rule for rule, *_ in seen(modules_page, later, check(crack_width_mm=2, rocking=True))] == ["undermined"]


@pytest.mark.parametrize("fields", [{}, {"looked_only": True, "crack_width_mm": 2}, {"found_state": "not_found_dry", "crack_width_mm": 2}], ids=str)
def test_a_sound_a_looked_at_and_an_unfound_unit_tell_nothing(modules_page, fields: dict) -> None:
    assert seen(modules_page, check(**fields)) == []


def test_a_unit_of_another_site_is_not_told_here(modules_page) -> None:
    assert seen(modules_page, check(crack_width_mm=2), site="s2") == []


def test_damage_of_the_morning_is_told_in_the_evening_of_a_long_day(modules_page) -> None:
    """The newest entries come first: looked through only so far, the oldest damage dropped out."""
    later = [check(crack_width_mm=None) for _ in range(200)]
    assert [rule for rule, *_ in seen(modules_page, *later, check(rocking=True))] == ["undermined"]


@pytest.mark.parametrize("done", ["righted", "reset", "placed", "replaced"])
def test_a_unit_set_upright_since_leans_no_more(modules_page, done: str) -> None:
    """It went on to say that the unit leans, seen today and not yet sent, until a sync."""
    leans = check("2026-07-02T09:00:00Z", tilt_deg=20, crack_width_mm=2)
    assert [rule for rule, *_ in seen(modules_page, leans)] == ["damaged", "leaning"]
    assert seen(modules_page, leans, events=(event(done, "2026-07-02T09:30:00Z"),)) == []
    assert len(seen(modules_page, leans, events=(event("cleaned", "2026-07-02T09:30:00Z"), event(done, "2026-07-02T08:30:00Z")))) == 2


def test_it_is_told_again_where_it_leans_after_it_was_set_upright(modules_page) -> None:
    after = check("2026-07-02T10:00:00Z", tilt_deg=17)
    ((rule, _, _, sentence),) = seen(modules_page, check("2026-07-02T09:00:00Z", tilt_deg=20), after, events=(event("righted", "2026-07-02T09:30:00Z"),))
    assert (rule, "17\u00b0" in sentence, "20\u00b0" in sentence) == ("leaning", True, False)


def test_a_later_check_that_came_from_another_phone_takes_it_back_and_one_that_was_sent_before_is_not_told_as_unsent(modules_page) -> None:
    leans, upright = check("2026-07-02T09:00:00Z", tilt_deg=20), check("2026-07-02T10:00:00Z", tilt_deg=2, is_sent=True)
    assert seen(modules_page, leans, upright) == []
    sent = check("2026-07-01T09:00:00Z", tilt_deg=20, rocking=True, is_sent=True)
    assert seen(modules_page, sent, check(exposed_height_mm=200)) == [], "what was sent stands in the programme's flags"
    ((rule, _, _, sentence),) = seen(modules_page, sent, check(rocking=True))
    assert rule == "undermined" and "seen today, not yet sent" in sentence
