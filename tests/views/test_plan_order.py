"""The plan on the phone: read out of its record, kept to while the crew does, re-ordered when it runs late."""

from __future__ import annotations

import math

import pytest

pytestmark = pytest.mark.browser

LOW = "2026-06-14T12:00:00Z"
RUN = """async ({ plans, lowMs, team, done, nowMin, until, backMin }) => {
  const { stopsOf, planFor, orderNow } = await import('/views/plan.js');
  const low = Date.parse('2026-06-14T12:00:00Z');
  const plan = planFor(plans, lowMs === undefined ? low : lowMs);
  if (!plan) return null;
  const stops = stopsOf(plan).filter((one) => one.team === team);
  const told = orderNow(stops, new Set(done), low + nowMin * 60e3, (id) => (until[id] === undefined ? null : low + until[id] * 60e3), backMin === null ? null : low + backMin * 60e3);
  const minute = (ms) => (ms - low) / 60e3;
  return { stops: told.stops.map((one) => [one.stopId, minute(one.beginsMs), one.isLate]), dropped: told.dropped.map((one) => one.stopId), lateMin: told.lateMs / 60e3 };
}"""
PLAN = {"low_at": LOW, "made_at": "2026-06-13T08:00:00Z", "stops": "1 a -40 5 1\n1 b -34 5 4\n1 c -28 10 8\n1 d -17 5 1\n2 e -40 5 1"}
LISTED = {
    **{name: value for name, value in PLAN.items() if name != "stops"}, "stops": "read by older apps alone",
    "planned_stops": [
        {"team": int(team), "stop_kind": "unit", "stop_id": stop, "after_low_min": int(begins), "takes_min": int(takes), "weight": int(weight)}
        for team, stop, begins, takes, weight in (line.split() for line in PLAN["stops"].split("\n"))
    ],
}
"""The same plan as an app that knows lists writes it."""
FLOODS = {"a": 60, "b": 60, "c": 20, "d": 60}


def run(page, **said: object) -> dict:
    asked = {"plans": [PLAN], "team": 1, "done": [], "nowMin": -45, "until": FLOODS, "backMin": 70, **said}
    return page.evaluate(RUN, asked)


@pytest.mark.parametrize("plan", [PLAN, LISTED], ids=["text", "lists"])
def test_a_crew_in_time_has_the_plan_as_it_was_made(modules_page, plan: dict) -> None:
    told = run(modules_page, plans=[plan])
    assert told["stops"] == [["a", -40, False], ["b", -34, False], ["c", -28, False], ["d", -17, False]]
    assert (told["dropped"], told["lateMin"]) == ([], 0)


READ_PLANS = """async (plans) => {
  const { stopsOf, leftOutOf } = await import('/views/plan.js');
  return plans.map((plan) => [stopsOf(plan), leftOutOf(plan)]);
}"""


def test_a_plan_of_lists_is_read_as_the_text_that_older_apps_read(modules_page) -> None:
    text = {**PLAN, "left_out": "f,g no time is left for it\nh floods first"}
    left = [("f", "no time is left for it"), ("h", "floods first"), ("g", "no time is left for it")]
    listed = {**LISTED, "left_out": "x", "left_out_stops": [{"stop_kind": "plot", "stop_id": stop, "why": why} for stop, why in left]}
    of_text, of_lists = modules_page.evaluate(READ_PLANS, [text, listed])
    assert of_text == of_lists
    assert of_lists[1] == [{"ids": ["f", "g"], "why": "no time is left for it"}, {"ids": ["h"], "why": "floods first"}]


def test_a_plan_of_empty_lists_or_of_none_has_no_stops(modules_page) -> None:
    empty = {"low_at": LOW, "planned_stops": [], "left_out_stops": [], "stops": "1 a 0 5 1", "left_out": "a why"}
    sparse = {"low_at": None, "planned_stops": [{"team": 1, "stop_id": "a", "after_low_min": 0, "takes_min": 5, "weight": None}], "left_out_stops": [{"stop_id": "b"}]}
    assert modules_page.evaluate(READ_PLANS, [empty, {}, sparse]) == [
        [[], []], [[], []], [[{"team": 1, "stopId": "a", "beginsMs": 0, "minutes": 5, "weight": 1}], [{"ids": ["b"], "why": ""}]],
    ]  # fmt: skip


UNDONE = """async () => {
  const { savedWithUndo } = await import('/views/undo.js');
  const written = [];
  const stage = {
    say() {}, refuse() {}, unsay() {}, saving: async (save) => { await save(); return true; },
    phone: { writeMany: async (list) => {
      written.push(list);
      return list.map(({ recordId }, n) => ({ recordId: recordId ?? `new-${n}`, before: recordId === 'old' ? { count: 1 } : undefined }));
    } },
  };
  const of = (kind, recordId) => ({ kind, recordId, fields: { count: 2 } });
  const undo = await savedWithUndo(stage, [of('visit_plan', 'plan'), of('visit_plan', 'plan'), of('unit', 'old'), of('unit', 'old'), of('unit', null), of('unit', null)]);
  await undo();
  return written[1].map(({ recordId, fields }) => [recordId, fields]);
}"""


def test_a_plan_that_several_entries_made_is_taken_back_by_one(modules_page) -> None:
    gone, back = {"_deleted": True}, {"count": 1}
    assert modules_page.evaluate(UNDONE) == [["plan", gone], ["old", back], ["old", back], ["new-4", gone], ["new-5", gone]]


def test_a_few_minutes_late_only_moves_the_times(modules_page) -> None:
    told = run(modules_page, done=["a"], nowMin=-31)
    assert [stop for stop, *_ in told["stops"]] == ["b", "c", "d"]
    assert told["stops"][0][1] == -31
    assert told["lateMin"] == 3


def test_late_but_all_fits_keeps_the_order(modules_page) -> None:
    told = run(modules_page, done=["a"], nowMin=-10)
    assert [stop for stop, *_ in told["stops"]] == ["b", "c", "d"]
    assert told["stops"][0][1] == -10


def test_too_late_goes_by_what_floods_first(modules_page) -> None:
    """At 6 min c must be begun by 10: b first would cost it."""
    told = run(modules_page, done=["a"], nowMin=6)
    assert [stop for stop, *_ in told["stops"]] == ["c", "b", "d"]
    assert told["dropped"] == []


def test_what_cannot_be_done_in_time_is_left_out_the_lightest_first(modules_page) -> None:
    told = run(modules_page, done=["a"], nowMin=6, backMin=23)
    assert [stop for stop, *_ in told["stops"]] == ["c", "b"]
    assert told["dropped"] == ["d"]
    told = run(modules_page, nowMin=60)
    assert told["stops"] == [] or all(begins + 5 <= 60 for _, begins, _ in told["stops"])
    assert set(told["dropped"]) >= {"c"}


def test_each_team_has_its_own_stops(modules_page) -> None:
    assert [stop for stop, *_ in run(modules_page, team=2)["stops"]] == ["e"]


def test_the_newest_plan_of_that_low_counts(modules_page) -> None:
    newer = {**PLAN, "made_at": "2026-06-14T07:00:00Z", "stops": "1 d -40 5 1"}
    other = {**PLAN, "low_at": "2026-06-15T12:50:00Z", "made_at": "2026-06-14T09:00:00Z", "stops": "1 b -40 5 1"}
    assert [stop for stop, *_ in run(modules_page, plans=[PLAN, newer, other])["stops"]] == ["d"]
    assert modules_page.evaluate(RUN, {"plans": [PLAN], "lowMs": None, "team": 1, "done": [], "nowMin": 0, "until": {}, "backMin": None}) is None


FLOODED = """async ({ shiftM, tide, now, planned = true }) => {
  const { floodsAt } = await import('/views/floods.js');
  const minutes = 60_000;
  const period = 12.42 * 60 * minutes;
  const rise = (level) => period * Math.acos(1 - level) / (2 * Math.PI);
  const cosine = { levelAt: (ms) => 1 - Math.cos(2 * Math.PI * ms / period),
    crossings: (level, from, to) => [0, 1].flatMap((n) => [{ ms: n * period + rise(level), rising: true }, { ms: (n + 1) * period - rise(level), rising: false }])
      .filter(({ ms }) => from <= ms && ms <= to) };
  const phone = { me: { site_id: 's' }, pack: () => ({ sites: { s: { beds: { low: 0.4 }, windows: { levels: { row: { bed_level_m: 0.7 }, bare: { bed_level_m: null } } } } } }) };
  const found = floodsAt(phone, { site: { allowance_m: 0.1 }, tide: tide ? cosine : null, shiftM, visit: { window_id: 'w', started_at: '1970-01-01T00:00:00Z' }, windows: planned ? [{ id: 'w', lowMs: 0 }] : [] }, ['row', 'low', 'bare', 'row', 'nowhere'], (now ?? 0) * minutes);
  return [...found].map(([id, ms]) => [id, ms === null ? null : ms / minutes]);
}"""


@pytest.mark.parametrize("shift_m", [-0.1, 0.0, 0.2])
def test_a_unit_levelled_lower_than_its_row_floods_before_it(modules_page, shift_m: float) -> None:
    """
    A cosine of 2 m range from its low: ground at z floods T / (2 pi) acos(1 - z) after it, told in the minute before.

    What a lead lets count of lower water counts as it does in the drawing and on the clock; it did not in the list of rows.
    """
    found = dict(modules_page.evaluate(FLOODED, {"shiftM": shift_m, "tide": True}))
    for name, bed_m in (("row", 0.7), ("low", 0.4)):
        assert found[name] == math.floor(12.42 * 60 * math.acos(1 - (bed_m - 0.1 - shift_m)) / (2 * math.pi))
    assert found["low"] < found["row"]
    assert (found["bare"], found["nowhere"]) == (None, None)
    assert set(dict(modules_page.evaluate(FLOODED, {"shiftM": shift_m, "tide": False})).values()) == {None}


def test_ground_that_has_flooded_says_since_when_and_ground_before_its_low_when_it_floods(modules_page) -> None:
    """By the same cosine the ground at 0.3 m over low floods 94.4 min after it: told there was the next day's time."""
    low_min = 12.42 * 60 * math.acos(1 - 0.3) / (2 * math.pi)
    found = dict(modules_page.evaluate(FLOODED, {"shiftM": 0.0, "tide": True, "now": 140}))
    assert found["low"] == math.floor(low_min)
    assert found["row"] == math.floor(12.42 * 60 * math.acos(1 - 0.6) / (2 * math.pi))
    told = modules_page.evaluate("""async (at) => {
      const { floodWords } = await import('/views/floods.js');
      return [at - 60e3, at, at + 180e3].map((ms) => floodWords(ms, at, 'UTC'));
    }""", 1_779_999_960_000)  # 20:26 UTC
    assert told == ["under water since 20:25", "under water since 20:26", "floods 20:29"]
    outside = dict(modules_page.evaluate(FLOODED, {"shiftM": 0.0, "tide": True, "now": 140, "planned": False}))
    assert outside["low"] == math.floor(low_min), "of a visit outside every window too"
    falling = dict(modules_page.evaluate(FLOODED, {"shiftM": 0.0, "tide": True, "now": -100}))
    assert falling["low"] == math.floor(low_min), "the water still falls: it floods after the low"


COUNTED = """async (checks) => {
  const { summaryOf } = await import('/views/visit-end.js');
  const { readUnits } = await import('/views/unit-facts.js');
  const visit = { record_id: 'v' };
  const tables = { unit: ['a', 'b', 'c', 'd'].map((record_id) => ({ record_id })), unit_check: checks };
  const phone = { me: { site_id: 's' }, rows: async (kind) => tables[kind] ?? [] };
  const units = await readUnits(phone, visit, []);
  return [(await summaryOf(phone, visit, [visit])).checked, units.filter((one) => one.lookedNow).length, units.filter((one) => one.checkedNow).length];
}"""


def test_units_that_nobody_could_look_at_are_not_counted_as_checked(modules_page) -> None:
    """They are written down, so the walk goes on to the next one."""
    states = {"a": "seen", "b": "not_found_dry", "c": "not_visited", "d": "not_found_under_water"}
    checks = [{"unit_id": unit, "visit_id": "v", "found_state": state, "checked_at": "2026-06-14T12:00:00Z"} for unit, state in states.items()]
    assert modules_page.evaluate(COUNTED, checks) == [2, 2, 4]
    again = [*checks, {"unit_id": "a", "visit_id": "v", "found_state": "not_visited", "checked_at": "2026-06-14T13:00:00Z"}]
    assert modules_page.evaluate(COUNTED, again) == [2, 2, 4]


READ = """async (checks) => {
  const { lastRead, saidBack } = await import('/views/unit-facts.js');
  const last = lastRead(checks, Date.parse('2026-01-01T00:00:00Z'));
  return [last?.checked_at ?? null, saidBack({ found_state: 'seen', exposed_height_mm: 280 }, last, { height_mm: 450 }, null).means];
}"""
FIRST = "The first height on record since it was placed."


def test_a_height_is_not_the_first_where_an_earlier_check_read_one(modules_page) -> None:
    tilt = {"checked_at": "2026-05-02T10:00:00Z", "found_state": "seen", "tilt_deg": 4}
    height = {"checked_at": "2026-04-02T10:00:00Z", "found_state": "seen", "exposed_height_mm": 300}
    before = {**height, "checked_at": "2025-12-02T10:00:00Z"}
    at, said = modules_page.evaluate(READ, [tilt, height, before])
    assert at == height["checked_at"] and said != FIRST
    assert modules_page.evaluate(READ, [tilt, before]) == [tilt["checked_at"], FIRST]
