"""A list in a form: numbers typed as a run, small records as groups of inputs; on a made-up kind."""

from __future__ import annotations

from typing import Any

import pytest

from fieldlog.flags.values import value_words
from fieldlog.records.forms import form_of
from tests.records.made_up import CATCH

pytestmark = pytest.mark.browser

FORM = form_of(CATCH)
LEAST_PX = 44
OPEN = """async ([form, values, feet]) => {
  const { RecordForm, changesOf } = await import('/views/record-form.js');
  const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js');
  const style = Object.assign(document.createElement('link'), { rel: 'stylesheet', href: '/style.css' });
  await new Promise((resolve) => { style.onload = resolve; document.head.replaceChildren(style); });
  document.body.innerHTML = '<main></main>';
  window.drafts = {};
  const stage = {
    zone: 'America/New_York', settings: { feet }, said: [], say: (sentence) => stage.said.push(sentence),
    refuse: (sentence) => stage.said.push(sentence), unsay() {},
    redraw: () => render(drawn.all(), document.querySelector('main')),
    phone: { pack: () => ({ forms: { kinds: { catch: form } } }), draft: async (key) => window.drafts[key], me: { site_id: 's' },
      idForForm: () => 'an id', dropDraft: async (key) => { delete window.drafts[key]; },
      keepDraft: (key, typed) => { window.drafts[key] = JSON.parse(JSON.stringify(typed)); } },
  };
  const drawn = await new RecordForm(stage, 'catch', 'draft').start(values);
  window.form = { drawn, stage, ready: () => drawn.ready(), read: () => drawn.read().fields, changes: (row) => changesOf(drawn, drawn.read().fields, row),
    again: async () => (await new RecordForm(stage, 'catch', 'draft').start({})).read().fields };
  stage.redraw();
}"""


@pytest.fixture
def form(modules_page) -> Any:
    def opened(values: dict[str, Any] | None = None, *, feet: bool = False) -> Any:
        modules_page.evaluate(OPEN, [FORM, values or {}, feet])
        return modules_page

    return opened


def read(page: Any) -> dict[str, Any]:
    return page.evaluate("() => window.form.read()")


def faults(page: Any, name: str) -> list[str]:
    return page.locator(f"#f-{name}-said .fault, #f-{name}-said .doubt").all_inner_texts()


@pytest.mark.parametrize(
    ("typed", "numbers"),
    [
        ("23 31 18", [23, 31, 18]), ("  23\n31\t18 ", [23, 31, 18]), ("23, 31, 18,", [23, 31, 18]), ("23;31; 18", [23, 31, 18]),
        ("23,5 31.5", [23.5, 31.5]), ("23 31 .5e", None), ("23 thirty", None), ("NaN 9 Infinity", None), ("9 \ud800", None),
    ],
)  # fmt: skip
def test_numbers_are_typed_as_a_run(form, typed: str, numbers: list[float] | None) -> None:
    page = form()
    page.evaluate("(typed) => window.form.drawn.set('heights', typed)", typed)
    if numbers is None:
        assert "is not a number" in faults(page, "heights")[0]
        assert page.evaluate("() => window.form.ready()") is None
        assert page.locator("#f-heights-read").inner_text() == ""
    else:
        assert read(page) == {"heights": numbers}
        assert faults(page, "heights") == []
        assert page.locator("#f-heights-read").inner_text() == f"{len(numbers)} numbers: {', '.join(map(str, numbers))} mm"
        assert page.evaluate("() => window.form.ready()") == {"heights": numbers}


def test_an_item_of_a_run_is_judged_with_its_place_as_it_is_typed(form) -> None:
    page = form()
    page.get_by_label("Shell heights, mm").fill("23 4000")
    assert faults(page, "heights") == ["Shell heights, the 2nd: Height is 4000 mm; it must be between 1 and 400 mm. Was the decimal point left out?"]
    assert page.get_by_label("Shell heights, mm").get_attribute("aria-invalid") == "true"
    page.get_by_label("Shell heights, mm").fill("23 x 300")
    assert faults(page, "heights") == ["Shell heights, the 2nd: “x” is not a number. Type digits, with a point or a comma for decimals."]
    page.get_by_label("Shell heights, mm").fill("23 300")
    assert faults(page, "heights") == ["Shell heights, the 2nd: Height is 300 mm; it is usually between 5 and 250 mm. Is that right?"]
    page.get_by_label("Shell heights, mm").fill(" ".join(["9"] * 13))
    assert faults(page, "heights") == ["Shell heights: 13 given, 12 at most. Take some out, then save again."]
    page.get_by_label("Shell heights, mm").fill("")
    assert (faults(page, "heights"), read(page)) == ([], {})


def test_a_button_begins_the_next_number_where_digits_have_no_space(form) -> None:
    page = form()
    for number in ("23", "31", "18"):
        page.keyboard.type(number) if number != "23" else page.get_by_label("Shell heights, mm").fill(number)
        page.get_by_role("button", name="Next number: Shell heights").click()
    assert page.evaluate("document.activeElement.name") == "heights"
    assert read(page) == {"heights": [23, 31, 18]}
    assert page.get_by_label("Shell heights, mm").get_attribute("inputmode") == "decimal"


def test_what_is_typed_stays_in_the_draft_and_comes_back(form) -> None:
    page = form()
    page.get_by_label("Shell heights, mm").fill("23 31 1")
    page.get_by_role("button", name="Add one: Hauls").click()
    page.get_by_label("Net").fill("2")
    assert page.evaluate("() => window.form.again()") == {"heights": [23, 31, 1], "hauls": [{"net": 2}]}


def test_items_are_added_filled_in_and_removed_by_keyboard(form) -> None:
    page = form()
    page.get_by_role("button", name="Add one: Hauls").press("Enter")
    page.keyboard.type("2")
    first = page.get_by_role("group", name="Hauls, the 1st")
    first.get_by_label("Note").fill("as ever")
    first.get_by_role("radio", name="Sand").check(force=True)
    assert faults(page, "hauls") == []
    page.get_by_role("button", name="Add one: Hauls").press("Enter")
    assert faults(page, "hauls") == [], "an item that was just added is not asked for yet"
    second = page.get_by_role("group", name="Hauls, the 2nd")
    second.get_by_role("textbox", name="Depth").fill("4")
    assert second.locator(".doubt").all_inner_texts() == ["Depth is 4 m; it is usually between -1 and 3 m. Is that right?"]
    assert page.evaluate("() => window.form.ready()") is None
    assert second.locator(".fault").all_inner_texts() == ["Net is not filled in. Fill it in, then save again."]
    assert faults(page, "hauls") == ["Hauls, the 2nd: Net is not filled in. Fill it in, then save again."]
    assert page.evaluate("document.activeElement.name") == "hauls"
    second.get_by_role("button", name="Remove: Hauls, the 2nd").press("Enter")
    assert page.evaluate("document.activeElement.id") == "f-hauls-add"
    assert page.evaluate("() => window.form.ready()") == {"hauls": [{"net": 2, "bed": "sand", "note": "as ever"}]}
    first.get_by_role("button", name="Remove: Hauls, the 1st").click()
    assert read(page) == {}


def test_no_more_is_added_than_a_list_may_hold(form) -> None:
    page = form({"hauls": [{"net": n} for n in range(1, 5)]})
    assert page.get_by_role("button", name="Add one: Hauls").count() == 0
    page.get_by_role("button", name="Remove: Hauls, the 1st").click()
    assert page.get_by_role("button", name="Add one: Hauls").count() == 1
    assert read(page) == {"hauls": [{"net": n} for n in range(2, 5)]}


def test_bare_choices_are_items_of_one_input(form) -> None:
    page = form({"hits": ["mud", "shell"]})
    page.get_by_role("button", name="Add one: Point hits").click()
    page.get_by_role("group", name="Point hits, the 3rd").get_by_role("radio", name="Mud").check(force=True)
    page.get_by_role("button", name="Remove: Point hits, the 1st").click()
    assert read(page) == {"hits": ["shell", "mud"]}


def test_what_is_said_in_metres_is_typed_in_feet_where_a_phone_has_feet(form) -> None:
    page = form({"hauls": [{"net": 1, "depth_m": -0.5}]}, feet=True)
    depth = page.get_by_role("textbox", name="Depth")
    assert depth.input_value() == "-1.64"
    depth.fill("2")
    assert read(page) == {"hauls": [{"net": 1, "depth_m": 0.61}]}


def test_only_a_list_that_differs_is_written(form) -> None:
    row = {"heights": [23, 31.5], "hauls": [{"note": "x", "net": 1, "bed": None}], "hits": [], "label": None}
    page = form(row)
    assert page.evaluate("(row) => window.form.changes(row)", row) == {}
    page.get_by_label("Shell heights, mm").fill("31.5 23")
    assert page.evaluate("(row) => window.form.changes(row)", row) == {"heights": [31.5, 23]}
    page.get_by_label("Shell heights, mm").fill("")
    assert page.evaluate("(row) => window.form.changes(row)", row) == {"heights": None}


def test_each_target_is_as_large_as_a_thumb_and_each_input_has_a_name(form) -> None:
    page = form({"heights": [23, 31], "hauls": [{"net": 1}], "hits": ["mud"]})
    small = page.evaluate(
        """(least) => [...document.querySelectorAll('button, textarea, select, input:not([type=radio]), .choice')]
             .map((one) => [one.getBoundingClientRect(), one]).filter(([box]) => box.width < least || box.height < least).map(([, one]) => one.outerHTML.slice(0, 80))""",
        LEAST_PX,
    )
    assert small == []
    nameless = page.evaluate("() => [...document.querySelectorAll('input:not([type=radio]), textarea, select')].filter((one) => !one.labels.length).map((one) => one.name)")
    assert nameless == []
    ids = page.evaluate("() => [...document.querySelectorAll('[id]')].map((one) => one.id)")
    assert len(ids) == len(set(ids))
    pointed = page.evaluate("() => [...document.querySelectorAll('[aria-describedby]')].flatMap((one) => one.getAttribute('aria-describedby').split(' '))")
    assert set(pointed) <= set(ids)


def test_a_list_is_said_in_the_servers_words(modules_page) -> None:
    values = {"heights": [[23, 31, 18.5], [0.1, 1e-7], []], "hits": [["mud", "shell", "rock"]], "hauls": [[{"net": 1}, {"net": 2}], []], "counts": [[1, 2]]}
    told = modules_page.evaluate(
        """async ([form, values]) => {
            const { labelOf } = await import('/views/kind-forms.js');
            const phone = { pack: () => ({ forms: { kinds: { catch: form } } }) };
            return Object.fromEntries(Object.entries(values).map(([name, lists]) => [name, lists.map((list) => labelOf(phone, 'catch', name, list))]));
        }""",
        [FORM, values],
    )
    assert told == {name: [value_words(CATCH.fields[name], value, None) for value in lists] for name, lists in values.items()}


def test_half_a_letter_within_a_list_is_written_as_the_sign_for_a_missing_one(modules_page) -> None:
    written = modules_page.evaluate(
        """async () => (await import('/log/entries.js')).withWholeLetters({ hauls: [{ net: 1, note: 'a\\ud800b', torn: null }], hits: ['\\udc00'], label: '\\ud83d\\udc1a' })"""
    )
    assert written == {"hauls": [{"net": 1, "note": "a\ufffdb", "torn": None}], "hits": ["\ufffd"], "label": "\U0001f41a"}
