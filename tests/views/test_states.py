"""Each state that header, notices, board and alarm banner can be in, brought about one after another in one page."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.screen_checks import axe
from tests.views.test_screens import show

pytestmark = pytest.mark.browser

MINUTE_MS = 60_000
CLOCK = """{
  window.startMs = stage.phone.now();
  stage.phone.now = () => window.startMs;
  window.to = (ms) => { window.startMs = ms; document.dispatchEvent(new Event('visibilitychange')); stage.phone.emit('sync'); };
  window.change = (what) => { Object.assign(stage.phone, what); stage.phone.emit('sync'); };
}"""
BACK = """async () => {
  const { readShore, turnBack } = await import('/views/shore.js');
  return turnBack(await readShore(stage.phone), stage.phone.now()).atMs;
}"""
NEXT = """async () => {
  const { readShore, windowFor } = await import('/views/shore.js');
  const { leavesHomeMs } = await import('/tides/turning.js');
  const shore = await readShore(stage.phone);
  const { fromMs, driesMs } = windowFor(shore, stage.phone.now());
  return { fromMs, driesMs, leaveMs: leavesHomeMs(fromMs, shore.site) };
}"""


@pytest.fixture(scope="module")
def opened(browser) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.add_init_script("localStorage.removeItem('fieldlog.alarm')")
    yield page
    page.close()


def at(page: Page, stage: str, query: str, place: str) -> None:
    page.goto("about:blank")
    show(page, stage, query, place)
    page.evaluate(CLOCK)


def counts(**changed: int) -> str:
    zero = {"phone": 0, "held": 0, "taken": 212, "photos_waiting": 0, "drafts": 0, "oldest_unsent_ms": 0}
    return f"change({{ counts: () => ({zero | changed}) }})"


def test_the_header_says_in_few_words_what_is_sent(opened: Page, stage: str) -> None:
    at(opened, stage, "", "#/today")
    sync = opened.locator("header .sync")
    expect(opened.locator("header .back")).to_have_count(0)
    for said, script in (
        ("all sent", counts()), ("3 on this phone", counts(phone=2, photos_waiting=1)), ("2 held", counts(phone=1, held=2)),
    ):  # fmt: skip
        opened.evaluate(script)
        expect(sync).to_have_text(said)
    opened.evaluate(counts(phone=2))
    opened.evaluate("stage.phone.syncState.busy = true; stage.phone.emit('sync')")
    expect(sync).to_have_text("sending")
    opened.evaluate("change({ isFull: true })")
    expect(sync).to_have_text("phone is full")
    opened.evaluate("location.hash = '#/turn-back'")
    expect(opened.locator("header .back")).to_be_visible()


def test_a_phone_of_several_sites_chooses_in_the_header(opened: Page, stage: str) -> None:
    at(opened, stage, "?visit=no", "#/today")
    expect(opened.locator("header .where")).to_have_text("Alder Spit")
    opened.evaluate("""async () => {
      const [site] = await stage.phone.rows('site');
      await stage.phone.write('site', 'other', { ...site, record_id: 'other', site_id: 'other', name: 'Gull Point' });
      stage.phone.pack().sites.other = Object.values(stage.phone.pack().sites)[0];
    }""")
    chosen = opened.get_by_role("combobox", name="Site")
    assert chosen.evaluate("select => [...select.options].map((one) => one.text)") == ["Alder Spit", "Gull Point"]
    assert chosen.bounding_box()["height"] >= 48
    opened.evaluate("() => { stage.phone.setSite = (id) => { window.chosen = id; }; }")
    chosen.select_option("Gull Point")
    assert opened.evaluate("window.chosen") == "other"


SAVED_MEANWHILE = """async () => {
  const { rows } = stage.phone;
  const [visit] = (await rows('visit')).filter((row) => !row.ended_at);
  let isReading = () => {}, goOn = () => {};
  const reading = new Promise((told) => { isReading = told; });
  const saved = new Promise((told) => { goOn = told; });
  stage.phone.rows = async (kind, wanted) => {
    const read = await rows(kind, wanted);
    if (kind === 'visit') { isReading(); await saved; }
    return read;
  };
  location.hash = '#/turn-back';
  await reading;
  stage.phone.rows = rows;
  await stage.phone.write('visit', visit.record_id, { observed_level_m: 1.23, observed_at: new Date(stage.phone.now()).toISOString() });
  await new Promise((told) => { setTimeout(told, 50); });
  goOn();
}"""


def test_what_is_saved_while_a_screen_opens_stands_on_it(opened: Page, stage: str) -> None:
    at(opened, stage, "", "#/visit")
    opened.evaluate(SAVED_MEANWHILE)
    expect(opened.get_by_role("heading", level=1, name="Turn-back clock")).to_be_visible()
    expect(opened.locator("dl.facts")).to_contain_text("read 1.23 m")


def test_of_two_readings_of_a_screen_the_later_stands_though_the_earlier_ends_last(opened: Page, stage: str) -> None:
    at(opened, stage, "", "#/turn-back")
    opened.evaluate(SAVED_MEANWHILE.replace("location.hash = '#/turn-back';", "stage.phone.emit('change');"))
    expect(opened.locator("dl.facts")).to_contain_text("read 1.23 m")


HANGS = """async () => {
  const { rows } = stage.phone;
  let isReading = () => {};
  const reading = new Promise((told) => { isReading = told; });
  stage.phone.rows = () => { isReading(); return new Promise(() => {}); };
  stage.phone.emit('change');
  await reading;
  stage.phone.rows = rows;
}"""
SAVED = """async () => {
  const [visit] = (await stage.phone.rows('visit')).filter((row) => !row.ended_at);
  await stage.phone.write('visit', visit.record_id, { observed_level_m: 1.23, observed_at: new Date(stage.phone.now()).toISOString() });
}"""


def test_a_screen_whose_reading_hangs_keeps_no_other_screen_from_reading(opened: Page, stage: str) -> None:
    at(opened, stage, "", "#/turn-back")
    opened.evaluate(HANGS)
    opened.evaluate("location.hash = '#/visit'")
    expect(opened.get_by_role("heading", level=1, name="Visit")).to_be_visible()
    opened.evaluate(SAVED)
    expect(opened.locator("dl.pairs")).to_contain_text("read 1.23 m")


DARK_IN_AN_HOUR = """async () => {
  const { sun } = Object.values(stage.phone.pack().sites)[0];
  const minute = (stage.phone.now() - Date.parse(`${sun.from_day}T00:00:00Z`)) / 60_000;
  const today = sun.light.find(([starts, ends]) => starts <= minute && minute < ends);
  today[1] = Math.ceil(minute) + 60;
  stage.phone.emit('change');
}"""


def test_the_start_of_a_visit_says_the_time_that_its_clock_will_say(opened: Page, stage: str) -> None:
    at(opened, stage, "?visit=no&out=0", "#/visit")
    start = opened.locator("main p b", has_text="Turn back by")
    expect(start.locator("xpath=..")).not_to_contain_text("last light")
    opened.evaluate(DARK_IN_AN_HOUR)
    expect(start.locator("xpath=..")).to_contain_text("last light is")
    said = start.inner_text().removeprefix("Turn back by ")
    opened.get_by_role("button", name="Start the visit").click()
    expect(opened.get_by_role("heading", level=1, name="People")).to_be_visible()
    opened.evaluate("location.hash = '#/turn-back'")
    expect(opened.locator(".arm .at")).to_have_text(f"at {said}")


def test_the_time_pill_and_the_banner_follow_the_minutes(opened: Page, stage: str) -> None:
    at(opened, stage, "", "#/units")
    back_ms = opened.evaluate(BACK)
    pill, banner = opened.locator("header .pill"), opened.get_by_role("region", name="Turn-back alarm")
    alert = banner.get_by_role("alert")
    for minutes, tone, said in ((50, "plain", "back in 50 min"), (15, "look", "back in 15 min"), (-4, "stop", "4 min past due")):
        opened.evaluate("ms => to(ms)", back_ms - minutes * MINUTE_MS)
        expect(pill).to_have_text(said)
        expect(pill).to_have_class(f"pill {tone}")
        expect(alert).to_have_text("" if tone == "plain" else re.compile("12 people"))
        expect(banner.locator(".notice")).to_have_count(0 if tone == "plain" else 1)
        if tone != "plain":
            expect(banner.locator(".notice")).to_have_class(f"notice {tone}")
    opened.get_by_text("Sound it on this phone too?").click()
    opened.get_by_role("button", name="Switch it on and hear it").click()
    opened.get_by_role("button", name="Heard").click()
    expect(banner).to_contain_text(re.compile(r"Silent until \d\d:\d\d"))


def test_the_most_severe_notice_stands_whole_and_the_rest_are_counted(opened: Page, stage: str) -> None:
    at(opened, stage, "?visit=no&update", "#/today")
    shown = opened.locator(".notices > .notice")
    expect(shown).to_have_count(1)
    expect(shown).to_have_class("notice plain")
    expect(shown).to_contain_text("A new version is ready.")
    opened.context.set_offline(True)
    expect(opened.locator(".notices summary")).to_have_text("1 more notice")
    opened.evaluate("stage.phone.syncState.portal = true; stage.phone.emit('sync')")
    expect(shown).to_have_class("notice look")
    expect(opened.locator(".notices summary")).to_have_text("2 more notices")
    opened.evaluate("stage.phone.emit('fault', { sentence: 'The phone has no space left.' })")
    expect(shown).to_have_class("notice stop")
    expect(shown).to_have_attribute("role", "alert")
    opened.locator(".notices summary").click()
    expect(opened.get_by_text("No network. Saved here, sent later.")).to_be_visible()
    head = opened.locator("header").bounding_box()["y"]
    notices = opened.locator(".notices").bounding_box()
    assert notices["y"] + notices["height"] <= head + 1, "in the page's flow above the header"
    opened.context.set_offline(False)


def test_what_was_saved_is_said_in_the_header_and_taken_back_while_its_button_stands(opened: Page, stage: str) -> None:
    opened.clock.install()
    at(opened, stage, "?out=3", "#/people")
    figure, told = opened.locator(".board.count .figure"), opened.locator("header .told")
    opened.clock.run_for(400)
    opened.get_by_role("button", name="Sign out all 3").click()
    opened.clock.run_for(400)
    opened.get_by_role("button", name="Sign out these 3").click()
    expect(figure).to_have_text("0")
    undo = told.get_by_role("button", name="Undo")
    undo.focus()
    assert axe(opened) == []
    opened.clock.run_for(14_000)
    expect(undo).to_be_visible()
    undo.click()
    expect(figure).to_have_text("3")
    expect(told).to_have_text("Undone.")
    opened.clock.run_for(400)
    opened.locator("button.row:has-text('sign in')").first.click()
    expect(figure).to_have_text("4")
    opened.clock.run_for(400)
    undo.click()
    expect(figure).to_have_text("3")
    assert opened.evaluate("window.written.at(-1).fields") == {"no_out_reason": "Signed in by mistake"}, "nobody is removed"
    opened.clock.run_for(11_000)
    expect(told).to_have_text("")


def test_the_board_of_a_visit_counts_down_then_up(opened: Page, stage: str) -> None:
    at(opened, stage, "", "#/today")
    board, back_ms = opened.locator(".board"), opened.evaluate(BACK)
    for minutes, tone, label, figure in ((95, "", "Turn back in", "1 h 35 min"), (29, "stop", "Turn back in", "29 min"), (-7, "stop", "Turn back now. It was due", "7 min ago")):
        opened.evaluate("ms => to(ms)", back_ms - minutes * MINUTE_MS)
        expect(board.locator(".label")).to_have_text(label)
        expect(board.locator(".figure")).to_have_text(re.compile(r"\s*".join(figure.split())))
        assert ("stop" in board.get_attribute("class")) is (tone == "stop")


def test_the_board_before_a_visit_says_what_comes_next_or_what_lacks(opened: Page, stage: str) -> None:
    at(opened, stage, "?visit=no", "#/today")
    board = opened.locator(".board")
    opened.evaluate("stage.phone.rows('site').then(([site]) => stage.phone.write('site', site.record_id, { travel_min: 120 }))")
    opened.evaluate("to(startMs + 12 * 3_600_000)")
    told = opened.evaluate(NEXT)
    assert told["leaveMs"] < told["driesMs"] < told["fromMs"]
    for ms, label in (
        (told["leaveMs"] - MINUTE_MS, "Leave home at"), (told["leaveMs"] + MINUTE_MS, "Path under water until"),
        (told["driesMs"] + MINUTE_MS, "Work from"), (told["fromMs"] + MINUTE_MS, "Turn back in"),
    ):  # fmt: skip
        opened.evaluate("ms => to(ms)", ms)
        expect(board.locator(".label span").first).to_have_text(label)
    for script, label in (
        ("change({ windows: () => [] }); stage.phone.emit('change')", "No usable low ahead"),
        ("change({ tides: () => null }); stage.phone.emit('change')", "No tide for today"),
        ("stage.phone.rows('site').then(([site]) => stage.phone.write('site', site.record_id, { walk_out_min: null }))", "Not all set up yet"),
    ):  # fmt: skip
        opened.evaluate(script)
        expect(board.locator(".label")).to_have_text(label)
        assert "quiet" in board.get_attribute("class")
        assert opened.get_by_text("Sync once").count() == 1, "what lacks is said once"


CROSSED = """() => {
  const word = [...document.querySelectorAll('.draw text')].find((text) => text.textContent === 'now').getBBox();
  const line = document.querySelector('.draw .turn').getBBox();
  return line.x > word.x - 1 && line.x < word.x + word.width + 1;
}"""


@pytest.mark.parametrize("left", [9, -9])
def test_the_turn_back_line_does_not_go_through_the_word_now(opened: Page, stage: str, left: int) -> None:
    at(opened, stage, "", "#/today")
    opened.evaluate("ms => to(ms)", opened.evaluate(BACK) - left * MINUTE_MS)
    expect(opened.locator(".board")).to_contain_text("ago" if left < 0 else "Turn back in")
    assert not opened.evaluate(CROSSED)


FILLED = """() => [...document.querySelectorAll('body *')].filter((one) => one.checkVisibility()).map((one) => {
  const [red, green, blue, alpha = 1] = getComputedStyle(one).backgroundColor.match(/[\\d.]+/g).map(Number);
  const light = [red, green, blue].map((part) => part / 255).map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
  const { width, height } = one.getBoundingClientRect();
  return { name: `${one.tagName}.${one.className}`, light: alpha * (0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2]), area: width * height };
}).filter(({ light, area }) => light > 0.03 && area > 400).map(({ name }) => name)"""


@pytest.mark.parametrize(("query", "place", "left"), [("", "#/today", 60), ("", "#/turn-back", -5), ("?fault", "#/people", -5), ("", "#/units", 10), ("", "#/sighting", 60)])
def test_at_night_nothing_large_is_bright(opened: Page, stage: str, query: str, place: str, left: int) -> None:
    """0.03 of the light of white, WCAG 2's relative luminance: dark ground for eyes that have to see the shore. Our own proposal."""
    at(opened, stage, query, place)
    opened.evaluate("document.documentElement.dataset.theme = 'night'")
    opened.evaluate("ms => to(ms)", opened.evaluate(BACK) - left * MINUTE_MS)
    assert opened.evaluate(FILLED) == []
    assert axe(opened) == []


@pytest.mark.parametrize(("query", "place"), [("", "#/today"), ("?out=3", "#/people"), ("", "#/visit"), ("?role=lead", "#/flags")])
def test_text_at_twice_its_size_goes_on_below_and_breaks_no_word_of_a_way(opened: Page, stage: str, query: str, place: str) -> None:
    at(opened, stage, query, place)
    heights = "[...document.querySelectorAll('.ways a')].filter((one) => one.checkVisibility()).map((one) => one.innerText.includes(' ') ? 0 : one.scrollHeight)"
    opened.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; }); document.documentElement.style.fontSize = '200%'")
    assert opened.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    assert max(opened.evaluate(heights)) < 120, "one line of text under its picture"
    parts = "[...document.querySelectorAll('dd, dt, button, .said')].filter((one) => one.scrollWidth > one.clientWidth + 1 && one.checkVisibility() && getComputedStyle(one).display !== 'inline').map((one) => one.innerText)"
    assert opened.evaluate(parts) == []
