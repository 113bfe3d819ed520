"""Opening what is stored: how often the phone waits for its disk before the first screen may read."""

from __future__ import annotations

import pytest

from tests.phone.phone_page import PhonePage

pytestmark = pytest.mark.browser

WAITS = """
const { openPhone } = await import('/store/phone.js');
let [running, waits] = [0, 0];
const { transaction } = IDBDatabase.prototype;
IDBDatabase.prototype.transaction = function (...given) {
  if (!running) waits += 1;
  running += 1;
  const begun = transaction.apply(this, given);
  begun.addEventListener('complete', () => { running -= 1; });
  return begun;
};
const opened = await openPhone({ now: () => Date.now() });
return { waits, counts: opened.counts(), role: opened.me?.role, sites: opened.sites().length, forms: Boolean(opened.pack()?.forms) };
"""


def test_a_phone_opens_after_two_waits_for_its_disk_and_knows_all_that_a_screen_asks(lead, context, live_server) -> None:
    lead.do("await phone.write('site', phone.newId(null), { name: 'Alder Spit' }, { siteId: null });")
    lead.write()
    opened = PhonePage(context, live_server.url).page.evaluate(f"async () => {{ {WAITS} }}")
    assert (opened["role"], opened["sites"], opened["forms"]) == ("lead", 1, True)
    assert opened["counts"]["phone"] == 2
    assert opened["waits"] <= 2
