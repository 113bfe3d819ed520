"""What phones differ in: keypads without a minus, cameras, sizes of text, colours that the system chooses."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from views import stage_pack, stage_server

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
def stage():
    server = stage_server.serve(stage_pack.stage_pack(), [stage_server.STATIC])
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()


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
    expect(page.locator("#f-crest_level_mm-said")).to_have_text("Type the digits that go with the minus.")
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
