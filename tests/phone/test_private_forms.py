"""What may not stay: a walk-up's form goes after a day, contacts leave the phone that wrote them once the head count closes."""

from __future__ import annotations

import pytest

from tests.phone.phone_page import PhonePage
from tests.phone.test_retention import DURABLE, PRIVATE, SITE, person

pytestmark = pytest.mark.browser
KEEP = "phone.keepDraft('walk_up:a', { display_name: 'Ada' }, { untilMs: phone.now() + told * 3600000 }); await phone.drafts_.flush();"
KEPT = "return (await phone.store.run(['drafts'], 'readonly', (tx) => tx.store.getAll())).map((draft) => draft.key);"


def test_a_walk_ups_form_is_read_until_its_day_is_over_and_then_gone_from_the_disk(lead: PhonePage) -> None:
    lead.do(KEEP, 24)
    lead.do("phone.keepDraft('species:new', {}); await phone.drafts_.flush();")
    assert lead.do("return phone.draft('walk_up:a');") == {"display_name": "Ada"}
    lead.do("globalThis.skewMs = 24 * 3600000;")
    assert lead.do("return phone.draft('walk_up:a');") is None
    assert [draft["key"] for draft in lead.do("return phone.drafts();")] == ["species:new"]
    assert lead.do(KEPT) == ["species:new"]


def test_one_that_was_left_in_an_app_that_died_is_gone_when_it_opens_again(lead: PhonePage) -> None:
    lead.do(KEEP, -1)
    assert lead.do(KEPT) == ["walk_up:a"]
    lead.page.reload()
    lead.do("await phone.drafts_.dropOver();")
    assert lead.do(KEPT) == []


def test_a_phone_whose_access_ended_keeps_no_walk_ups_form(lead: PhonePage, live_server) -> None:
    lead.do(KEEP, 24)
    lead.do("phone.keepDraft('species:new', {}); await phone.drafts_.flush();")
    live_server.programme.db().execute("UPDATE device SET revoked_at = 1")
    lead.sync()
    assert lead.do("return phone.syncState.revoked;") is True
    assert lead.do(KEPT) == ["species:new"]


def test_contacts_stay_where_they_were_written_while_somebody_is_out_and_for_a_day_at_most(lead: PhonePage) -> None:
    ada = person(lead)
    lead.do(PRIVATE, ada)
    signed = f"return phone.write('sign_in', null, {{ person_id: told, in_at: new Date(phone.now()).toISOString() }}, {{ siteId: '{SITE}' }});"
    sign_in = lead.do(signed, ada)["recordId"]
    lead.sync()
    rows = "return (await phone.rows('person_private')).length;"
    lead.do(DURABLE, {"durable": 3, "days": 0})
    assert lead.do(rows) == 1, "a backup covers it, but Ada is out"
    lead.do("await phone.write('sign_in', told, { out_at: new Date(phone.now()).toISOString() });", sign_in)
    lead.do(DURABLE, {"durable": 3, "days": 0})
    assert lead.do(rows) == 0


def test_contacts_leave_after_a_day_though_somebody_was_never_signed_out(lead: PhonePage) -> None:
    ada = person(lead)
    lead.do(PRIVATE, ada)
    lead.do(f"await phone.write('sign_in', null, {{ person_id: told, in_at: new Date(phone.now()).toISOString() }}, {{ siteId: '{SITE}' }});", ada)
    lead.sync()
    lead.do(DURABLE, {"durable": 3, "days": 1})
    assert lead.do("return (await phone.rows('person_private')).length;") == 0
