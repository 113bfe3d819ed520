"""A change of a record names the record's own site, and repeats nothing that this person may set only when it is made."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.phone.phone_page import PhonePage

pytestmark = pytest.mark.browser
A, B = "00000000-0000-4000-8000-00000000000a", "00000000-0000-4000-8000-00000000000b"
LINES = "return (await phone.store.run(['lines'], 'readonly', (tx) => tx.store.getAll())).map((line) => JSON.parse(line.text));"


def lines_of(phone: PhonePage) -> list[dict[str, Any]]:
    return phone.do(LINES)


def test_a_change_names_the_site_of_its_record_whichever_site_is_chosen(lead) -> None:
    unit = lead.do("return (await phone.write('unit', null, { tag: 'A1' }, { siteId: told })).recordId;", A)
    lead.do("await phone.setSite(told.site); await phone.write('unit', told.unit, { tag: 'A2' });", {"site": B, "unit": unit})
    lead.do("await phone.write('unit', told.unit, { tag: 'A3' }, { siteId: told.site });", {"site": B, "unit": unit})
    lead.do("await phone.writeMany([{ kind: 'unit', recordId: told, fields: { tag: 'A4' } }]);", unit)
    assert [line["g"] for line in lines_of(lead)] == [A] * 4
    lead.do("await phone.write('unit', null, { tag: 'B1' });")
    assert lines_of(lead)[-1]["g"] == B, "a new record is of the chosen site"


def test_a_change_of_a_record_of_the_whole_programme_names_no_site(lead) -> None:
    species = lead.do("return (await phone.write('species', null, { scientific_name: 'x' }, { siteId: null })).recordId;")
    lead.do("await phone.setSite(told.site); await phone.write('species', told.id, { common_name: 'y' });", {"site": A, "id": species})
    assert [line["g"] for line in lines_of(lead)] == [None, None]


def test_a_site_is_of_itself_whatever_is_chosen(lead) -> None:
    site = lead.do("return (await phone.write('site', null, { name: 'Skein Bay' }, { siteId: told })).recordId;", A)
    lead.do("await phone.setSite(told.chosen); await phone.write('site', told.site, { muster_min: 9 });", {"chosen": A, "site": site})
    assert [line["g"] for line in lines_of(lead)] == [site] * 2


def test_crew_does_not_repeat_what_they_may_say_only_when_a_person_is_made(lead) -> None:
    """A form that is saved, and whose draft outlives the app, is saved again: as a change, of which minor: no would be held."""
    person = """
      phone.me = { ...phone.me, role: told };
      Object.assign(phone.packed.content.forms.kinds.person.properties.minor, { 'x-crew': 'on' });
      const fields = { display_name: 'Ada', role: 'student', minor: false };
      const { recordId } = await phone.write('person', null, fields, { siteId: null });
      await phone.write('person', recordId, { ...fields, role: 'volunteer' });
      await phone.write('person', recordId, { minor: true });
      await phone.write('person', recordId, { minor: false });
      return recordId;"""
    lead.do(person, "crew")
    made, again, to_yes, to_no = [line["f"] for line in lines_of(lead)]
    assert made["minor"] is False
    assert again == {"display_name": "Ada", "role": "volunteer"}
    assert (to_yes, to_no) == ({"minor": True}, {"minor": False}), "what differs is written, and held with a sentence"
    lead.do(person, "lead")
    assert lines_of(lead)[5]["f"]["minor"] is False, "a lead may say so again"


def test_a_change_of_only_what_may_not_be_repeated_is_written_all_the_same(lead) -> None:
    lead.do("""
      phone.me = { ...phone.me, role: 'crew' };
      Object.assign(phone.packed.content.forms.kinds.person.properties.minor, { 'x-crew': 'on' });
      const { recordId } = await phone.write('person', null, { display_name: 'Ada', minor: false }, { siteId: null });
      await phone.write('person', recordId, { minor: false });""")
    assert [line["f"] for line in lines_of(lead)][1] == {"minor": False}


def held(phone: PhonePage, why: str, sentence: str) -> None:
    """The server holds all that comes, for this reason."""
    phone.do("delete globalThis.CompressionStream;")

    def answer(route: Any) -> None:
        given = route.fetch()
        reply = given.json()
        for ack in reply["acks"]:
            ack[2:] = ["q", 0, why, sentence]
        reply["pull"] = []
        route.fulfill(response=given, body=json.dumps(reply))

    phone.page.route("**/api/sync", answer)
    phone.sync()
    phone.page.unroute("**/api/sync")


def test_an_entry_held_for_another_site_is_saved_again_at_one_tap(lead, context, live_server) -> None:
    """As apps of 0.2.0 wrote it: under the chosen site, of a record of another."""
    whole = "{ tag: 'A1', row_id: told, slot_number: 1 }"
    unit = lead.do(f"return (await phone.write('unit', null, {whole}, {{ siteId: told }})).recordId;", A)
    lead.sync()
    assert lead.states() == ["taken"]
    lead.do("""
      const { writeEntries } = await import('/log/entries.js');
      await phone.store.run(['records'], 'readwrite', (tx) => tx.store.delete(['unit', told.unit]));
      await phone.writeMany([{ kind: 'unit', recordId: told.unit, fields: { tag: 'A2' }, siteId: told.site }]);
      const { rebuildAll } = await import('/log/folding.js');
      await phone.store.run(['lines', 'others', 'records'], 'readwrite', rebuildAll);""", {"unit": unit, "site": B})
    held(lead, "other-site", "This record is of another site. Save it again.")
    page = context.new_page()
    page.goto(f"{live_server.url}/#/phone")
    page.get_by_text("This record is of another site. Save it again.").wait_for()
    page.get_by_role("button", name="save again").click()
    page.get_by_text("Saved with its record’s site.").wait_for()
    last = lines_of(lead)[-1]
    assert (last["g"], last["f"], last["r"]) == (A, {"tag": "A2"}, unit)
    assert last["fixes"]
    assert lead.do("await phone.tally.read(); return phone.counts().held;") == 0


def test_an_entry_held_as_not_this_persons_offers_no_form_that_could_not_help(lead, context, live_server) -> None:
    lead.do("await phone.write('species', null, { scientific_name: 'x' }, { siteId: null });")
    held(lead, "not-yours", "Only a lead can remove what others made.")
    page = context.new_page()
    page.goto(f"{live_server.url}/#/phone")
    page.get_by_text("Only a lead can remove what others made.").wait_for()
    assert page.get_by_role("button", name="fix").count() == 0
    assert page.get_by_role("button", name="save again").count() == 0


def test_an_entry_held_at_a_crowded_record_is_saved_again_in_the_place_of_what_stands(lead, context, live_server) -> None:
    species = lead.do("return (await phone.write('species', null, { scientific_name: 'Ostrea', common_name: 'Oyster' }, { siteId: null })).recordId;")
    lead.sync()
    lead.do("await phone.write('species', told, { common_name: 'Flat oyster' }, { siteId: null });", species)
    held(lead, "crowded", "This record carries very many values.")
    page = context.new_page()
    page.goto(f"{live_server.url}/#/phone")
    page.get_by_text("This record carries very many values.").wait_for()
    page.get_by_role("button", name="save again").click()
    page.get_by_text("Saved in place of the values here.").wait_for()
    made, refused, last = lines_of(lead)[-3:]
    assert (last["f"], last["r"]) == ({"common_name": "Flat oyster"}, made["r"])
    assert last["b"]["common_name"] == refused["b"]["common_name"], "what was held stands nowhere"
    assert last["fixes"]


NAME_A_UNIT = """
      const write = async (kind, id, fields, siteId) => (await phone.write(kind, id, fields, { siteId })).recordId;
      const unit = await write('unit', null, { tag: 'A018' }, told.A);
      const check = await write('unit_check', null, { unit_id: unit, checked_at: '2026-11-01T06:12:00Z' }, told.A);
      for (const site of [told.A, told.B]) {
        const note = site === told.A ? 'own' : 'forged';
        await write('unit_check', null, { unit_id: unit, checked_at: '2026-11-21T06:12:00Z', note }, site);
        await write('unit_event', null, { unit_id: unit, event: 'placed', event_at: '2026-11-01T06:12:00Z', note }, site);
        await write('position_fix', null, { of_kind: 'unit', of_id: unit, method: 'typed', east_m: 5, north_m: 7, note }, site);
        await write('position_fix', null, { of_kind: 'plot', of_id: unit, method: 'typed', east_m: 5, north_m: 7, note: 'of a plot' }, site);
        await write('photo', null, { of_kind: 'unit_check', of_id: check, shows: note }, site);
      }
      await phone.setSite(told.chosen);
      const [here, begun] = [{ kind: 'unit', id: unit }, { kind: 'unit_check', id: phone.newId(told.B) }];
      for (const site of [told.A, told.B]) await write('photo', null, { of_kind: 'unit_check', of_id: begun.id, shows: site }, site);
      const seen = async (kind, of) => (await phone.rowsOf(kind, of)).map((row) => row.note ?? row.shows ?? 'own').sort();
      return [await seen('unit_check', here), await seen('unit_event', here), await seen('position_fix', here), await seen('photo', { kind: 'unit_check', id: check }),
        await seen('photo', begun)];"""


@pytest.mark.parametrize("chosen", [A, B], ids=["own", "other"])
def test_what_names_a_record_is_read_of_its_own_site_whichever_is_chosen(lead, chosen) -> None:
    """A crew of one site knows the id of another's unit, writes it down, and a phone of both sites has it all."""
    *told, begun = lead.do(NAME_A_UNIT, {"A": A, "B": B, "chosen": chosen})
    assert told == [["own", "own"], ["own"], ["own"], ["own"]]
    assert begun == [chosen], "of a check that is not saved yet, those of the chosen site"


def test_what_is_removed_is_off_the_lists_stays_readable_and_comes_back(lead) -> None:
    told = lead.do("""
      const { recordId } = await phone.write('unit', null, { tag: 'A1' }, { siteId: told });
      const lists = async () => [await phone.rows('unit', { siteId: told }), await phone.rowsAndRemoved('unit', { siteId: told })]
        .map((rows) => rows.filter((row) => row.record_id === recordId).length);
      const seen = [await lists()];
      for (const _deleted of [true, false]) {
        await phone.write('unit', recordId, { _deleted });
        seen.push([...await lists(), Boolean(await phone.row('unit', recordId)), (await phone.rowOrRemoved('unit', recordId)).tag]);
      }
      return [seen, (await phone.historyOf('unit', recordId)).map(({ own, fields }) => [own, fields._deleted ?? null])];""", A)
    assert told == [[[1, 1], [0, 1, False, "A1"], [1, 1, True, "A1"]], [[True, None], [True, True], [True, False]]]


IMPORTED = """
const { foldIn } = await import('/log/folding.js');
let n = 0;
const entry = (t, r, f, more = {}) => {
  n += 1;
  const id = String(n).padStart(32, '0');
  return { id, eff: `0197000000${String(n).padStart(2, '0')}0000`, isOwn: false, said: { t, r, g: told, y: null, u: null, f, b: {}, ...more } };
};
const fold = async (...entries) => {
  await phone.store.run(['records'], 'readwrite', (tx) => foldIn(tx, entries));
  phone.shown.forget();
};
const tags = async () => (await phone.rows('unit', { siteId: told })).map((row) => row.tag).sort().join(' ');
const made = entry('import', 'i-1', { file_name: 'a.csv' });
await fold(made, ...['A', 'B', 'C'].map((tag) => entry('unit', `u-${tag}`, { tag }, { i: 'i-1' })), entry('unit', 'u-D', { tag: 'D' }));
const seen = [await tags()];
await fold(entry('unit', 'u-B', { tag: 'B2' }));
const gone = entry('import', 'i-1', { _deleted: true });
await fold(gone);
seen.push(await tags(), (await phone.row('unit', 'u-A'))?.tag ?? 'none', (await phone.rowOrRemoved('unit', 'u-A'))._deleted);
seen.push((await phone.rowsAndRemoved('unit', { siteId: told })).filter((row) => row._deleted).map((row) => row.tag).sort().join(' '));
await fold(entry('unit', 'u-C', { tag: 'C2' }));
seen.push(await tags());
await fold(entry('import', 'i-1', { _deleted: false }, { b: { _deleted: [gone.id] } }));
seen.push(await tags());
return seen;
"""


def test_what_an_import_made_goes_and_comes_with_it_but_for_what_somebody_changed_since(lead) -> None:
    """`test_taking.py` says the same of the server."""
    assert lead.do(IMPORTED, A) == ["A B C D", "B2 D", "none", True, "A C", "B2 C2 D", "A B2 C2 D"]
