"""What counts as saved is on the disk: whatever is killed, cleared, or written at the same moment."""

from __future__ import annotations

import pytest

from tests.find_chromium import kill_browser
from tests.phone.phone_page import SPECIES, PhonePage
from tests.waiting import wait_until

pytestmark = pytest.mark.browser


def test_a_phone_killed_while_saving_keeps_all_that_was_said_to_be_saved(
    playwright, chromium_options, bench_url, tmp_path
) -> None:
    profile = tmp_path / "profile"
    context = playwright.chromium.launch_persistent_context(profile, **chromium_options)
    phone = PhonePage(context, bench_url, "/blank")
    saved = []
    phone.page.on("console", lambda message: len(message.text) == 32 and saved.append(message.text))
    # A draft is written a moment after the last letter; what is killed before that is half a word, not what this test is about.
    phone.do("phone.keepDraft('unit_check:u1', { note: 'half a sen' }, { field: 'note' }); await phone.drafts_.flush();")
    with phone.page.expect_event("console", predicate=lambda _message: len(saved) > 20):
        phone.do(f"(async () => {{ for (;;) {{ const {{ entryId }} = await {SPECIES}; console.log(entryId); }} }})();")
    kill_browser(context, profile)
    context = playwright.chromium.launch_persistent_context(profile, **chromium_options)
    phone = PhonePage(context, bench_url, "/blank")
    numbers = phone.numbers()
    assert numbers == list(range(1, len(numbers) + 1))
    entries = phone.do("return (await phone.entries({ limit: 10000 })).map((entry) => entry.entryId);")
    assert set(saved) <= set(entries)
    assert phone.do("return (await phone.rows('species')).length;") == len(numbers)
    assert phone.do("return phone.draft('unit_check:u1');") == {"note": "half a sen"}
    phone.write()
    assert phone.numbers()[-1] == len(numbers) + 1
    context.close()


def test_two_pages_writing_at_once_number_without_a_gap_or_a_double(lead, context, live_server) -> None:
    other = PhonePage(context, live_server.url)
    lead.do(f"globalThis.work = (async () => {{ for (let turn = 0; turn < 60; turn++) await {SPECIES}; }})();")
    other.write(60)
    lead.do("await work;")
    assert lead.numbers() == list(range(1, 121))
    assert lead.sync() is True
    assert other.states() == ["taken"] * 120
    wait_until(other.page, "phone.counts().taken === 120")


def test_two_pages_syncing_at_once_without_locks_double_nothing(lead, context, live_server) -> None:
    other = PhonePage(context, live_server.url)
    for page in (lead, other):
        page.do("Object.defineProperty(navigator, 'locks', { value: undefined });")
    lead.write(50)
    lead.do("globalThis.work = phone.syncNow();")
    other.sync()
    lead.do("await work; await phone.syncNow();")
    assert lead.states() == ["taken"] * 50
    assert live_server.programme.db().conn.execute("SELECT count(*) FROM log").fetchone() == (50,)


def test_a_connection_that_died_in_the_background_is_opened_anew(lead) -> None:
    lead.write()
    lead.do("(await phone.store.connection()).close();")
    lead.write()
    assert lead.numbers() == [1, 2]
    assert lead.do("return faults;") == []


def test_a_database_that_stays_dead_is_a_red_not_saved_and_no_silence(lead) -> None:
    lead.do("""
      IDBDatabase.prototype.transaction = () => { throw new DOMException('gone', 'UnknownError'); };""")
    said = lead.do(f"return tell(() => {SPECIES});")
    assert said.startswith("NOT SAVED.")
    assert lead.do("return faults;") == [said]


def test_a_draft_is_kept_within_300_ms_and_at_once_when_the_page_is_hidden(lead, context, live_server) -> None:
    wait_ms = lead.do("""
      const real = setTimeout;
      let wait = null;
      globalThis.setTimeout = (work, ms) => { wait = ms; return real(work, ms); };
      phone.keepDraft('sighting:new', { count: 4 }, { field: 'count' });
      globalThis.setTimeout = real;
      return wait;""")
    assert wait_ms <= 300
    assert lead.do("return phone.draft('sighting:new');") == {"count": 4}
    other = PhonePage(context, live_server.url)
    other.do("return null;")
    wait_until(other.page, "phone.draft('sighting:new').then((kept) => kept?.count === 4)")
    lead.do("phone.keepDraft('sighting:new', { count: 5 }, { field: 'count' });")
    lead.page.evaluate("window.dispatchEvent(new Event('pagehide'))")
    lead.page.close()
    assert other.do("return phone.draft('sighting:new');") == {"count": 5}
    assert [draft["field"] for draft in other.do("return phone.drafts();")] == ["count"]
    other.do("await phone.dropDraft('sighting:new');")
    assert other.do("return phone.drafts();") == []


def test_leaving_is_refused_while_anything_waits(lead) -> None:
    lead.write()
    said = lead.do("return tell(() => phone.leave());")
    assert said.startswith("Only this phone has 1 entry, ")
    lead.sync()
    lead.do("await phone.leave();")
    assert lead.do("return [phone.me, (await phone.rows('species')).length, phone.counts().taken];") == [None, 0, 0]


def test_a_record_shows_the_worst_state_of_its_own_entries(lead) -> None:
    made = lead.do(f"return (await {SPECIES}).recordId;")
    state = "return (await phone.row('species', told)).entry_state;"
    assert lead.do(state, made) == "phone"
    lead.sync()
    assert lead.do(state, made) == "taken"
    wrong = lead.do("return phone.write('species', told, { no_such_field: 1 }, { siteId: null });", made)
    lead.sync()
    assert lead.do(state, made) == "held"
    assert lead.do("return 'no_such_field' in (await phone.row('species', told));", made) is False
    assert lead.do("return phone.counts().held;") == 1
    (held,) = lead.do("return phone.entries({ state: 'held' });")
    assert (held["entryId"], held["why"]) == (wrong["entryId"], "unknown-field:no_such_field")
    assert held["sentence"]
    fix = "await phone.write('species', told.record, { common_name: 'bladder wrack' }, { siteId: null, fixes: told.entry });"
    lead.do(fix, {"record": made, "entry": wrong["entryId"]})
    lead.sync()
    assert lead.do(state, made) == "taken"
    assert lead.do("return phone.counts().held;") == 0


def test_rows_are_made_once_and_anew_where_something_of_them_changed(lead) -> None:
    lead.do(f"globalThis.first = await {SPECIES}; await {SPECIES}; globalThis.before = await phone.rows('species');")
    assert lead.do("const now = await phone.rows('species'); return now.map((one, n) => one === before[n]);") == [True, True]
    assert lead.do("return before.every((row) => Object.isFrozen(row));"), "a screen that wrote into one would write into all"
    lead.do("await phone.write('species', first.recordId, { scientific_name: 'Fucus spiralis' }, { siteId: null });")
    names = "return (await phone.rows('species')).map((one) => [before.includes(one), one.scientific_name, one.entry_state]);"
    assert lead.do(names) == [[False, "Fucus spiralis", "phone"], [True, "Fucus vesiculosus", "phone"]]
    lead.sync()
    assert lead.do(names) == [[False, "Fucus spiralis", "taken"], [False, "Fucus vesiculosus", "taken"]]


def test_a_mended_entry_is_held_again_once_its_mending_is_taken_back(lead, live_server) -> None:
    """A held entry that was mended had no undo: what was saved by mistake stood, and the entry could not be mended otherwise."""
    undo = """const { savedWithUndo } = await import('/views/undo.js');
      const stage = { phone, say() {}, async saving(work) { await work(); return true; } };
      const back = await savedWithUndo(stage, [{ kind: 'species', recordId: told.record, siteId: null, fixes: told.entry,
        fields: { scientific_name: 'Fucus vesiculosus' } }]);
      const { held } = phone.counts();
      return [held, await back(), phone.counts().held, (await phone.entries({ state: 'held' }))[0].isMended, await phone.row('species', told.record)];"""
    wrong = lead.do("return phone.write('species', null, { no_such_field: 1, scientific_name: 'Fucus' }, { siteId: null });")
    lead.sync()
    assert lead.do("return phone.counts().held;") == 1
    given = {"record": wrong["recordId"], "entry": wrong["entryId"]}
    assert lead.do(undo, given) == [0, True, 1, False, None]
    lead.sync()
    assert lead.do("await phone.recount(); return [phone.counts().held, await phone.row('species', told.record)];", given) == [1, None]
    (told,) = lead.do("return phone.pack().tray;")
    assert (told["entry_id"], live_server.programme.db().execute("SELECT resolved_by FROM tray").fetchall()) == (wrong["entryId"], [(None,)]), "leads see it too"
    again = """await phone.write('species', told.record, { scientific_name: 'Fucus serratus', _deleted: false }, { siteId: null, fixes: told.entry });
      return [phone.counts().held, (await phone.row('species', told.record)).scientific_name];"""
    assert lead.do(again, given) == [0, "Fucus serratus"]
    lead.sync()
    assert lead.do("return phone.pack().tray;") == []


ASKED_JS = """
  const [run, ids] = [phone.store.run, (await phone.rows('species')).map((row) => row.record_id)];
  let asked = 0;
  phone.store.run = (...given) => { asked += 1; return run.apply(phone.store, given); };
  const names = await Promise.all(ids.map(async (id) => (await phone.row('species', id)).common_name));
  phone.store.run = run;
  return [asked, ids, names];
"""


def test_a_record_of_a_list_that_was_read_is_not_read_again_and_is_as_it_was_last_written(lead, context, live_server) -> None:
    lead.write(3)
    asked, ids, names = lead.do(ASKED_JS)
    assert (asked, len(names)) == (0, 3)
    lead.do(f"await phone.write('species', '{ids[0]}', {{ common_name: 'Ribbed mussel' }});")
    assert lead.do(ASKED_JS)[2][ids.index(ids[0])] == "Ribbed mussel"
    lead.do(f"await phone.write('species', '{ids[1]}', {{ _deleted: true }});")
    assert lead.do(f"return [await phone.row('species', '{ids[1]}') ?? null, (await phone.rowOrRemoved('species', '{ids[1]}'))._deleted];") == [None, True]
    other = PhonePage(context, live_server.url)
    other.do(f"await phone.write('species', '{ids[2]}', {{ common_name: 'Slipper shell' }});")
    wait_until(lead.page, f"async () => (await phone.row('species', '{ids[2]}')).common_name === 'Slipper shell'")


TRANSACTIONS = """
const many = await phone.writeMany(Array.from({ length: 13 }, () => ({ kind: 'species', recordId: null, fields: { scientific_name: 'Ulva' }, siteId: null })));
const of = many.map(({ recordId }) => ({ kind: 'species', id: recordId }));
await phone.writeMany([...of.slice(0, 2), of[0]].map(({ id }, n) => ({ kind: 'photo', recordId: null, siteId: null,
  fields: { of_kind: 'species', of_id: id, sha256: `${n}`.repeat(64), taken_at: '2026-11-25T06:12:00Z' } })));
let begun = 0;
const { transaction } = IDBDatabase.prototype;
IDBDatabase.prototype.transaction = function (...given) { begun += 1; return transaction.apply(this, given); };
const all = await phone.rowsOf('photo', of);
const once = begun;
const [first, last] = [await phone.rowsOf('photo', of[0]), await phone.rowsOf('photo', of[12])];
return { once, found: [all, first, last].map((rows) => rows.map((row) => row.sha256[0]).sort().join('')) };
"""


def test_what_names_many_records_is_read_in_one_transaction(lead) -> None:
    assert lead.do(TRANSACTIONS) == {"once": 1, "found": ["012", "02", ""]}


COUNTING = """
const counts = { begun: 0, lines: 0, told: 0 };
const { transaction } = IDBDatabase.prototype;
IDBDatabase.prototype.transaction = function (stores, ...given) {
  counts.begun += 1;
  if ([stores].flat().includes('lines')) counts.lines += 1;
  return transaction.call(this, stores, ...given);
};
phone.on('sync', () => { counts.told += 1; });
const since = async (work) => { const before = { ...counts }; await work(); return ['begun', 'lines', 'told'].map((name) => counts[name] - before[name]); };
"""
SAVED_WITH_UNDO = """
const { savedWithUndo } = await import('/views/undo.js');
const stage = { phone, say() {}, async saving(work) { await work(); return true; } };
const id = phone.newId(null);
const name = async () => (await phone.row('species', id))?.scientific_name;
const save = (fields) => savedWithUndo(stage, [{ kind: 'species', recordId: id, fields, siteId: null }]);
const undos = [];
const took = [await since(async () => { undos.push(await save({ scientific_name: 'Ulva' })); }),
  await since(async () => { undos.push(await save({ scientific_name: 'Fucus' })); })];
const names = [await name()];
for (const undo of undos.reverse()) { await undo(); names.push(await name() ?? 'none'); }
return [took.map(([begun]) => begun), names];
"""
DROPPED = """
phone.keepDraft('one', { note: 'a' }, {});
await phone.drafts_.flush();
const took = [await since(() => phone.dropDraft('another')), await since(() => phone.dropDraft('one'))];
phone.keepDraft('one', { note: 'b' }, {});
took.push(await since(() => phone.drafts_.flush()), phone.counts().drafts);
return took;
"""


def test_a_save_that_can_be_taken_back_is_one_transaction(lead) -> None:
    assert lead.do(COUNTING + SAVED_WITH_UNDO) == [[1, 1], ["Fucus", "Ulva", "none"]]


def test_a_draft_that_comes_or_goes_is_counted_without_the_lines_and_one_that_was_none_tells_nobody(lead) -> None:
    assert lead.do(COUNTING + DROPPED) == [[1, 0, 0], [1, 0, 1], [1, 0, 1], 1]
