"""A person is forgotten: nothing of them is left in the phone's database, whatever it had written, sent or begun."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from fieldlog.purging.doing import forget
from fieldlog.purging.held import held_about
from fieldlog.records.catalogue import CATALOGUE

pytestmark = pytest.mark.browser

SITE = "00000000-0000-4000-8000-00000000000a"
SECRETS = ("Quintanilla", "555 0173", "wasp sting")
EVERYTHING = """
await phone.drafts_.flush();
const names = [...(await phone.store.connection()).objectStoreNames].filter((name) => !['photo_bytes', 'ballast'].includes(name));
return JSON.stringify(await phone.store.run(names, 'readonly', (tx) => Promise.all(names.map((name) => tx.objectStore(name).getAll()))));
"""
WRITE = f"""
const {{ recordId: id }} = await phone.write('person', null, {{ display_name: 'Maria Quintanilla', role: 'student' }}, {{ siteId: '{SITE}' }});
await phone.write('person_private', null, {{ person_id: id, phone: '555 0173' }}, {{ siteId: '{SITE}' }});
const {{ recordId: turn }} = await phone.write('sign_in', null, {{ person_id: id, in_at: '2026-09-22T06:12:00Z' }}, {{ siteId: '{SITE}' }});
await phone.write('sign_in_private', null, {{ sign_in_id: turn, medical_note: 'wasp sting' }}, {{ siteId: '{SITE}' }});
await phone.write('person', null, {{ display_name: 'Ines Calder' }}, {{ siteId: '{SITE}' }});
phone.keepDraft(`person|${{id}}`, {{ display_name: 'Maria Quintanilla-Vance' }});
return [id, turn];
"""
LINES = "return (await phone.store.run(['lines'], 'readonly', (tx) => tx.store.getAll())).map((line) => line.text && JSON.parse(line.text));"


def test_nothing_of_somebody_who_was_forgotten_is_left_on_a_phone(lead, live_server) -> None:
    maria, turn = lead.do(WRITE)
    assert all(len(line["k"]) == 32 for line in lead.do(LINES) if line["t"] == "person"), "a name cannot be guessed from an entry's"
    assert lead.sync() is True
    assert all(secret in lead.do(EVERYTHING) for secret in SECRETS)
    lead.do(f"await phone.write('person_private', null, {{ person_id: '{maria}', email: 'Quintanilla' }}, {{ siteId: '{SITE}' }});")
    db = live_server.programme.db()
    held = held_about(db, CATALOGUE, maria, datetime.now(UTC).date())
    assert forget(live_server.programme, CATALOGUE, maria, held.tag, None, datetime.now(UTC))
    lead.do(f"await phone.write('person', '{maria}', {{ display_name: 'Maria Quintanilla' }}, {{}});")
    assert lead.sync() is True
    assert lead.sync() is True, "what came late is told by a purge of its own"
    left = lead.do(EVERYTHING)
    assert [left[max(0, left.index(secret) - 900) : left.index(secret) + 300] for secret in SECRETS if secret in left] == []
    assert lead.do("return [(await phone.row('person', told)).display_name, (await phone.rows('person_private')).length];", maria) == ["M. Q.", 0]
    assert lead.do("return (await phone.row('sign_in', told)).person_id;", turn) == maria
    assert lead.do("return (await phone.rows('person')).map((row) => row.display_name).sort();") == ["Ines Calder", "M. Q."]
    assert not [line for (line,) in db.conn.execute("SELECT line FROM log") if any(secret.encode() in line for secret in SECRETS)]
    lead.write()
    assert lead.sync() is True
    assert lead.states() == ["taken"] * 8
    assert lead.do("return phone.counts().drafts;") == 0
