"""A site with more flags than a phone is given says so wherever it counts them."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

SHOWN = """async ([view, shown, open]) => {
  const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const flag = (n) => ({ flag_id: String(n), rule: 'leaning', severity: 'look', state: 'open', sentence: `A${n} leans.`, evidence: {},
    raised_at: '2026-11-01T06:00:00Z', subject: { kind: 'unit', id: `u${n}` } });
  const flags = Array.from({ length: shown }, (_, n) => flag(n));
  const site = { record_id: 's', name: 'Alder Spit', work_level_m: 0.6, level_datum: 'MLLW', tide_station: 'x', zone: 'UTC' };
  const phone = {
    me: { site_id: 's', role: 'crew' }, now: () => Date.parse('2026-11-25T06:00:00Z'),
    pack: () => ({ sites: { s: { flags, flag_counts: { open, settled: 0 } } }, forms: { kinds: {} } }),
    counts: () => ({ phone: 0 }), rows: async () => [], row: async (kind) => (kind === 'site' ? site : undefined), tides: () => null, windows: () => [],
  };
  const stage = { phone, zone: 'UTC', params: [], settings: { feet: false }, redraw: () => {} };
  const screen = await (await import(`/views/${view}.js`)).view(stage);
  const place = document.createElement('div');
  render(screen.body(), place);
  return place.textContent.replace(/\\s+/g, ' ');
}"""


def test_the_flags_screen_says_how_many_of_all_it_shows(modules_page) -> None:
    assert "200 of 696 shown" in modules_page.evaluate(SHOWN, ["flags", 200, 696])
    few = modules_page.evaluate(SHOWN, ["flags", 3, 3])
    assert "3 flags" in few
    assert "shown" not in few


DUE = """async (now) => {
  const { flagCounts, openFlags } = await import('/views/shore.js');
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
