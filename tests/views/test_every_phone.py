"""What phones differ in: keypads without a minus, cameras, sizes of text, colours that the system chooses."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import CALM_MS
from tests.screen_checks import small_targets
from tests.views.test_screens import SCREENS
from views import stage_pack

pytestmark = pytest.mark.browser

UNIT = f"#/units/{stage_pack.unit_id(38)}/check"

SIGNS = """async () => {
  const [{ RecordForm }, { render }] = await Promise.all([import('/views/record-form.js'), import('/vendor/lit-html-3.3.3/lit-html.js')]);
  const told = [];
  for (const [kind, form] of Object.entries(window.stage.phone.pack().forms.kinds)) {
    const fields = await new RecordForm({ phone: window.stage.phone, settings: { feet: false }, redraw() {}, say() {} }, kind, `all:${kind}`).start({});
    for (const [name, input] of fields.inputs) {
      if (input.control !== 'number') continue;
      const place = document.createElement('div');
      document.body.append(place);
      render(fields.input(name), place);
      const [sign] = place.querySelectorAll('button');
      const box = sign?.getBoundingClientRect();
      told.push({ field: `${kind}.${name}`, least: form.properties[name].minimum,
        sign: sign ? [sign.getAttribute('aria-label'), box.width >= 48 && box.height >= 48] : null, title: input.title });
      place.remove();
    }
  }
  return told;
}"""


@pytest.fixture(scope="module")
def shown(browser, stage):
    """shown(place, query, **options): a page of the stage; one page for each set of options."""
    pages: dict[str, object] = {}

    def show(place: str, query: str = "", **options):
        key = repr(sorted(options.items()))
        if key not in pages:
            pages[key] = browser.new_context(**{"viewport": {"width": 390, "height": 844}, **options}).new_page()
        page = pages[key]
        page.goto("about:blank")
        page.goto(f"{stage}{query}{place}")
        page.wait_for_selector("html[data-ready]")
        return page

    yield show
    for page in pages.values():
        page.context.close()


def test_every_number_that_may_be_below_zero_has_a_button_for_its_sign_and_no_other(shown) -> None:
    fields = shown(UNIT).evaluate(SIGNS)
    assert len(fields) > 60
    assert [one for one in fields if (one["sign"] is not None) != (one["least"] < 0)] == []
    signed = [one for one in fields if one["sign"]]
    assert len(signed) >= 23
    assert [one for one in signed if one["sign"] != [f"Minus: {one['title']}", True]] == []


def test_a_sign_can_be_given_before_and_after_the_digits(shown) -> None:
    page = shown(UNIT)
    page.locator("summary", has_text="Toe, crest level").click()
    box, sign = page.locator("#f-crest_level_mm"), page.get_by_role("button", name="Minus: Crest level")
    sign.click()
    expect(box).to_be_focused()
    expect(page.locator("#f-crest_level_mm-said")).to_have_text("Type the digits after the minus.")
    page.keyboard.type("250")
    expect(box).to_have_value("-250")
    expect(sign).to_have_attribute("aria-pressed", "true")
    expect(page.locator("#f-crest_level_mm-said")).not_to_contain_text("minus")
    sign.click()
    expect(box).to_have_value("250")
    expect(sign).to_have_attribute("aria-pressed", "false")


@pytest.mark.parametrize("place", [UNIT, "#/sighting"], ids=["check", "sighting"])
def test_the_camera_and_the_pictures_that_are_there_are_both_offered(shown, place) -> None:
    page = shown(place)
    inputs = "document.querySelectorAll('input[type=file]')"
    assert page.evaluate(f"[...{inputs}].map((one) => [one.getAttribute('aria-label'), one.getAttribute('capture')])") == [
        ["Take a photo", "environment"], ["Choose a photo", None],
    ]  # fmt: skip


BROKEN_WORDS = """() => {
  const broken = [];
  const walker = document.createTreeWalker(document.querySelector('.frame'), NodeFilter.SHOW_TEXT);
  const range = document.createRange();
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (!node.parentElement.checkVisibility() || node.parentElement.closest('.unseen, .code, svg, pre')) continue;
    for (const { 0: word, index } of node.data.matchAll(/[\\p{L}\\p{N}]+/gu)) {
      range.setStart(node, index);
      range.setEnd(node, index + word.length);
      const tops = new Set([...range.getClientRects()].filter((box) => box.width > 0.5).map((box) => Math.round(box.top)));
      if (tops.size > 1) broken.push(`${word} in ${node.parentElement.tagName}`);
    }
  }
  return broken;
}"""
CLIPPED = """() => [...document.querySelectorAll('main *, .foot *')].filter((one) => one.checkVisibility() && !one.closest('.wide-scroll, .scroll, .unseen')
  && one.getBoundingClientRect().right > document.documentElement.clientWidth + 1).map((one) => one.outerHTML.slice(0, 90))"""


SIDEWAYS = """() => [...document.querySelectorAll('.wide-scroll, .scroll')].filter((one) => one.scrollWidth > one.clientWidth + 1)
  .map((one) => one.getAttribute('aria-label'))"""
SHAPES_OF_USUAL_SIZE = """() => [...document.querySelectorAll('svg.mark, svg.chevron, nav svg, .top svg, .inline-icon svg')]
  .filter((one) => one.checkVisibility() && one.getBoundingClientRect().width < 32).map((one) => one.outerHTML.slice(0, 60))"""


@pytest.fixture(scope="module")
def large(playwright, chromium_options):
    """A page of a narrow phone whose reader's own size of text is 32 px: it moves the break points, which a page's own style would not."""
    options = {**chromium_options, "args": [*chromium_options.get("args", []), "--blink-settings=defaultFontSize=32"]}
    browser = playwright.chromium.launch(**options)
    yield browser.new_page(viewport={"width": 360, "height": 740})
    browser.close()


def open_at_twice_the_size(page, address: str) -> None:
    page.goto("about:blank")
    page.goto(address)
    page.wait_for_selector("html[data-ready]")


def faults_at_twice_the_size(page, address: str) -> list[object]:
    open_at_twice_the_size(page, address)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert page.evaluate("getComputedStyle(document.querySelector('.thumb')).position") == "static", "nothing covers what is read"
    return [fault for script in (BROKEN_WORDS, CLIPPED, SIDEWAYS, SHAPES_OF_USUAL_SIZE) for fault in page.evaluate(script)]


@pytest.mark.parametrize(("query", "place"), [("", UNIT), ("", "#/people"), ("?role=lead", f"#/set-up/site/{stage_pack.SITE_ID}"), ("", "#/units")])
def test_at_a_text_size_of_32_px_on_a_narrow_phone_nothing_is_broken_by_letters_or_stands_outside(large, stage, query, place) -> None:
    assert faults_at_twice_the_size(large, f"{stage}{query}{place}") == []


@pytest.mark.long
@pytest.mark.parametrize("name", SCREENS)
def test_at_a_text_size_of_32_px_every_screen_keeps_its_words_whole(large, stage, name) -> None:
    query, place = SCREENS[name]
    assert faults_at_twice_the_size(large, f"{stage}{query}{place}") == []


MINUTES_LEFT = """async (minutes) => {
  const { readShore, turnBack } = await import('/views/shore.js');
  const { atMs } = turnBack(await readShore(stage.phone), stage.phone.now());
  stage.phone.now = () => atMs - minutes * 60_000;
  stage.phone.emit('change');
}"""
LINES = """(word) => {
  const texts = document.createTreeWalker(document.querySelector('.board .figure'), NodeFilter.SHOW_TEXT);
  const tops = [];
  for (let text = texts.nextNode(); text; text = texts.nextNode()) {
    const range = document.createRange();
    const at = text.data.indexOf(word);
    if (at < 0) continue;
    range.setStart(text, at);
    range.setEnd(text, at + word.length);
    tops.push(...[...range.getClientRects()].map((box) => Math.round(box.top)));
  }
  return tops;
}"""


def test_at_a_text_size_of_32_px_the_alarm_and_its_question_leave_room_for_the_screen(large, stage) -> None:
    open_at_twice_the_size(large, f"{stage}#/units")
    large.evaluate(MINUTES_LEFT, 10)
    expect(large.get_by_role("region", name="Turn-back alarm")).to_contain_text("10 min left")
    head = large.locator("header.top").bounding_box()
    assert head["y"] < 740 * 0.75
    open_at_twice_the_size(large, f"{stage}#/today")
    large.evaluate(MINUTES_LEFT, -7)
    expect(large.locator(".board .figure")).to_contain_text("ago")
    assert large.evaluate(LINES, "ago") == large.evaluate(LINES, "min"), "a word alone on its line says nothing"


WHOLE = """([value, name]) => {
  const make = (type) => {
    const field = document.createElement('div');
    field.className = 'field';
    const box = Object.assign(document.createElement('input'), { className: 'line', type });
    field.append(box);
    document.querySelector('main').append(field);
    return box;
  };
  const pen = document.createElement('canvas').getContext('2d');
  const taken = (box, text) => {
    const { fontSize, fontFamily, paddingLeft, paddingRight } = getComputedStyle(box);
    pen.font = `${fontSize} ${fontFamily}`;
    return pen.measureText(text).width + parseFloat(paddingLeft) + parseFloat(paddingRight);
  };
  const [at, file] = [make('datetime-local'), make('file')];
  const button = getComputedStyle(file, '::file-selector-button');
  const beside = button.display === 'block' ? 0 : taken(file, 'Choose File');
  return [at.clientWidth - taken(at, value) - 1.5 * parseFloat(getComputedStyle(at).fontSize), file.clientWidth - taken(file, name) - beside];
}"""
"""What is left of the width beside a day with its time and its calendar's sign, and beside a file's name."""


def test_at_a_text_size_of_32_px_a_day_with_its_time_and_a_files_name_are_read_whole(large, stage) -> None:
    open_at_twice_the_size(large, f"{stage}#/settings")
    assert min(large.evaluate(WHOLE, ["11/25/2026, 02:35 PM", "row-d-post.csv"])) > 0


def test_at_a_text_size_of_32_px_a_flags_sentence_has_the_width_of_the_screen(large, stage) -> None:
    open_at_twice_the_size(large, f"{stage}?role=lead#/flags")
    rows = large.locator("main summary")
    assert rows.count() > 2
    assert min(rows.evaluate_all("(rows) => rows.map((row) => row.querySelector('.said').offsetWidth / row.offsetWidth)")) > 0.9


NAMES_CUT = """() => [...document.querySelectorAll('[type=search]')].filter((one) => one.checkVisibility()).map((one) => {
  const label = one.labels[0].getBoundingClientRect();
  const pen = document.createElement('canvas').getContext('2d');
  const { fontSize, fontFamily, paddingLeft, paddingRight } = getComputedStyle(one);
  if (label.width > 40 && label.height > 20) return null;
  pen.font = `${fontSize} ${fontFamily}`;
  const room = one.clientWidth - parseFloat(paddingLeft) - parseFloat(paddingRight);
  return pen.measureText(one.placeholder).width <= room ? null : `${one.placeholder} in ${room} px`;
}).filter(Boolean)"""


@pytest.mark.parametrize("place", ["#/units", "#/phone"])
def test_at_a_text_size_of_32_px_what_a_search_finds_is_read_whole(large, stage, place) -> None:
    open_at_twice_the_size(large, f"{stage}?role=lead{place}")
    assert large.locator("[type=search]").count() == 1
    assert large.evaluate(NAMES_CUT) == []


CONSTANTS = """async () => {
  const [{ constantsOfWay }, { render }] = await Promise.all([import('/online/tide-constants.js'), import('/vendor/lit-html-3.3.3/lit-html.js')]);
  const constant = (name, inferred_from) => ({ name, amplitude_m: 1.234, amplitude_ci_m: 0.012, phase_deg: 237.1, phase_ci_deg: 112.3, needs_days: 365.6, inferred_from });
  const place = document.createElement('div');
  document.querySelector('main').replaceChildren(place);
  render(constantsOfWay({ constants: [constant('M2', null), constant('K1', 'the reference port')], not_parted: [] }, false), place);
}"""


def test_a_table_of_constants_fits_a_phone_at_the_usual_size(shown) -> None:
    page = shown("#/settings")
    page.evaluate(CONSTANTS)
    assert page.evaluate(SIDEWAYS) == []


def test_a_table_of_constants_is_read_at_twice_the_size_without_scrolling_sideways(large, stage) -> None:
    large.goto(f"{stage}#/settings")
    large.wait_for_selector("html[data-ready]")
    large.evaluate(CONSTANTS)
    assert (large.evaluate(SIDEWAYS), large.evaluate(BROKEN_WORDS)) == ([], [])
    head = large.locator("td[data-head]").first.evaluate("(one) => getComputedStyle(one, '::before').content")
    assert head == '"Amplitude, m"', "each value says of which column it is"


def test_nothing_stands_under_a_notch_or_a_home_bar(shown) -> None:
    page = shown("#/people", viewport={"width": 844, "height": 390})
    assert page.evaluate("document.documentElement.scrollWidth") == 844
    assert page.evaluate("getComputedStyle(document.querySelector('.thumb')).position") == "static", "landscape leaves the height to what is read"
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setSafeAreaInsetsOverride", {"insets": {"top": 0, "left": 47, "right": 47, "bottom": 21}})
    inside = """() => [...document.querySelectorAll('.top h1, main button, .foot button, .ways a')].filter((one) => one.checkVisibility())
      .every((one) => { const { left, right } = one.getBoundingClientRect(); return left >= 47 && right <= 797; })"""
    assert page.evaluate(inside)
    lowest = "Math.max(...[...document.querySelectorAll('.ways a')].map((one) => one.getBoundingClientRect().bottom))"
    assert page.evaluate(f"document.documentElement.scrollHeight - window.scrollY - {lowest}") >= 20
    session.send("Emulation.setSafeAreaInsetsOverride", {"insets": {}})


def test_where_the_system_chooses_the_colours_what_is_pressed_is_still_seen(shown) -> None:
    page = shown(UNIT, forced_colors="active")
    edge = "(one) => getComputedStyle(one).borderTopStyle"
    page.get_by_role("radio", name="Seen", exact=True).click()
    crack = page.get_by_role("button", name="Crack")
    before = crack.evaluate(edge)
    crack.click()
    expect(crack).to_have_attribute("aria-pressed", "true")
    assert (before, crack.evaluate(edge)) == ("solid", "double")
    assert page.locator(".choice input:checked + span").first.evaluate(edge) == "double"
    assert page.locator(".ways a[aria-current]").first.evaluate(edge) == "double"


def test_where_tab_and_app_keep_apart_installing_comes_first_and_joining_in_the_tab_is_no_likely_step(shown) -> None:
    page = shown("#join=K7QM3XDP", "?joined=no")
    join = page.get_by_role("button", name="Join", exact=True)
    expect(join).to_have_class("do")
    page.add_init_script("Object.defineProperty(navigator, 'standalone', { value: false });")
    page.reload()
    page.wait_for_selector("html[data-ready]")
    expect(page.get_by_role("button", name=re.compile("^Join in the browser"))).to_have_class("or")
    assert "Install first" in page.locator("main > *").first.inner_text()
    expect(page.locator("main .steps")).to_contain_text("Install the app")


def test_an_input_that_must_be_mended_says_so_and_why(shown) -> None:
    page = shown(UNIT)
    height = page.locator("#f-exposed_height_mm")
    height.fill("abc")
    expect(height).to_have_attribute("aria-invalid", "true")
    said = height.evaluate("(one) => one.getAttribute('aria-describedby').split(' ').map((id) => document.getElementById(id).innerText).join(' ')")
    assert "\u201cabc\u201d is not a number." in said
    height.fill("200")
    expect(height).not_to_have_attribute("aria-invalid", "true")


@pytest.mark.parametrize(
    ("place", "query", "taps", "asks"),
    [
        ("#/people", "", ["Sign out all "], "back on firm ground"),
        ("#/people", "", ["Add a person"], "Add a person"),
        ("#/record/unit_check/01900007-0000-7000-8000-000000000036", "", ["Remove"], "Remove this"),
        (f"#/set-up/site/{stage_pack.SITE_ID}", "?role=lead", ["Remove"], "is used by"),
        ("#/visit", "", ["Briefing given"], "Undo"),
        ("#/visit", "", ["End the visit"], "End this visit"),
        ("#/phone", "?held", ["Leave the program"], "This clears this phone"),
    ],
    ids=["everyone out", "a person", "a removal", "what hangs", "undo", "the end", "leaving"],
)
def test_what_comes_up_at_a_tap_is_large_enough_for_a_wet_finger(shown, place, query, taps, asks) -> None:
    page = shown(place, query)
    for name in taps:
        page.wait_for_timeout(CALM_MS)
        page.get_by_role("button", name=re.compile(f"^{name}")).first.click()
    expect(page.locator(".frame")).to_contain_text(asks)
    assert small_targets(page) == []


PICTURE = """async () => {
  const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const { Photos } = await import('/views/photo-box.js');
  const photos = new Photos({});
  photos.list = [URL.createObjectURL(new Blob(['no picture'])), null].map((url) => ({ photo: {}, url }));
  render(photos.draw(() => ''), document.body);
  const [picture] = document.body.querySelectorAll('img');
  for (let turn = 0; turn < 200 && !picture.hidden; turn++) await new Promise((done) => setTimeout(done, 10));
  return document.body.innerText.split('\\n').map((line) => line.trim()).filter(Boolean);
}"""


def test_a_photo_kept_as_it_came_is_not_told_as_lost(modules_page) -> None:
    assert modules_page.evaluate(PICTURE) == ["kept, but this browser cannot show it", "not on this device"]
