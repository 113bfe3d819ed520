"""While two phones disagree about a value that people's safety hangs on, the careful one stands on every phone."""

from __future__ import annotations

import pytest

from tests.phone.phone_page import PhonePage

pytestmark = pytest.mark.browser

SITE = {
    "name": "Alder Spit", "lat_deg": 42.35, "lon_deg": -71.05, "zone": "America/New_York", "tide_station": "noaa/8443970",
    "level_datum": "MLLW", "work_level_m": 0.5, "route_low_level_m": 0.9, "allowance_m": 0.2, "walk_out_min": 12, "muster_min": 10,
    "latest_after_low_min": 60, "least_usable_min": 45,
}  # fmt: skip
CAREFUL = {"work_level_m": 0.4, "route_low_level_m": 0.8, "allowance_m": 0.3, "walk_out_min": 15, "muster_min": 20, "latest_after_low_min": 40}
BOLD = {"work_level_m": 0.6, "route_low_level_m": 1.0, "allowance_m": 0.1, "walk_out_min": 11, "muster_min": 5, "latest_after_low_min": 80}
"""Less water to work in, more kept free: each value of the one is safer than its like of the other."""

MADE = "return (await phone.write('site', null, told, { siteId: null })).recordId;"
CHANGED = "await phone.write('site', told.site, told.fields, { siteId: null });"
SHOWN = "return phone.row('site', told);"


@pytest.mark.parametrize("later", [CAREFUL, BOLD], ids=["the careful later", "the bold later"])
def test_the_careful_value_stands_whichever_was_written_later(lead: PhonePage, browser, live_server, later: dict) -> None:
    site = lead.do(MADE, SITE)
    lead.sync()
    elsewhere = browser.new_context()
    other = PhonePage(elsewhere, live_server.url)
    other.join(live_server.join_link("lead").split("=")[1])
    lead.do(CHANGED, {"site": site, "fields": {**(BOLD if later is CAREFUL else CAREFUL), "level_datum": "MLLW"}})
    other.do("globalThis.skewMs = 60_000;")
    other.do(CHANGED, {"site": site, "fields": {**later, "level_datum": "MLLW", "name": "Alder Point"}})
    for phone in (lead, other, lead):
        phone.sync()
    for phone in (lead, other):
        row = phone.do(SHOWN, site)
        assert {name: row[name] for name in CAREFUL} == CAREFUL
        assert row["name"] == "Alder Point", "what nobody's safety hangs on is the later one's"
    elsewhere.close()


def test_of_three_values_the_most_careful_stands_and_what_says_nothing_does_not_count(modules_page) -> None:
    told = modules_page.evaluate("""async () => {
      const { winners } = await import('/log/merge.js');
      const of = (...values) => ({ fields: { m: { heads: values.map((value, n) => [`${n}`, `${n}`, value]), waiting: [] } } });
      const both = (...values) => ['lower', 'higher', undefined].map((way) => winners(of(...values), way ? { m: way } : {}).m);
      return [both(3, 1, 2), both(1, null), both(null, null), both(7), both('a', 'b')];
    }""")
    assert told == [[1, 3, 2], [1, 1, None], [None, None, None], [7, 7, 7], ["b", "b", "b"]]


def test_of_yes_and_no_the_careful_answer_stands_and_not_known_before_the_bold_one(modules_page) -> None:
    told = modules_page.evaluate("""async () => {
      const { winners } = await import('/log/merge.js');
      const of = (...values) => ({ fields: { m: { heads: values.map((value, n) => [`${n}`, `${n}`, value]), waiting: [] } } });
      const both = (...values) => ['lower', 'higher', undefined].map((way) => winners(of(...values), way ? { m: way } : {}).m);
      return [both(true, false), both(false, true), both(null, false), both(true, null), both(false, null, true), both(false)];
    }""")
    assert told == [[False, True, False], [False, True, True], [False, None, False], [None, True, None], [False, True, True], [False] * 3]


def test_what_came_late_and_claims_to_be_older_is_not_what_made_a_record(modules_page) -> None:
    told = modules_page.evaluate("""async () => {
      const { empty, fold } = await import('/log/merge.js');
      const entry = (id, eff, u) => ({ id, eff, said: { u, g: 'site', y: `visit of ${u}`, f: { note: u } } });
      const some = [entry('a', '0192f0c456000000', 'maker'), entry('b', '0192f0c450008000', 'forger'), entry('c', '0192f0c456000001', 'changer'),
        entry('d', '0192f0c450008001', 'forger')];
      return [some, some.toReversed(), [some[1], some[3], some[2], some[0]]].map((entries) => {
        const state = empty();
        fold(state, entries);
        return [state.first, state.last, state.fields.note.heads.map((head) => head[0])];
      });
    }""")
    assert told == [[["0192f0c456000000", "a", "maker", "site", "visit of maker"], ["0192f0c456000001", "c", "changer"], ["b", "d", "a", "c"]]] * 3


def test_a_phone_names_as_many_values_as_a_line_can_the_latest(modules_page) -> None:
    told = modules_page.evaluate("""async () => {
      const { basesOf } = await import('/log/merge.js');
      const heads = (n) => ({ fields: { m: { heads: Array.from({ length: n }, (_, at) => [String(at + 100), String(at + 100), at]), waiting: [] } } });
      return [64, 65, 200].map((n) => [basesOf(heads(n), 'm').length, basesOf(heads(n), 'm')[0]]).concat([[basesOf(undefined, 'm').length, '']]);
    }""")
    assert told == [[64, "100"], [64, "101"], [64, "236"], [0, ""]]


def test_a_record_that_an_older_app_folded_reads_in_the_form_of_today(modules_page) -> None:
    """It kept instants as they were written: with milliseconds or without, which as texts stand the wrong way round."""
    told = modules_page.evaluate("""async () => {
      const { rowOf } = await import('/store/records.js');
      const heads = [['a', '1', '2026-11-26T14:05:00Z'], ['b', '2', '2026-11-26T14:05:00.500Z']];
      const kept = {
        kind: 'sign_in', id: 'r', isOwn: false, isOpen: true, row: { record_id: 'r', in_at: '2026-11-26T14:04:00Z', out_at: heads[1][2], note: '2026-11-26T14:04:00Z' },
        state: JSON.stringify({ first: null, last: null, fields: { out_at: { heads, waiting: [] } } }),
      };
      return ['earliest', 'latest'].map((way) => rowOf(kept, () => 'taken', { merges: () => ({ out_at: way }), since: () => ({}) }));
    }""")
    assert [row["out_at"] for row in told] == ["2026-11-26T14:05:00.000Z", "2026-11-26T14:05:00.500Z"]
    assert (told[0]["in_at"], told[0]["note"]) == ("2026-11-26T14:04:00.000Z", "2026-11-26T14:04:00Z")


@pytest.mark.parametrize("ended", [{"out_at": "2026-11-26T19:30:00Z"}, {"no_out_reason": "Went home with the van"}], ids=["a time", "a reason"])
def test_who_comes_again_by_a_line_of_an_older_app_is_out_on_the_phone_too(lead: PhonePage, ended: dict[str, str]) -> None:
    """Such a line says the new time in alone; the writers know of each other, so that no field has two values."""
    told = lead.do("""
      const recordId = crypto.randomUUID(), row = async () => {
        const { in_at, out_at, no_out_reason } = await phone.row('sign_in', recordId);
        return [in_at, out_at ?? null, no_out_reason ?? null];
      };
      const write = (fields) => phone.write('sign_in', recordId, fields);
      await write({ person_id: crypto.randomUUID(), in_at: '2026-11-26T19:04:00Z' });
      await write(told);
      const before = await row();
      await write({ in_at: new Date(phone.now() + 1000).toISOString() });
      return [before, await row()].map(([, ...end]) => end.filter((one) => one !== null).length);""", ended)
    assert told == [1, 0]
