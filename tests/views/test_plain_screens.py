"""What one comes for is found at once: names of screens, what stands first, and who sees what."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.app_page import CALM_MS, LAPTOP_PX, PHONE_PX
from views import stage_pack

pytestmark = pytest.mark.browser


def goes(page, name: str) -> None:
    """To a screen, or to what a role sees instead of it, once that stands: each screen names the page."""
    page.evaluate("name => { document.title = ''; location.hash = `#/${name}`; }", name)
    page.wait_for_function("() => document.title !== ''")


def test_low_tides_begin_with_the_next_usable_low_above_the_fold_and_explain_only_when_asked(show) -> None:
    page = show("#/low-tides", "?visit=no")
    assert page.locator("h1").inner_text() == "Low tides"
    board = page.get_by_role("region", name="Usable now")
    box = board.bounding_box()
    assert box["y"] < page.locator("fieldset").first.bounding_box()["y"]
    assert box["y"] + box["height"] < page.locator(".thumb").bounding_box()["y"]
    assert "Turn back" in board.inner_text()
    assert page.locator("details.window").count() == 7
    page.get_by_role("button", name="of the next 60 days").click()
    assert page.locator("details.window").count() > 7
    assert not page.get_by_text("Plan with these times").is_visible()
    page.get_by_text("How these times are made").click()
    assert page.get_by_text("Plan with these times").is_visible()


MANY_SIGHTINGS = """() => {
  const { phone } = stage, read = phone.rowsAndRemoved;
  phone.rowsAndRemoved = async (kind, ...rest) => {
    const rows = await read(kind, ...rest);
    return kind === 'sighting' ? Array.from({ length: 45 }, (_, n) => ({ ...rows[0], record_id: `${rows[0].record_id}${n}` })) : rows;
  };
}"""


def test_a_list_of_the_newest_says_so_and_the_rest_can_be_seen(show) -> None:
    """The heading counted what was drawn, as if there were no more."""
    page = show("#/units")
    page.evaluate(MANY_SIGHTINGS)
    goes(page, "sighting")
    noted = page.locator("section", has=page.get_by_role("heading", name="Noted before"))
    expect(noted.locator(".bar span")).to_have_text("newest 30")
    expect(noted.locator(".row")).to_have_count(30)
    noted.get_by_role("button", name="Show more").click()
    expect(noted.locator(".row")).to_have_count(45)
    expect(noted.locator(".bar span")).to_have_text("45")
    expect(noted.get_by_role("button", name="Show more")).to_have_count(0)


def test_one_person_out_is_signed_out_on_their_row(show) -> None:
    """Below stood "Sign out all 1"."""
    page = show("#/people", "?out=1")
    expect(page.locator(".row.wrap button", has_text="sign out")).to_have_count(1)
    expect(page.get_by_role("button", name="Sign out all")).to_have_count(0)


def test_whether_to_end_a_visit_is_asked_where_the_focus_goes(show) -> None:
    page = show("#/visit")
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="End the visit").click()
    expect(page.locator("#ending")).to_be_focused()


@pytest.mark.parametrize(("size", "word"), [(PHONE_PX, "phone"), (LAPTOP_PX, "device")])
def test_a_laptop_is_called_a_device(show, size, word) -> None:
    page = show("#/phone", size=size)
    assert page.locator("h1").inner_text() == f"This {word}"
    assert page.locator("nav a", has_text="This ").inner_text() == f"This {word}"
    expect(page.locator("a.sync")).to_have_text(f"16 on this {word}")


READS = {"Today", "Units", "Sightings", "Low tides", "Flags", "Settings", "This device"}
OFFERED = {
    "reader": READS | {"Visits"}, "desk": READS | {"People", "Visits"}, "crew": READS | {"People", "Visit"}, "lead": READS | {"People", "Visit", "Set-up"},
}  # fmt: skip
SCREENS = ["visit", "people", "plan", "turn-back", "visits", "set-up", "access", "site-tide", "plan-making", "data"]
OPENED = {
    "reader": {"visits", "data"}, "desk": {"people", "visits", "data"}, "crew": {"visit", "people", "plan", "turn-back", "visits", "data"}, "lead": set(SCREENS),
}  # fmt: skip


@pytest.mark.parametrize("role", OFFERED)
def test_a_role_is_offered_what_it_has_a_use_for_and_nothing_else_opens(show, role) -> None:
    page = show("#/today", f"?role={role}&visit=no", LAPTOP_PX)
    assert set(page.locator("nav a").all_inner_texts()) == OFFERED[role]
    opened = set()
    for name in SCREENS:
        goes(page, name)
        if page.locator("h1").inner_text() != "Today":
            opened.add(name)
        goes(page, "today")
    assert opened == OPENED[role]


def test_a_desk_is_not_offered_what_it_may_not_write_on_a_unit(show) -> None:
    """"Check" led back to the list, and work on a unit was held by the server."""
    page = show(f"#/units/{stage_pack.unit_id(38)}", "?role=desk&visit=no")
    page.get_by_role("heading", name="What happened").wait_for()
    assert page.locator(".foot").count() == 0
    assert page.get_by_role("button", name="Record work on this unit").count() == 0


def test_a_reader_who_joins_lands_on_today_and_writes_nothing(show) -> None:
    page = show("#join=K7QM3XDP", "?role=reader&joined=nobody&visit=no")
    assert page.locator("h1").inner_text() == "Today"
    for place in ("today", "units", "sighting", f"units/{stage_pack.unit_id(38)}", f"units/{stage_pack.unit_id(38)}/check", "flags"):
        goes(page, place)
        assert page.locator(".foot").count() == 0, place
        assert page.get_by_role("button", name="Add myself").count() == 0, place
        assert "saved" not in page.locator("header").inner_text(), f"{place}: a reader saves nothing"


@pytest.mark.parametrize("place", ["today", "units", "low-tides", "people", "phone", "flags", "sighting", "visit"])
def test_settings_are_reached_from_every_screen(show, place) -> None:
    page = show(f"#/{place}")
    page.get_by_role("link", name="Settings").click()
    expect(page.locator("h1")).to_have_text("Settings")
    if place == "today":
        page.get_by_role("radio", name="Feet").check(force=True)
        page.get_by_role("radio", name="Night").check(force=True)
        assert page.evaluate("document.documentElement.dataset.theme") == "night"
        page.evaluate("location.hash = '#/low-tides'")
        expect(page.locator(".board .facts")).to_contain_text(" ft")
        page.evaluate("localStorage.clear()")


def test_a_search_finds_every_word_in_any_of_the_texts(show) -> None:
    page = show("#/units")
    found = page.evaluate(
        """async (cases) => { const { has } = await import('/views/search-box.js');
          return cases.map(([texts, searched]) => has(texts, searched)); }""",
        [
            [["B024", "Row B", None], "b02"], [["B024", "Row B"], "row b024"], [["B024"], "row"], [["Zo\u00eb Ploverk\u00f8"], "zoe"],
            [[None], ""], [["chip at the foot"], " foot  chip "], [[7, "x"], "7"],
        ],
    )  # fmt: skip
    assert found == [True, True, False, True, True, True, False]


@pytest.mark.parametrize(
    ("place", "typed", "row", "left"),
    [
        ("#/units", "b0", "a.row", 9 + 2), ("#/units", "row d 33", "a.row", 1 + 2), ("#/flags", "D040", "details.flag", 1),
        ("#/people", "wren", "button.row", 1), ("#/phone", "whelk", ".row", 1),
    ],
)  # fmt: skip
def test_a_search_leaves_what_has_what_was_typed(show, place, typed, row, left) -> None:
    page = show(place, "?visit=no")
    box = page.get_by_role("searchbox")
    rows = page.locator("main").locator(row)
    assert rows.count() > left
    box.fill(typed)
    expect(rows).to_have_count(left)  # of units, the rows that lead to the plan and to the plots stay
    box.fill("no such thing")
    expect(page.locator("main")).to_contain_text("no such thing" if place != "#/people" else "No such name")
    if place == "#/phone":
        page.evaluate("() => { stage.phone.entries = async () => []; }")
        box.fill("")
        box.fill("zz")
        expect(page.get_by_text("None.", exact=True)).to_be_visible()
        assert "newest 0" not in page.locator("main").inner_text()


def test_a_sighting_offers_what_fits_the_group_of_the_species(show) -> None:
    page = show("#/sighting")
    stages = page.get_by_role("radiogroup", name="Life stage")
    assert stages.get_by_role("radio", name="In flower").count() == 1, "of words alone no group is known"
    offered = {}
    for species in ("Shore crab", "Smooth cordgrass", "Herring gull"):
        page.locator("#f-taxon").fill(species)
        page.get_by_role("button", name=species).click()
        offered[species] = stages.locator("label").all_inner_texts(), page.locator("summary", has_text="More:").inner_text()
        if species == "Shore crab":
            page.get_by_role("radio", name="Larva").check(force=True)
        page.get_by_role("button", name="Change").click()
    assert offered == {
        "Shore crab": (["Egg or spawn", "Larva", "Young", "Adult", "Dead or shell only"], "More: behavior, how sure, near which unit"),
        "Smooth cordgrass": (["Adult", "Seedling", "In flower", "Dead or shell only"], "More: how sure, near which unit"),
        "Herring gull": (["Egg or spawn", "Young", "Adult", "Dead or shell only"], "More: behavior, how sure, near which unit"),
    }
    assert page.locator("input[name=life_stage]:checked").count() == 0, "a larva chosen for a crab does not stay with a grass"


def test_a_correction_of_a_sighting_offers_the_same(show) -> None:
    page = show("#/today", "?role=lead")
    page.evaluate("stage.phone.write('sighting', 's', { species_id: '0190000e-0000-7000-8000-000000000006', found: 'seen', life_stage: 'flowering', seen_at: '2026-11-01T10:00:00Z' })")
    goes(page, "record/sighting/s")
    page.get_by_role("button", name="Correct").click()
    stages = page.get_by_role("radiogroup", name="Life stage")
    expect(stages.locator("label")).to_have_text(["Adult", "Seedling", "In flower", "Dead or shell only"])
    expect(page.locator("[name=behaviour]")).to_have_count(0)
    page.locator("#f-species_id").select_option(label="Shore crab")
    expect(stages.locator("label")).to_have_text(["Egg or spawn", "Larva", "Young", "Adult", "Dead or shell only"])
    expect(page.get_by_role("button", name="dug in")).to_be_visible()
    page.wait_for_timeout(CALM_MS)
    page.get_by_role("button", name="Save the correction").click()
    page.get_by_role("button", name="Undo").wait_for()
    assert page.evaluate("window.written.at(-1).fields") == {"species_id": "0190000e-0000-7000-8000-000000000003", "life_stage": None}


def test_a_reader_is_told_of_no_name_and_of_no_entries_of_their_own(show) -> None:
    page = show("#/today", "?role=reader&joined=nobody&visit=no")
    page.evaluate("() => { const counts = stage.phone.counts(); stage.phone.counts = () => ({ ...counts, phone: 0, taken: 0, held: 0 }); }")
    goes(page, "phone")
    assert page.locator(".where").first.inner_text() == "Reader"
    saves = page.get_by_role("button", name="own entries as a file")
    assert saves.count() == 0
    page.evaluate("() => { const counts = stage.phone.counts(); stage.phone.counts = () => ({ ...counts, phone: 1 }); stage.phone.emit('change'); }")
    expect(saves).to_have_count(1)  # written before a lead made this phone a reader's


def test_the_next_low_of_a_row_ends_where_the_list_beneath_has_its_end(show) -> None:
    """Row D floods before all turn back: told with the site's end, its board ran past its own flooding."""
    page = show(f"#/low-tides/{stage_pack.row_id(3)}", "?visit=no")
    figure = page.locator(".board .figure").inner_text()
    assert figure in page.locator("details.window small").first.inner_text()
    assert figure[-5:] < page.locator(".board .because").inner_text().removeprefix("Turn back ")[:5]


def test_before_anyone_is_signed_in_nobody_is_told_to_be_back(show) -> None:
    page = show("#/turn-back", "?out=0")
    expect(page.locator(".arm .label")).to_have_text("Nobody is signed in yet")
    page.evaluate("location.hash = '#/people'")
    expect(page.get_by_text("Nobody is signed in yet.")).to_be_visible()
    page.evaluate("""async () => {
      const [visit] = await stage.phone.rows('visit');
      await stage.phone.write('sign_in', 'i', { person_id: 'p', visit_id: visit.record_id, in_at: visit.started_at, out_at: visit.started_at });
    }""")
    expect(page.get_by_text("Nobody is out.")).to_be_visible()
    page.evaluate("location.hash = '#/turn-back'")
    expect(page.locator(".arm .label")).to_have_text("Everyone is in")


def test_a_picture_that_no_network_brings_is_said_to_be_absent(modules_page) -> None:
    """Before, the browser's sign of a broken picture stood there."""
    shown = modules_page.evaluate("""async () => {
      const { Photos } = await import('/views/photo-box.js');
      const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
      const photos = new Photos(null);
      photos.list = [{ photo: { shows: 'from the landward side' }, url: '/api/photos/none' }, { photo: { shows: 'x' }, url: null }];
      render(photos.draw(({ shows }) => shows), document.body);
      await new Promise((done) => document.querySelector('img').addEventListener('error', () => setTimeout(done)));
      return [document.querySelector('img').hidden, [...document.querySelectorAll('.none')].map((one) => one.hidden), document.querySelectorAll('img').length];
    }""")
    assert shown == [True, [False, False], 1]
