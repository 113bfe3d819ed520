"""What the desk goes by, in one page: which waiver is in use, what a form lacks, two letters of a name, a signature's text, who may see contacts."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.listed import Listed
from views import stage_pack, stage_server

pytestmark = pytest.mark.browser
NOW = stage_pack.NOW
MINOR = {"display_name": "Ada Quill", "minor": True, "photos_allowed": False}


@pytest.fixture(scope="module")
def js(browser):
    """js(module, expression over `m` and `told`, told): one page for all."""
    server = stage_server.serve(stage_pack.stage_pack(), [stage_server.STATIC])
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"http://127.0.0.1:{server.server_port}/")
    page.wait_for_selector("html[data-ready]")
    yield lambda module, said, told=None: page.evaluate(f"async (told) => {{ const m = await import('/{module}'); return {said}; }}", told)
    page.close()
    server.shutdown()
    server.server_close()


def waiver(version: str, since: str, language: str = "en", **more: object) -> dict[str, object]:
    return {"record_id": f"{version} {language}", "version": version, "language": language, "used_from_at": since, "paragraphs": ["At my own risk."], **more}


def test_the_waiver_in_use_is_the_one_that_was_put_in_use_last_in_each_of_its_languages(js) -> None:
    said = "(({ version, texts }) => [version, [...texts.keys()].sort()])(m.waiverInUse(told, Date.parse('2026-11-28T12:00:00Z')))"
    old, new = waiver("2025", "2025-03-01T12:00:00Z"), waiver("2026", "2026-03-01T12:00:00Z")
    assert js("records/waivers.js", said, [new, old]) == ["2026", ["en"]]
    assert js("records/waivers.js", said, [old, new, waiver("2026", "2026-03-02T12:00:00Z", "es")]) == ["2026", ["en", "es"]]
    assert js("records/waivers.js", said, [old, waiver("2027", "2027-01-01T12:00:00Z")]) == ["2025", ["en"]], "not before its time"
    assert js("records/waivers.js", said, [old, waiver("2026", "2026-03-01T12:00:00Z", paragraphs=[])]) == ["2025", ["en"]], "not without a text"
    assert js("records/waivers.js", "m.waiverInUse([], 0)") is None


@pytest.mark.parametrize(
    ("person", "version", "is_current"),
    [
        ({"waiver_valid": True, "waiver_version": "2026"}, "2026", True), ({"waiver_valid": True, "waiver_version": "2025"}, "2026", False),
        ({"waiver_valid": True}, "2026", False), ({"waiver_valid": True}, None, True), ({"waiver_valid": False, "waiver_version": "2026"}, "2026", False),
        ({"waiver_version": "2026"}, "2026", False), ({}, None, False),
    ],
)  # fmt: skip
def test_a_waiver_is_current_where_it_is_valid_and_of_the_version_in_use(js, person, version, is_current) -> None:
    assert js("records/waivers.js", "m.hasCurrentWaiver(told[0], told[1])", [person, version and {"version": version}]) is is_current


@pytest.mark.parametrize(
    ("form", "lacks"),
    [
        ({}, ["display_name", "minor", "signed_name", "signature", "photos_allowed"]),
        ({"display_name": "  ", "minor": False, "signed_name": "A", "by_name_only": True, "photos_allowed": True}, ["display_name"]),
        (MINOR, ["guardian_name", "guardian_phone", "signed_name", "signature"]),
        ({**MINOR, "guardian_name": "Pat Quill", "guardian_phone": " ", "signed_name": "Pat Quill", "signature": ["M1 1L2 2"]}, ["guardian_phone"]),
        ({**MINOR, "guardian_name": "Pat Quill", "guardian_phone": "555 0101", "signed_name": "Pat Quill", "signature": ["M1 1L2 2"]}, []),
    ],
)  # fmt: skip
def test_a_minor_without_a_guardian_who_signs_is_not_saved_and_each_lack_has_a_sentence(js, form, lacks) -> None:
    """In both languages; a photo may be refused, and a name alone may be the signature."""
    found = js("records/waivers.js", "m.lackingOf(told, true)", form)
    assert [lack["field"] for lack in found] == lacks
    for language in ("en", "es"):
        sentences = js(f"languages/{language}.js", "told.map((key) => m.words[key])", [lack["key"] for lack in found])
        assert all(sentence.endswith(".") for sentence in sentences)


def test_both_languages_have_the_same_words_and_the_unread_one_says_so(js) -> None:
    kinds = "Object.entries(m.words).map(([key, said]) => [key, Array.isArray(said) ? said.length : typeof said])"
    assert js("languages/en.js", kinds) == js("languages/es.js", kinds)
    assert (js("languages/en.js", "m.caution"), js("languages/es.js", "m.caution")) == (None, "not yet read by a native speaker")
    assert "NOT YET READ BY A NATIVE" in (Path(stage_server.STATIC) / "languages" / "es.js").read_text("utf-8")
    assert js("languages/es.js", "m.words.title") == "Su registro"


def test_two_letters_find_somebody_by_initials_first(js) -> None:
    names = ["Ana Ruiz", "Art Ruiz", "Mara Lind", "\u00c1ngel R\u00edos", "Ines Calder", "Jean-Luc Arp", "Ana Ruiz"]
    found = js("views/by-letters.js", "m.byLetters(told, 'ar').map((person) => person.display_name)", [{"display_name": name} for name in names])
    assert found[:4] == ["Ana Ruiz", "Ana Ruiz", "\u00c1ngel R\u00edos", "Art Ruiz"]
    assert found[4:] == ["Jean-Luc Arp", "Mara Lind"]
    assert js("views/by-letters.js", "m.byLetters(told, ' ')", [{"display_name": "Ana Ruiz"}]) == []


def test_a_signature_is_text_within_its_limits_and_nothing_else_is_drawn(js) -> None:
    field = CATALOGUE.kinds["waiver_signed"].fields["signature"]
    assert isinstance(field, Listed)
    scrawl = [[[n % 300, (n * 7) % 100] for n in range(500)] for _ in range(14)]
    for strokes in (scrawl, [[[10.4, 20.6]], [[-5, 3], [301, 99]]], []):
        kept = js("records/signature.js", "m.signatureOf(told)", strokes)
        assert field.judge(kept) is None
        assert len("".join(kept)) <= 6000
        assert js("records/signature.js", "m.pathOf(told)", kept) == "".join(kept)
    assert js("records/signature.js", "m.signatureOf(told)", [[[10.4, 20.6]], [[-5, 3], [301, 99]]]) == ["M10 21", "M0 3L300 99"]
    assert [js("records/signature.js", "m.pathOf(told)", odd) for odd in (None, "M1 1", ["M1 1\"><script>"], ["M1 1" + "L1 1" * 600], [3])] == [""] * 5


def row(role: str, hours: float, own: bool = True, is_open: bool = True) -> list[object]:
    return [{"role": role}, {"changed_at_ms": 0, **({"entry_state": "taken"} if own else {})}, is_open, hours * 3_600_000]


@pytest.mark.parametrize(
    ("given", "may"),
    [
        (row("lead", 2000, own=False, is_open=False), True), (row("desk", 1), True), (row("desk", 24), False), (row("desk", 1, is_open=False), False),
        (row("desk", 1, own=False), False), (row("crew", 1), False), (row("reader", 1), False),
    ],
)  # fmt: skip
def test_contacts_are_shown_by_leads_and_by_whoever_wrote_them_until_the_head_count_closes(js, given, may) -> None:
    assert js("views/contacts.js", "m.mayShow(...told)", given) is may


def test_whose_contacts_are_not_here_is_said_with_the_phone_that_signed_them_in(js) -> None:
    said = "m.whereElse({ display_name: 'Bo Sandvik' }, told, new Map([['p', 'Ruth Okafor-Lind']]), 'UTC')"
    sign_in = {"in_at": "2026-11-28T08:10:00Z", "created_by": "p"}
    assert js("views/contacts.js", said, sign_in).replace("\u00a0", " ") == (
        "No contacts of Bo Sandvik are on this phone. Ask Ruth Okafor-Lind\u2019s phone: it signed them in at 08:10."
    )
    assert "Ask another phone" in js("views/contacts.js", said, {**sign_in, "created_by": "q"})
    assert "were written here" in js("views/contacts.js", said, {**sign_in, "entry_state": "taken"})


def test_one_person_in_the_list_twice_and_a_minor_whose_adult_left_are_doubts(js) -> None:
    names = [["a", "Ana Ruiz"], ["b", "ana  ru\u00edz"], ["c", "Mei Tarn"], ["d", "Pia Holm"]]
    stays = {person: {"signIn": {"person_id": person, "adult_id": "d" if person == "c" else None}, "person": {"display_name": name}} for person, name in names}
    twice = "m.twiceIn(told.out, told.today, new Map(told.names), 'UTC')"
    out = [stays["a"], stays["b"], stays["c"]]
    assert js("views/head-doubts.js", twice, {"out": out, "today": [], "names": names}) == [
        "2 people called Ana Ruiz are out. If it is one person, remove a sign-in: the count is too high."
    ]
    left = {"person_id": "b", "out_at": "2026-11-28T11:05:00Z"}
    (said,) = js("views/head-doubts.js", twice, {"out": [stays["a"]], "today": [left], "names": names})
    assert said == "Ana Ruiz is out, and another Ana Ruiz signed out at 11:05. If it is one person, sign them out here too."
    assert js("views/head-doubts.js", twice, {"out": [stays["a"]], "today": [{**left, "no_out_reason": "Signed in by mistake"}], "names": names}) == []
    alone = "m.minorsAlone(told, new Map([['d', 'Pia Holm']]))"
    assert js("views/head-doubts.js", alone, [stays["c"], stays["d"]]) == []
    assert js("views/head-doubts.js", alone, [stays["c"]]) == ["Mei Tarn is out, and the adult with them, Pia Holm, is not. Name another adult now."]


def test_a_count_says_how_many_were_not_seen_or_are_not_signed_in(js) -> None:
    said = [js("views/count-heads.js", "m.countDoubt(...told)", pair) for pair in ([12, 12], [11, 12], [13, 12])]
    assert said[0] is None
    assert "11 counted and 12 signed in: 1 not seen." in said[1]
    assert "13 counted and 12 signed in: 1 not signed in." in said[2]


def test_a_sites_own_ratio_goes_before_our_suggestion(js) -> None:
    """One leader for six and two at least are our own suggestion: no published source."""
    told = {"out": [{"signIn": {"sign_in_role": "leader" if n < 2 else "volunteer"}, "person": {"minor": False}} for n in range(12)]}
    said = """await (async () => { const { render } = await import('/vendor/lit-html-3.3.3/lit-html.js'); const place = document.createElement('div');
      render(m.leaderDoubts(told.out, told.site), place); return place.textContent.trim().replace(/\\s+/g, ' '); })()"""
    assert js("views/head-count.js", said, told) == ""
    strict = js("views/head-count.js", said, {**told, "site": {"people_per_leader": 4}})
    assert strict == "1 more leader needed: at least two, and one for every 4 people. This site\u2019s rule."
    assert "Our suggestion" in js("views/head-count.js", said, {"out": told["out"] + told["out"][3:]})
