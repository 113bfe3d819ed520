"""The turn-back alarm through a visit, with the clock stepped while other screens are open, hidden, and shown again."""

from __future__ import annotations

import re
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import CALM_MS, AppPage
from tests.waiting import wait_for

pytestmark = pytest.mark.browser

BEEPS = 3
"""Tones a call."""

QUIET_MIN = 31
"""Minutes before turning back until which nothing is to be heard."""

DAY_MS = 86_400_000

HEARING = """
window.tones = []; window.lights = 0; window.buzzes = 0; window.soundState = 'running';
window.AudioContext = class {
  constructor() { window.sound = this; this.currentTime = 0; this.destination = {}; }
  get state() { return window.soundState; }
  resume() { return Promise.resolve(); }
  close() { return Promise.resolve(); }
  createGain() { return { gain: {}, connect: (to) => to }; }
  createOscillator() { return { frequency: {}, connect: (to) => to, start: () => window.tones.push(Date.now()), stop: () => {} }; }
};
Object.defineProperty(navigator, 'wakeLock', { value: { request: async () => { window.lights += 1; return { release() {}, addEventListener() {} }; } } });
Object.defineProperty(Navigator.prototype, 'vibrate', { configurable: true, value: () => { window.buzzes += 1; return true; } });
let isHidden = false;
Object.defineProperty(document, 'hidden', { get: () => isHidden });
window.hide = (is) => { isHidden = is; document.dispatchEvent(new Event('visibilitychange')); };
"""
DEAF = HEARING + "delete window.AudioContext; delete Navigator.prototype.vibrate;"


class Visit:
    """A crew's phone on which a visit was started, two people signed in, and whose sounds are counted."""

    def __init__(self, app: AppPage, site: dict, people: int = 2) -> None:
        self.app, self.page = app, app.page
        app.follow("Start a visit")
        app.sees("Visit")
        app.tap("Start the visit")
        app.sees("People")
        roster = self.page.locator("button.row:has-text('sign in')")
        for n in range(people):
            self.page.clock.run_for(CALM_MS)
            roster.first.click()
            expect(self.page.locator(".board .figure")).to_have_text(str(n + 1))
        app.go("#/visit", "Visit")
        said = self.page.locator("dl.pairs").inner_text()
        hour, minute = map(int, re.search(r"Turn back by\s+(\d\d):(\d\d)", said).groups())
        at = app.shore.now().astimezone(ZoneInfo(site["zone"])).replace(hour=hour, minute=minute, second=0, microsecond=0)
        self.back_ms = int((at if at > app.shore.now() else at + timedelta(days=1)).timestamp() * 1000)

    def tones(self) -> int:
        return self.page.evaluate("tones.length")

    def to(self, minutes_left: float, each_s: float = 20.0) -> list[int]:
        """
        Step the clock to so many minutes before turning back; the minutes before it at which it called.

        Up to 31 minutes before, where nothing is to be heard, in one step; then in steps as a phone in the background takes them, under
        90 s: every timer that is due runs once a step.
        """
        before = self.tones()
        for least, step_ms in ((max(minutes_left, QUIET_MIN), DAY_MS), (minutes_left, each_s * 1000)):
            while (left_ms := self.back_ms - least * 60_000 - self.page.evaluate("Date.now()")) > 0:
                self.page.clock.fast_forward(min(left_ms, step_ms))
        times = self.page.evaluate("from => tones.slice(from)", before)
        assert len(times) % BEEPS == 0
        return [round((self.back_ms - ms) / 60_000) for ms in times[::BEEPS]]

    @property
    def banner(self):
        return self.page.get_by_role("region", name="Turn-back alarm")

    def hide(self, is_hidden: bool) -> None:
        self.page.evaluate("is => hide(is)", is_hidden)


@pytest.fixture
def crew(joined, browser, shore, site):
    """crew(script): a crew's phone in a browser that does what the script says."""

    def made(script: str = HEARING) -> AppPage:
        app = joined("crew", "Zora Plover", base_url=shore.url)
        app.context.add_init_script(script)
        app.open()
        app.sees("Today")
        return app

    return made


def test_it_is_asked_once_with_a_test_tone_and_sounds_on_every_screen_until_all_are_signed_out(crew, site) -> None:
    app = crew()
    visit = Visit(app, site)
    page, banner = app.page, visit.banner
    page.wait_for_function("before => tones.length === before", arg=BEEPS)  # the tone is heard as the visit starts
    app.tap("Yes, I noticed it")
    expect(page.get_by_role("button", name="Yes, I noticed it")).to_have_count(0)
    assert page.evaluate("lights") == 1

    app.go("#/units", "Units")
    app.follow(re.compile("^Check "))
    assert visit.to(34) == []
    expect(page.locator("header")).to_contain_text(re.compile(r"back in 3\d\smin"))
    assert visit.to(18, 60) == [30]
    expect(banner.get_by_role("alert")).to_have_text("")
    assert visit.to(14) == [15]
    expect(banner.get_by_role("alert")).to_contain_text(re.compile(r"Turn back by \d\d:\d\d: .+ 2 people out"))
    app.go("#/sighting", "Sightings")
    expect(banner.get_by_role("alert")).to_contain_text("2 people out")
    assert visit.to(-3.4)[:5] == [5, 0, -1, -2, -3]
    app.go("#/flags", "Flags")
    expect(banner.get_by_role("alert")).to_contain_text("2 people from this visit not signed out")
    app.tap("Heard")
    expect(banner).to_contain_text(re.compile(r"Silent until \d\d:\d\d"))
    assert visit.to(-8) == [], "the page's clock runs on beside the steps, so less than five minutes are told of here"
    late = visit.to(-20.5)
    assert late == list(range(late[0], -21, -1))
    assert late[0] in (-9, -10)
    expect(banner).to_contain_text(re.compile(r"2\d\smin ago"))

    app.go("#/people", "People")
    app.save("Sign out all 2")
    app.save("Sign out these 2")
    expect(page.get_by_text("Nobody is out.")).to_be_visible()
    expect(banner.get_by_role("alert")).to_have_text("")
    assert visit.to(-25, 20) == []
    assert app.faults == []


def test_hidden_it_may_be_silent_and_on_return_it_sounds_and_says_for_how_long(crew, site) -> None:
    app = crew()
    visit = Visit(app, site)
    app.go("#/units", "Units")
    visit.to(6, 60)
    visit.hide(True)
    before, lights = visit.tones(), app.page.evaluate("lights")
    app.page.clock.fast_forward(26 * 60_000)
    visit.hide(False)
    app.page.wait_for_function("before => tones.length > before", arg=before)
    app.page.wait_for_function("before => lights === before + 1", arg=lights)  # the screen is kept on anew
    expect(visit.banner.get_by_role("alert")).to_contain_text(re.compile(r"silent for 2[67]\smin, from\s+\d\d:\d\d to \d\d:\d\d"))
    expect(visit.banner.get_by_role("alert")).to_contain_text("Turn back was due at")
    app.tap("Heard")
    expect(visit.banner.get_by_role("alert")).not_to_contain_text("silent for")
    assert app.faults == []


def test_a_sound_that_the_browser_took_away_is_said_and_given_back_by_a_tap(crew, site) -> None:
    app = crew()
    visit = Visit(app, site)
    visit.to(29, 60)
    app.page.evaluate("soundState = 'interrupted'; sound.onstatechange()")
    expect(visit.banner).to_contain_text("Tap to switch the alarm on again.")
    assert visit.to(14, 20) == []
    before = visit.tones()
    app.page.evaluate("() => { sound.resume = () => { soundState = 'running'; return Promise.resolve(); }; }")
    app.tap("Switch the alarm on again")
    expect(visit.banner).not_to_contain_text("Tap to switch")
    app.page.wait_for_function("before => tones.length > before", arg=before)
    assert visit.to(4) == [5]


def test_the_app_opened_again_during_a_visit_goes_on_with_the_alarm(crew, site) -> None:
    app = crew()
    visit = Visit(app, site)
    visit.to(10, 60)
    app.page.goto("about:blank")
    app.page.clock.fast_forward(12 * 60_000)
    app.open("#/units")
    app.sees("Units")
    expect(visit.banner.get_by_role("alert")).to_contain_text("silent for")
    assert visit.tones() == BEEPS


def test_where_a_browser_has_neither_sound_nor_vibration_it_says_so(crew, site) -> None:
    app = crew(DEAF)
    visit = Visit(app, site)
    expect(app.page.get_by_text("this browser has neither sound nor vibration").first).to_be_visible()
    visit.to(10, 60)
    expect(visit.banner.get_by_role("alert")).to_contain_text("2 people out")
    app.go("#/turn-back", "Turn-back clock")
    expect(app.page.get_by_text("Alarm on this phone: none; this browser has neither sound nor vibration")).to_be_visible()


def test_when_everyone_is_signed_out_before_the_time_it_never_sounds(crew, site) -> None:
    app = crew()
    visit = Visit(app, site, people=1)
    app.go("#/people", "People")
    app.page.clock.run_for(CALM_MS)
    app.tap(re.compile("^Sign out "))
    expect(app.page.get_by_text("Nobody is out.")).to_be_visible()
    assert visit.to(-3, 60) == []


def test_a_visit_of_sixteen_hours_rings_nobody_and_says_who_was_left_without_anything_being_tapped(crew, site) -> None:
    app = crew()
    visit = Visit(app, site)
    app.page.clock.fast_forward(15 * 3_600_000)
    expect(visit.banner.get_by_role("alert")).to_contain_text("2 people from this visit not signed out")
    app.page.clock.fast_forward(3_600_000)
    expect(visit.banner.get_by_role("alert")).to_have_text("")
    expect(app.page.get_by_role("alert").filter(has_text="Not signed out: ")).to_be_visible()
    before = visit.tones()
    app.page.clock.fast_forward(60_000)
    assert visit.tones() == before
    assert app.faults == []


def test_another_site_looked_at_meanwhile_does_not_switch_it_off(crew, site) -> None:
    app = crew()
    visit = Visit(app, site)
    visit.to(6, 60)
    app.page.evaluate("""async () => {
      const { openPhone } = await import('/store/phone.js');
      const other = await openPhone({ now: () => Date.now() });
      await other.setSite('00000000-0000-4000-8000-000000000000');
    }""")
    app.page.evaluate("location.hash = '#/units'")
    other_site = app.page.get_by_role("heading", name="No site yet", exact=True, level=1)

    def is_shown() -> bool:
        """What the screen waits for with a timer comes with the page's clock alone."""
        app.page.clock.run_for(20)
        return other_site.is_visible()

    wait_for(app.page, is_shown, "No site yet")
    assert visit.to(-1.5) == [5, 0, -1]


def test_of_two_tabs_of_a_phone_one_sounds_and_when_it_is_closed_the_other(crew, site, shore) -> None:
    app = crew()
    visit = Visit(app, site)
    app.go("#/units", "Units")
    other = app.context.new_page()
    other.goto(f"{shore.url}/#/sighting")
    other.wait_for_selector("html[data-ready='']")
    expect(other.locator("header .pill")).to_contain_text("back in")
    visit.to(QUIET_MIN)
    before = [page.evaluate("tones.length") for page in (app.page, other)]
    visit.to(4.5)
    after = [page.evaluate("tones.length") for page in (app.page, other)]
    assert [now - then for now, then in zip(after, before, strict=True)] == [0, 3 * BEEPS], "the one that was opened last is in front"
    visit.hide(False)
    other.evaluate("hide(true)")
    assert visit.to(-0.5) == [0], "looked at again, the first one sounds"
    assert other.evaluate("tones.length") == after[1]
    app.tap("Heard")
    expect(other.get_by_role("region", name="Turn-back alarm")).to_contain_text("Silent until")
    other.evaluate("hide(false)")
    other.close()
    assert visit.to(-7.5) == [-6, -7], "the tab in front was closed"


OWN_SOUND = "window.tones = []; const start = OscillatorNode.prototype.start; OscillatorNode.prototype.start = function (at) { window.tones.push(Date.now()); return start.call(this, at); };"


def test_the_tap_that_starts_a_visit_allows_this_browsers_own_sound(crew, site) -> None:
    app = crew(OWN_SOUND)
    visit = Visit(app, site)
    app.page.wait_for_function("tones.length >= 3")
    expect(visit.banner).not_to_contain_text("Tap to switch")
    visit.to(18, 60)
    assert visit.to(14) == [15]
    assert app.faults == []
