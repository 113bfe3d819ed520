"""
A browser that is killed at any moment, again and again, with a server that answers: all that was said to be saved arrives,
once. FIELDLOG_KILLS says how often; `make soak` asks for more.
"""

from __future__ import annotations

import os
import random
from typing import Any

import pytest

from tests.find_chromium import kill_browser
from tests.phone.old_app import old_phone
from tests.phone.phone_page import SPECIES, PhonePage
from tests.phone.test_lanes import name, names

pytestmark = pytest.mark.browser
ROUNDS = int(os.environ.get("FIELDLOG_KILLS", "2"))
SAVE_AND_SYNC = f"""
globalThis.saving = (async () => {{ for (;;) {{ const {{ entryId }} = await {SPECIES}; console.log(entryId); }} }})();
globalThis.syncing = (async () => {{ for (;;) await phone.syncNow(); }})();
"""


def synced(phone: PhonePage, live_server) -> bool:
    """A browser writes its cookies to the disk half a minute late: the token may be gone, and the phone joins again."""
    if phone.sync():
        return True
    assert phone.state["needs_join"] is True
    phone.join(live_server.join_link("lead").split("=")[1])
    return phone.sync()


def test_what_was_said_to_be_saved_arrives_once_however_often_the_browser_is_killed(
    playwright, chromium_options, live_server, tmp_path
) -> None:
    dice = random.Random(7)
    saved: list[str] = []
    profile = tmp_path / "profile"
    for turn in range(ROUNDS):
        context = playwright.chromium.launch_persistent_context(profile, **chromium_options)
        phone = PhonePage(context, live_server.url)
        if turn == 0:
            phone.join(live_server.join_link("lead").split("=")[1])
        assert synced(phone, live_server)
        before = len(saved)
        phone.page.on("console", lambda message: len(message.text) == 32 and saved.append(message.text))
        with phone.page.expect_event("console", predicate=lambda _message, enough=before + 5: len(saved) > enough):
            phone.do(SAVE_AND_SYNC)
        phone.page.wait_for_timeout(dice.randrange(400))
        kill_browser(context, profile)
    context = playwright.chromium.launch_persistent_context(profile, **chromium_options)
    phone = PhonePage(context, live_server.url)
    assert synced(phone, live_server)
    numbers = phone.numbers()
    assert numbers == list(range(1, len(numbers) + 1))
    assert set(phone.states()) == {"taken"}
    on_server = [row[0] for row in live_server.programme.db().conn.execute("SELECT entry_id FROM log ORDER BY seq")]
    assert len(on_server) == len(set(on_server)) == len(numbers)
    assert set(saved) <= set(on_server)
    context.close()


def test_a_browser_killed_while_it_is_updated_loses_no_unsent_entry(playwright, chromium_options, live_server, tmp_path) -> None:
    profile = tmp_path / "profile"

    def opened() -> Any:
        return playwright.chromium.launch_persistent_context(profile, **chromium_options)

    context = opened()
    old = old_phone(context, live_server.url)
    old.join(live_server.join_link("lead").split("=")[1])
    old.do(name("sent"))
    old.sync()
    old.do(name("unsent"))
    kill_browser(context, profile)
    for turn in range(ROUNDS):
        context = opened()
        new = PhonePage(context, live_server.url)
        new.page.evaluate("import('/store/phone.js').then(({ openPhone }) => openPhone({ now: () => Date.now() })); null")
        new.page.wait_for_timeout(turn * 15 % 120)
        kill_browser(context, profile)
    context = opened()
    new = PhonePage(context, live_server.url)
    assert new.states() == ["taken", "phone"]
    assert synced(new, live_server)
    assert names(live_server) == ["sent", "unsent"]
    context.close()
