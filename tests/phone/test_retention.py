"""What leaves the phone, and what comes back when the server asks the phone to start again."""

from __future__ import annotations

import pytest

from tests.phone.phone_page import PhonePage

pytestmark = pytest.mark.browser
DURABLE = """
await phone.store.run(['meta'], 'readwrite', async (tx) => {
  const head = await tx.store.get('head');
  head.lanes[head.lane].durable = told.durable;
  tx.store.put(head, 'head');
});
const { letGo } = await import('/store/retention.js');
await letGo(phone.store, phone.now() + told.days * 86400000);
phone.shown.forget();
return (await phone.store.run(['lines'], 'readonly', (tx) => tx.store.getAll())).map((line) => line.text !== null);
"""
SITE = "00000000-0000-4000-8000-00000000000a"
PRIVATE = f"return phone.write('person_private', null, {{ person_id: told, phone: '555 0100' }}, {{ siteId: '{SITE}' }});"


def person(phone: PhonePage) -> str:
    return phone.do("""
      return (await phone.write('person', null, { display_name: 'Ada', role: 'leader' }, { siteId: null })).recordId;""")


def test_own_entries_keep_their_text_until_a_backup_covers_them_and_90_days_have_passed(lead) -> None:
    lead.write(3)
    lead.sync()
    assert lead.do(DURABLE, {"durable": 0, "days": 100}) == [True, True, True]
    assert lead.do(DURABLE, {"durable": 2, "days": 89}) == [True, True, True]
    assert lead.do(DURABLE, {"durable": 2, "days": 91}) == [False, False, True]
    assert lead.do("return (await phone.rows('species')).length;") == 3
    lead.write()
    assert lead.sync() is True
    assert lead.states() == ["taken"] * 4


def test_what_left_comes_back_with_its_text_when_the_server_says_start_again(lead, live_server) -> None:
    lead.write(3)
    lead.sync()
    lead.do(DURABLE, {"durable": 2, "days": 91})
    with live_server.programme.db().conn as conn:
        conn.execute("UPDATE log SET h = 'another' || substr(h, 8)")
    assert lead.sync() is True
    assert lead.do("return (await phone.rows('species')).length;") == 3
    assert lead.states() == ["taken"] * 3
    rebuilt = """
      const { rebuildAll } = await import('/log/folding.js');
      await phone.store.run(['lines', 'others', 'records'], 'readwrite', rebuildAll);
      return (await phone.rows('species')).length;"""
    assert lead.do(rebuilt) == 3


def test_a_private_entry_carries_random_bits_and_leaves_once_a_backup_covers_it(lead) -> None:
    ada = person(lead)
    made = lead.do(PRIVATE, ada)
    (line,) = lead.do("""return (await phone.store.run(['lines'], 'readonly', (tx) => tx.store.getAll()))
      .filter((line) => line.text.includes('555 0100')).map((line) => JSON.parse(line.text));""")
    assert len(line["k"]) == 32
    lead.sync()
    assert lead.do("return (await phone.rows('person_private')).length;") == 1
    assert lead.do(DURABLE, {"durable": 2, "days": 0}) == [True, False]
    assert lead.do("return (await phone.rows('person_private')).length;") == 0
    everything = """return JSON.stringify(await phone.store.run([...tx_names], 'readonly',
      (tx) => Promise.all([...tx_names].map((name) => tx.objectStore(name).getAll()))));"""
    text = lead.do("const tx_names = (await phone.store.connection()).objectStoreNames;" + everything)
    assert "555 0100" not in text
    later = "await phone.write('person_private', told, { phone: '555 0111' }, { siteId: null });"
    lead.do(later, made["recordId"])
    (line,) = lead.do("""return (await phone.store.run(['lines'], 'readonly', (tx) => tx.store.getAll()))
      .filter((line) => line.text?.includes('555 0111')).map((line) => JSON.parse(line.text));""")
    assert line["b"] == {"phone": [made["entryId"]]}, "it still names what it follows"


def test_the_exported_file_is_taken_by_the_server_as_a_sync_would_be(lead, live_server) -> None:
    from fieldlog.exported import take_exported
    from fieldlog.records.catalogue import CATALOGUE

    lead.write()
    lead.sync()
    lead.write(4)
    text = lead.do("return (await phone.exportFile()).text();")
    took = take_exported(live_server.programme.db(), text.encode(), CATALOGUE, 1_790_000_000_000, "phone.ndjson", None)
    assert (took.lines, took.taken) == (5, 4)
    assert lead.sync() is True
    assert lead.states() == ["taken"] * 5


READ_AFTER = """
await phone.rows(told);
await phone.syncNow();
let reads = 0;
const { getAll } = IDBObjectStore.prototype;
IDBObjectStore.prototype.getAll = function (...given) { if (this.name === 'records') reads += 1; return getAll.apply(this, given); };
const rows = await phone.rows(told);
return [rows.length, reads];
"""


def test_a_sync_that_changes_no_record_keeps_what_was_read(lead) -> None:
    lead.write(3)
    lead.sync()
    lead.page.reload()
    assert lead.do(READ_AFTER, "species") == [3, 0]


def test_a_sync_by_which_a_private_record_leaves_takes_it_off_what_was_read(lead, live_server) -> None:
    lead.do(PRIVATE, person(lead))
    lead.sync()
    live_server.programme.db().conn.execute("UPDATE lane SET durable = top")
    lead.page.reload()
    assert lead.do(READ_AFTER, "person_private") == [0, 1]
