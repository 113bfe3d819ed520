"""A site with more flags than a phone is given says so wherever it counts them."""

from __future__ import annotations

import pytest

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.forms import forms

pytestmark = pytest.mark.browser

READ = """  const stage = { phone, zone: 'UTC', params: [], settings: { feet: false }, redraw: () => {} };
  const screen = await (await import(`/views/${view}.js`)).view(stage);
  const place = document.createElement('div');
  render(screen.body(), place);
  return place.textContent.replace(/\\s+/g, ' ');
}"""
"""A screen of that phone, as text."""

SHOWN = """async ([view, shown, open]) => {
  const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const flag = (n) => ({ flag_id: String(n), rule: 'leaning', severity: 'look', state: 'open', sentence: `A${n} leans.`, evidence: {},
    raised_at: '2026-11-01T06:00:00Z', subject: { kind: 'unit', id: `u${n}` } });
  const flags = Array.from({ length: shown }, (_, n) => flag(n));
  const site = { record_id: 's', name: 'Alder Spit', work_level_m: 0.6, level_datum: 'MLLW', tide_station: 'x', zone: 'UTC' };
  const phone = {
    me: { site_id: 's', role: 'crew' }, now: () => Date.parse('2026-11-25T06:00:00Z'),
    pack: () => ({ sites: { s: { flags, flag_counts: { open, settled: 0 } } }, forms: { kinds: {} } }),
    lackingTiers: [], counts: () => ({ phone: 0 }), rows: async () => [], row: async (kind) => (kind === 'site' ? site : undefined), tides: () => null, windows: () => [],
  };
""" + READ


def test_the_flags_screen_says_how_many_of_all_it_shows(modules_page) -> None:
    assert "200 of 696 shown" in modules_page.evaluate(SHOWN, ["flags", 200, 696])
    few = modules_page.evaluate(SHOWN, ["flags", 3, 3])
    assert "3 flags" in few
    assert "shown" not in few


DUE = """async (now) => {
  const { flagCounts, openFlags } = await import('/views/open-flags.js');
  const flag = (id, at) => ({ flag_id: id, rule: 'overdue', severity: 'look', state: 'open', raised_at: at, subject: { kind: 'unit', id } });
  const site = { flags: [flag('a', '2026-11-20T06:00:00Z')], flag_counts: { open: 9, settled: 2 }, due_at: ['2026-11-25T06:00:00Z', '2026-11-25T06:00:00Z', '2026-11-25T18:30:00Z'],
    due_today: [flag('b', '2026-11-25T06:00:00Z'), flag('c', '2026-11-25T18:30:00Z')] };
  const phone = { me: { site_id: 's' }, now: () => Date.parse(now), pack: () => ({ sites: { s: site } }) };
  return [openFlags(phone).map((one) => one.flag_id).join(''), flagCounts(phone).open, flagCounts(phone).settled];
}"""


@pytest.mark.parametrize(
    ("now", "shown", "counted"),
    [("2026-11-25T05:59:59Z", "a", 9), ("2026-11-25T06:00:00Z", "ab", 11), ("2026-11-25T18:30:00Z", "abc", 12), ("2026-11-28T00:00:00Z", "abc", 12)],
)
def test_a_unit_is_overdue_from_its_moment_on_also_on_a_phone_without_a_network(modules_page, now, shown, counted) -> None:
    assert modules_page.evaluate(DUE, now) == [shown, counted, 2]


def test_today_counts_all_and_says_which_it_lists(modules_page) -> None:
    told = modules_page.evaluate(SHOWN, ["today", 200, 696])
    assert "696 flags" in told
    assert "The 200 most severe of 696 flags" in told
    assert "All 7 flags" in modules_page.evaluate(SHOWN, ["today", 7, 7])


EVIDENCE = """async ([forms, flags]) => {
  const { evidenceLines } = await import('/views/evidence.js');
  const stage = { zone: 'America/New_York', phone: { pack: () => ({ forms }), now: () => Date.parse('2026-11-25T06:00:00Z') } };
  return flags.map(([kind, evidence]) => Object.fromEntries(evidenceLines({ subject: { kind, id: 'r' }, evidence }, stage)));
}"""
RESTS_ON = [
    ("unit", {"lost_volume_pct": 15, "chip_depth_mm": 60.0, "grade": 3, "computed_grade": None, "check_id": "c", "photos": 2},
     {"Volume lost": "15 %", "Chip depth": "60 mm", "Grade": "3 of 4", "Grade from measurements": "not known", "Photos": "2"}),
    ("unit", {"rocking": True, "scour_depth_mm": 54, "height_mm": 450}, {"Rocks when pushed": "yes", "Scour depth at the toe": "54 mm", "Height": "450 mm"}),
    ("unit", {"rocking": 1}, {"Rocks when pushed": "yes"}),
    ("unit", {"rocking": 0}, {"Rocks when pushed": "no"}),
    ("unit", {"tilt_deg": 17, "limit_deg": 15}, {"Tilt": "17\u00b0", "Flagged from": "15\u00b0"}),
    ("unit", {"displacement_m": 0.1253, "bearing_deg": 61.4, "least_shift_m": 0.125, "method": "tapes", "zero_method": "typed", "doubts": ["narrow angle"], "p": 1e-9},
     {"Chance of this where nothing moves": "under 0.001", "Off its first position": "0.125 m", "Direction, from true north": "61.4\u00b0", "Smallest shift that matters": "0.125 m", "Method": "Tapes from marks",
      "First position by": "Typed in", "In doubt": "narrow angle"}),
    ("unit", {"days": 61, "check_every_days": 60, "body_by_eye": 0, "body_as_measured": 3},
     {"Days since": "61", "Check every": "60 d", "Body, by eye": "0 of 4", "Body, as measured": "3 of 4"}),
    ("unit_check", {"field": "found_state", "values": ["seen", "probed"]}, {"Found": "Seen, Felt with the probe"}),
    ("unit_check", {"field": "exposed_height_mm", "values": [244, None]}, {"Exposed height": "244 mm, nothing"}),
    ("unit_check", {"field": "unit_id", "parent_kind": "unit", "parent_id": "u"}, {"Kind of record": "Unit"}),
    ("unit_check", {"field": "found_state", "what": "missing"}, {}),
    ("unit", {"rule": "not_found", "fault": "KeyError"}, {"Rule": "not found", "Kind of fault": "KeyError"}),
    ("unit", {"a_newer_servers_mm": 4}, {"a newer servers, mm": "4"}),
]  # fmt: skip


def test_evidence_is_named_as_the_forms_name_it_with_its_unit(modules_page) -> None:
    told = modules_page.evaluate(EVIDENCE, [forms(CATALOGUE), [[kind, evidence] for kind, evidence, _ in RESTS_ON]])
    assert told == [words for _, _, words in RESTS_ON]


FOLDED = """async ([forms, evidence]) => {
  const { evidenceRows } = await import('/views/evidence.js');
  const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const stage = { zone: 'America/New_York', phone: { pack: () => ({ forms }), now: () => Date.parse('2026-11-25T06:00:00Z') } };
  render(evidenceRows({ subject: { kind: 'unit', id: 'r' }, evidence }, stage), document.body);
  return [...document.querySelectorAll('dt')].map((one) => [one.textContent, one.closest('details')?.querySelector('summary').textContent ?? null, one.checkVisibility()]);
}"""


def test_what_a_test_of_numbers_came_to_stands_under_details(modules_page) -> None:
    evidence = {"displacement_m": 0.1253, "t2": 18.2, "p": 0.0002, "tape_factor": 1.5, "tapes": 312}
    statistics = ["Test value T\u00b2", "Chance of this where nothing moves", "Tapes here differ", "Tapes of this site looked at"]
    shown = [["Off its first position", None, True], ["Raised", None, True], *([name, "Details", False] for name in statistics)]
    assert modules_page.evaluate(FOLDED, [forms(CATALOGUE), evidence]) == shown
    assert len(modules_page.evaluate(FOLDED, [forms(CATALOGUE), {"displacement_m": 0.1253}])) == 2, "else nothing is folded"


TWO_VALUES = """async ([view, forms, role, own = {}]) => {
  const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const rows = {
    site: { s: { record_id: 's', name: 'Alder Spit', zone: 'UTC', level_datum: 'MLLW', tide_station: 'x' } },
    person: role === 'reader' ? {} : { k: { record_id: 'k', display_name: 'Kenji Rourke' }, a: { record_id: 'a', display_name: 'Ada Finch' } },
    visit: { v: { record_id: 'v', site_id: 's', started_at: '2026-11-24T14:00:00.000Z' } },
    sign_in: { i: { record_id: 'i', site_id: 's', visit_id: 'v', person_id: 'k', task: 'carrying', in_at: '2026-11-24T14:05:00.000Z', out_at: '2026-11-24T15:05:00.000Z' } },
  };
  const flag = { flag_id: 'f', rule: 'disagreement', severity: 'look', state: 'open', sentence: 'Sign-in: two phones wrote different values for Task.', evidence: { field: 'task' },
    raised_at: '2026-11-24T15:00:00Z', subject: { kind: 'sign_in', id: 'i' }, ...own };
  const entry = (entryId, by, at, task) => ({ entryId, by, at_ms: Date.parse(at), fields: { task } });
  const phone = { lackingTiers: [],
    me: { site_id: 's', role }, now: () => Date.parse('2026-11-25T06:00:00Z'), pack: () => ({ sites: { s: { flags: [flag], flag_counts: { open: 1, settled: 0 } } }, forms }),
    lackingTiers: [], counts: () => ({ phone: 0 }), rows: async () => [], tides: () => null, windows: () => [],
    row: async (kind, id) => rows[kind]?.[id], rowOrRemoved: async (kind, id) => rows[kind]?.[id],
    disagreements: async () => [{ field: 'task', ids: ['2', '1'], winner: 'carrying', others: ['casting'] }],
    historyOf: async () => [entry('1', 'a', '2026-11-24T16:00:00Z', 'casting'), entry('2', null, '2026-11-24T17:00:00Z', 'carrying')],
  };
""" + READ


@pytest.mark.parametrize("view", ["today", "flags"])
def test_two_values_are_told_in_the_list_with_whose_they_are_the_visit_who_and_when(modules_page, view) -> None:
    told = modules_page.evaluate(TWO_VALUES, [view, forms(CATALOGUE), "lead"])
    wrote = "two phones wrote Carrying (a phone with nobody chosen, Tue, Nov 24, 17:00) and Casting (Ada Finch, Tue, Nov 24, 16:00) for Task. Carrying is used until someone decides."
    assert f"Kenji Rourke, visit of Tue, Nov 24: {wrote}" in told


def test_a_reader_is_told_no_names(modules_page) -> None:
    told = modules_page.evaluate(TWO_VALUES, ["flags", forms(CATALOGUE), "reader"])
    assert "two phones wrote Carrying (Tue, Nov 24, 17:00) and Casting (Tue, Nov 24, 16:00) for Task." in told


@pytest.mark.parametrize("view", ["today", "flags"])
def test_any_other_flag_of_a_sign_in_begins_with_the_person(modules_page, view) -> None:
    clock = {"rule": "clock_off", "sentence": "Sign-in: Out says Nov 24, 2026, 15:05, 61 min after it was written down.", "evidence": {}}
    told = modules_page.evaluate(TWO_VALUES, [view, forms(CATALOGUE), "lead", clock])
    assert "Kenji Rourke, visit of Tue, Nov 24: Out says Nov 24, 2026, 15:05" in told
