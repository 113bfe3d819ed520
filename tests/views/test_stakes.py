"""Ten stakes are written as fast as on a clipboard, and nothing odd or half-typed is saved unasked."""

from __future__ import annotations

import pytest

from tests.browser.app_page import CALM_MS
from tests.screen_checks import words_in
from tests.waiting import wait_until
from views import stage_pack

pytestmark = pytest.mark.browser

STAKES = f"#/plots/{stage_pack.plot_id(0)}/stakes"
NOW_MM = (208, 195, 214, 203, 215, 204, 227, 192, 222, 201)
MOST_INPUTS = 45
IN_SIGHT = "document.activeElement.getBoundingClientRect().bottom < innerHeight * 0.65"
"""Above where the keyboard of a phone begins, which takes about a third of its height; common practice, no source."""

JUDGED = """async (cases) => {
  const [{ judgedStake, partWords }, { kinds }] = [await import('/views/stakes.js'), stage.phone.pack().forms];
  const said = cases.map(([typed, last]) => judgedStake(typed, last, kinds.stake_reading));
  return { said: said.map((one) => [one.exposedMm, one.changeMm, one.fault !== null, one.question]),
    parts: [[9, 10], [10, 10], [7, 10], [1, 1]].map(([read, all]) => partWords(read, all)) };
}"""
LESS = "52 mm less than last time. Read this stake again?"
CASES = (
    (({}, 200), [None, None, False, None]),
    (({"text": " 208,5 "}, 212), [208.5, -3.5, False, None]),
    (({"text": "240"}, 200), [240, 40, False, None]),
    (({"text": "241"}, 200), [241, 41, False, "41 mm more than last time. Read this stake again?"]),
    (({"text": "172"}, 224), [172, -52, False, LESS]),
    (({"text": "172", "sure": "172"}, 224), [172, -52, False, None]),
    (({"text": "17", "sure": "172"}, 224), [17, -207, False, "207 mm less than last time. Read this stake again?"]),
    (({"text": "2o8"}, 212), [None, None, True, None]),
    (({"text": "-5"}, 212), [None, None, True, None]),
    (({"text": "3001"}, None), [None, None, True, None]),
    (({"ring": True}, 212), [None, None, True, None]),
)


def written(page) -> list[dict]:
    return page.evaluate("window.written.filter((one) => one.kind === 'stake_reading')")


def test_what_a_box_says(show) -> None:
    page = show("#/today")
    told = page.evaluate(JUDGED, [list(case) for case, _ in CASES])
    assert told["said"] == [said for _, said in CASES]
    assert told["parts"] == ["9 of 10, one not read", "all 10", "7 of 10, 3 not read", "the reading"]
    zero = page.evaluate(JUDGED, [[{"text": "0"}, 12]])["said"][0]
    assert zero[:3] == [0, -12, False] and zero[3], "a zero is typed, and asked about"


def test_ten_stakes_take_few_keys_and_taps(show) -> None:
    page = show(STAKES)
    boxes = page.locator(".stake input[inputmode]")
    assert boxes.count() == 10
    inputs = 1
    boxes.first.click()
    for n, value in enumerate(NOW_MM):
        if n:
            wait_until(page, IN_SIGHT)
        page.keyboard.type(str(value))
        inputs += len(str(value))
        if n < 9:
            page.keyboard.press("Enter")
            inputs += 1
    page.locator("label.ringbox").nth(6).click()
    page.get_by_role("button", name="Save all 10").click()
    inputs += 2
    assert inputs <= MOST_INPUTS
    page.get_by_text("Stakes C: all 10 saved on this phone.").first.wait_for()
    rows = written(page)
    assert [row["fields"]["exposed_mm"] for row in rows] == list(NOW_MM)
    assert len({row["fields"]["read_at"] for row in rows}) == 1
    assert [row["fields"]["scour_ring"] for row in rows] == [n == 6 for n in range(10)]
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="Undo").first.click()
    wait_until(page, "window.written.filter((one) => one.fields._deleted).length === 10")


def test_what_is_odd_is_asked_in_place_what_is_empty_is_not_read_and_a_draft_stays(show) -> None:
    page = show(STAKES)
    boxes = page.locator(".stake input[inputmode]")
    boxes.nth(8).fill("172")
    assert page.locator(".stakes .doubt").count() == 0, "not while it is typed"
    page.keyboard.press("Enter")
    assert words_in(page.locator(".stakes .doubt")) == LESS
    page.evaluate("location.hash = '#/today'")
    page.get_by_role("heading", name="Today").wait_for()
    page.evaluate(f"location.hash = '{STAKES}'")
    page.get_by_role("button", name="It is 172").wait_for()
    page.get_by_role("button", name="Save 1 of 10, 9 not read").click()
    assert written(page) == [], "it waits for its answer"
    page.get_by_role("button", name="It is 172").click()
    page.locator(".stakes .doubt").wait_for(state="detached")
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="Save 1 of 10, 9 not read").click()
    page.get_by_text("1 of 10, 9 not read saved on this phone").first.wait_for()
    assert [row["fields"]["exposed_mm"] for row in written(page)] == [172]
    page.evaluate(f"location.hash = '{STAKES}'")
    page.get_by_text("172 mm, read").wait_for()
    assert page.locator(".stake input[inputmode]").count() == 9
