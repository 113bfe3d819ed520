"""
The browser empties the phone's storage, under an open page or between two starts, or gives it little space: nothing is
lost in silence, and the phone goes on.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.phone.old_app import old_phone
from tests.phone.phone_page import SPECIES, PhonePage
from tests.phone.test_lanes import name, names

pytestmark = pytest.mark.browser

EVICTED = "indexeddb,cache_storage,service_workers,file_systems"
"""What a browser short of space takes: all that counts against the quota."""

ALL_BUT_COOKIES = f"{EVICTED},local_storage"
"""What one takes that clears pages unused for weeks: all that scripts have stored."""

SAVED = f"return tell(async () => {{ await {SPECIES}; return 'saved'; }});"
MARK = "localStorage['fieldlog-kept:fieldlog']"


def evict(phone: PhonePage, url: str, what: str = EVICTED) -> None:
    phone.page.context.new_cdp_session(phone.page).send("Storage.clearDataForOrigin", {"origin": url, "storageTypes": what})


def names_here(phone: PhonePage) -> list[str]:
    return sorted(phone.do("phone.shown.forget(); return (await phone.rows('species')).map((row) => row.scientific_name);"))


@pytest.mark.parametrize("what", [EVICTED, ALL_BUT_COOKIES], ids=["for space", "all that scripts stored"])
def test_an_open_page_whose_storage_was_emptied_says_what_went_and_saves_the_next_entry(lead, live_server, what) -> None:
    lead.do(name("sent"))
    lead.sync()
    lead.do(name("lost"))
    lead.do("phone.keepDraft('sighting:new', { count: 4 }); await phone.drafts();")
    evict(lead, live_server.url, what)
    lead.do(name("after"))
    assert lead.do("return [phone.cleared, faults, phone.counts().phone];") == [{"unsent": 1, "drafts": 1}, [], 1]
    assert lead.do("return [phone.me.role, Boolean(phone.pack()?.forms)];") == ["lead", True]
    assert lead.sync()
    assert names(live_server) == ["sent", "after"]
    assert names_here(lead) == ["after", "sent"]
    lead.page.reload()
    assert lead.do("return [phone.cleared, phone.me.role, Boolean(phone.pack()?.forms)];") == [{"unsent": 1, "drafts": 1}, "lead", True]
    assert set(lead.states()) == {"taken"}
    lead.do("await phone.readOfLoss();")
    lead.page.reload()
    assert lead.do("return phone.cleared;") is None
    evict(lead, live_server.url)
    lead.page.reload()
    assert lead.do("return phone.cleared;") == {"unsent": 0, "drafts": 0}, "what was read of is not told again"


def test_what_only_the_phone_had_is_shown_no_more_and_the_rest_as_it_was(lead, live_server) -> None:
    lead.do(name("sent"))
    lead.sync()
    lead.do("await phone.rows('species');")
    lead.do(name("lost"))
    evict(lead, live_server.url)
    lead.page.context.set_offline(True)
    lead.do(name("after"))
    shown = "return (await phone.rows('species')).map((row) => [row.scientific_name, row.entry_state]).sort();"
    assert lead.do(shown) == [["after", "phone"], ["sent", "taken"]]


def test_a_choice_made_after_an_eviction_does_not_hide_it(lead, live_server) -> None:
    lead.write(3)
    evict(lead, live_server.url)
    lead.do("await phone.setPerson('somebody');")
    lead.page.reload()
    assert lead.do("return [phone.cleared, phone.me.person_id];") == [{"unsent": 3, "drafts": 0}, "somebody"]


def test_an_eviction_in_the_middle_of_a_sync_ends_it_and_the_next_one_brings_all(lead, live_server) -> None:
    lead.write(2)
    lead.sync()
    lead.write(1)
    lead.page.expose_function("evicting", lambda: evict(lead, live_server.url))
    lead.do("""
      const { transport } = (await phone.online()).sync;
      const { sync } = transport;
      transport.sync = async (body) => {
        const reply = await sync(body);
        transport.sync = sync;
        await globalThis.evicting();
        return reply;
      };
    """)
    assert lead.sync()
    assert len(names_here(lead)) == 3
    assert lead.do("return phone.cleared.unsent <= 1 && faults.length === 0;")


def test_a_page_that_opens_after_the_storage_was_emptied_says_what_went_and_goes_on_without_a_code(lead, context, live_server) -> None:
    lead.do(name("sent"))
    lead.sync()
    lead.write(3)
    assert lead.do("return phone.cleared;") is None
    evict(lead, live_server.url)
    lead.page.close()
    again = PhonePage(context, live_server.url)
    assert again.do("return [phone.cleared, phone.me.role];") == [{"unsent": 3, "drafts": 0}, "lead"]
    again.page.reload()
    assert again.do("return phone.cleared.unsent;") == 3
    again.do(name("after"))
    assert again.sync()
    assert names(live_server) == ["sent", "after"]
    assert names_here(again) == ["after", "sent"]


def test_a_phone_of_which_the_cookie_alone_is_left_goes_on_without_a_code_and_says_what_is_not_here(lead, context, live_server) -> None:
    lead.do(name("sent"))
    lead.sync()
    lead.write(1)
    evict(lead, live_server.url, ALL_BUT_COOKIES)
    lead.page.close()
    context.add_init_script("StorageManager.prototype.getDirectory = async () => { throw new DOMException('no', 'SecurityError'); };")
    page = context.new_page()
    page.goto(live_server.url)
    page.wait_for_selector("html[data-ready='']")
    said = page.get_by_role("alert").filter(has_text="The server knows this device, but nothing is stored here")
    expect(said).to_contain_text("Entries that were not sent are gone.")
    expect(page.get_by_role("heading", name="Who are you?")).to_be_visible()
    page.get_by_text("more notice").click()
    expect(page.get_by_text("This is a private window")).to_be_visible()
    said.get_by_role("button", name="I have read this").click()
    expect(said).to_have_count(0)
    again = PhonePage(context, live_server.url)
    assert again.do("return [phone.cleared, phone.me.role];") == [None, "lead"]
    assert names_here(again) == ["sent"]


def test_two_evictions_are_counted_together_until_somebody_has_read_of_them(lead, live_server) -> None:
    lead.write(2)
    evict(lead, live_server.url)
    lead.write(1)
    evict(lead, live_server.url)
    lead.page.reload()
    assert lead.do("return phone.cleared.unsent;") == 3
    lead.write(4)
    evict(lead, live_server.url)
    lead.write(1)
    assert lead.do("return phone.cleared.unsent;") == 7


def test_a_second_page_of_the_phone_goes_on_in_the_same_lane(lead, context, live_server) -> None:
    second = PhonePage(context, live_server.url)
    second.write(1)
    evict(lead, live_server.url)
    lead.write(1)
    second.write(1)
    lead.write(1)
    assert lead.numbers() == second.numbers() == [1, 2, 3]
    second.page.wait_for_function("globalThis.phone.cleared !== null")
    assert lead.sync()
    assert set(second.states()) == {"taken"}


def test_what_an_older_app_noted_beside_the_database_is_read(lead, live_server) -> None:
    lead.do(f"{MARK} = '3';")
    evict(lead, live_server.url)
    lead.page.reload()
    assert lead.do("return [phone.cleared, phone.me];") == [{"unsent": 3, "drafts": 0}, None]
    lead.join(live_server.join_link("lead").split("=")[1])
    assert lead.do("return phone.cleared;") is None


def test_an_older_app_reads_the_note_as_something_that_went(lead, context, live_server) -> None:
    lead.write(3)
    evict(lead, live_server.url)
    lead.page.close()
    old = old_phone(context, live_server.url)
    assert old.do("return phone.cleared;") is not None



def test_a_quota_that_is_reached_loses_no_entry_in_silence(lead, live_server) -> None:
    lead.do("await phone.keepReserve();")
    lead.write(3)
    assert lead.do("return phone.isFull;") is False
    session = lead.page.context.new_cdp_session(lead.page)
    session.send("Storage.overrideQuotaForOrigin", {"origin": live_server.url, "quotaSize": 1024 * 1024})
    said = [lead.do(SAVED) for _turn in range(40)]
    assert set(said) <= {"saved", "NOT SAVED. This phone has no space left. Free some space (photos, videos, other apps), then save again."}
    assert lead.numbers() == list(range(1, 4 + said.count("saved")))
    session.send("Storage.overrideQuotaForOrigin", {"origin": live_server.url, "quotaSize": 512 * 1024 * 1024})
    assert lead.do(SAVED) == "saved"
    assert lead.sync()
    assert len(names(live_server)) == 4 + said.count("saved")
