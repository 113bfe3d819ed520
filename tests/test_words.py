"""How the product speaks: everyday US English in short sentences, one word for one thing, counts in the singular where they are one."""

from __future__ import annotations

import re

import pytest

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.shown_names import counted, site_fields
from readable_texts import COMMENT, ROOT, Text, readable_texts

TEXTS = readable_texts()

MOST_WORDS = 26
"""Of one sentence; a number or a name counts as one."""

UNSAID = {
    "British spelling": r"programmes?|metres?|millimetres?|centimetres?|kilometres?|litres?|colours?|behaviours?|levell(?:ed|ing)|cancell(?:ed|ing)"
    r"|neighbours?|centres?|grey|towards|whilst|organis\w+|recognis\w+|labour\w*|mould\w*",
    "another program's name; say low tide": r"windows?",
    "say low tide, high tide": r"(?:low|high) waters?",
    "say sent, stored, received": r"taken by (?:the|it)|(?:is|are|was|were) taken (?:as|when|once|by|again)|all taken|of it was taken",
    "say held back, and why": r"in the tray|someone looks",
    "say its access ended": r"taken? (?:it )?off the \w+|take it off|taken off",
    "say again": r"anew",
    "say anyway": r"all the same",
    "say no longer": r"any more",
    "say our suggestion": r"our own proposal",
    "say show, say, know": r"told|(?:be|is|are) said",
    "say is, was": r"lies|stood|stands (?:for|against|beside|in)",
    "say fix": r"mend(?:ed|s)?",
    "say gather everyone": r"muster",
    "say sign-out time": r"time out",
    "two meanings": r"puts? (?:it )?back|on a lead's word",
    "say Cancel": r"leave it",
    "say not, without": r"is no (?:file|folder|place|text|form|address|list)|which is no|nought|upon|thereof",
}

MAY_SAY = {
    "windows": (
        "open in another window", "Another window of Fieldlog", "(a private window", "This is a private window", "In a private window",
        "fieldlog windows",  # the command's name, on which people's scripts rest
        "Sun and windows of 400 days", "sun, windows, flags",  # a field's name in answers that apps rely on
        "Access windows//EN",  # what calendars know the product by
    ),
    "taken off": ("Highs come", "taken off"),  # a height: what is subtracted from it
    "CANCELLED": ("STATUS:CANCELLED", "CANCELLED"),  # a word of the calendar format
    "said of": ("said of another tide:",),  # stands so in records, and is known by it
    "in place": ("Put back in place",),  # work on a unit that had moved
}  # fmt: skip
"""Texts that have such a word in a meaning that nothing else has."""

ALLOWED = tuple(one for texts in MAY_SAY.values() for one in texts)

PLURALS = (
    r"(?:entries|photos|units|checks|days|sites|people|phones|devices|visits|lines|readings|lows|stops|flags|teams|rows|marks|tapes|records|invitations|stations"
    r"|months|hours|minutes|bytes|levels|letters|times|tides)"
)

ALWAYS_MORE = (
    "fieldlog/access/budget.py", "fieldlog/access/invitations.py", "fieldlog/access/routes.py",  # limits, all above one
    "fieldlog/data/build_stations.py",  # said to whoever builds the station file
    "fieldlog/demo/build.py", "fieldlog/plan/problem.py",  # faults of ours, never read by a crew
    "There are {} sites.", "tide stations are named", "held-back days", "{} of the {} devices", "more than {} levels", "would be {} levels",
    "on {} visits since", "in the next {} days", "{} h {} min", "All {} flags", "most severe of {} flags", "{} of {} steps", "{} of {} rows", "{} of {} units",
    "Each line is {} days", "needs {} readings", "{:,} levels", "{} levels every", "{} levels from", "in {} levels", "in {} days, {}", "holds {} days",
    "{} days do not show", "{} days are too few", "is {} days long", "{} constituents to {}", "single levels", "{} readings.", "has {} bytes", "part of {} bytes",
    "Only {} highs", "From {} highs", "{} lows in 100", "letters; it m", "{} points", "{} days; this site",
    "letters long", "need {} low tides", "{} times as", "{} times their", "{} low tides", "Nothing is lost: set the clock", "The next {} days", "of the next {} days",
    "for every {} people", "flags/doubt.py: {} days", "sync/session.js: {} days",
    "flags/search.py: {} days",
)  # fmt: skip
"""Where the number is never one, or has decimals."""


STATISTIC = re.compile(
    r"\b9[59] ?%|\b9[59] (?:of|in) 100\b|T²|T\\u00b2|\bp-values?\b|\brms\b|\bP9[059]\b|\bsigmas?\b|standard deviation|chi-square|percentile|confidence|significan"
    r"|their uncertainty|Chance of this"
)
"""What stands under Details alone: a test, a quantile, a spread."""

DETAILS_ALONE = {
    "static/online/tide-constants.js": "drawn by site-tide.js, within its Details",
    "static/online/allowance-words.js": "said by site-tide.js, within its Details",
    "static/views/evidence.js": "drawn within its Details; test_flags_shown.py holds that",
    "fieldlog/commands/water_level.py": "below a line that says Details",
}


def sentences(text: Text) -> list[str]:
    return re.split(r"(?<=[.!?]) ", text.text)


def place(text: Text) -> str:
    return f"{text.file}:{text.line}: {text.text}"


@pytest.mark.parametrize("reason", UNSAID)
def test_a_text_has_no_word_that_the_product_does_not_say(reason: str) -> None:
    word = re.compile(rf"\b(?:{UNSAID[reason]})\b", re.IGNORECASE)
    assert [place(one) for one in TEXTS if word.search(one.text) and not any(allowed in one.text for allowed in ALLOWED)] == []


THIS_PHONE = re.compile(r"\b(?:this|the) phone\b", re.IGNORECASE)
OTHERS_PHONE = ("the phone that joins", "The phone that wrote it can fix it under \"This phone\"")


def test_a_screen_asks_what_one_holds_before_it_names_it() -> None:
    """On a laptop it is this device: `deviceWord` of views/marks.js, and `inDeviceWords` for what the store or the server says."""
    screens = [one for one in TEXTS if one.file.startswith(("static/views/", "static/online/", "static/app.js"))]
    assert [place(one) for one in screens if THIS_PHONE.search(one.text) and not any(other in one.text for other in OTHERS_PHONE)] == []
    below = [one.text for one in TEXTS if one.file.startswith(("static/log/", "static/store/", "static/sync/"))]
    assert [text for text in below if re.search(r"\bthe phone\b", text)] == [], "one word, which the screens know"


def statistics_of_script(source: str) -> list[str]:
    """The lines of a module with a statistic that no fold holds."""
    code = COMMENT.sub(lambda comment: re.sub(r"[^\n]", " ", comment[0]), source)
    return [
        source[: found.start()].rsplit("\n", 1)[-1] + source[found.start() :].split("\n", 1)[0]
        for found in STATISTIC.finditer(code)
        if code.count("<details", 0, found.start()) == code.count("</details>", 0, found.start())
    ]


def test_a_statistic_stands_under_details() -> None:
    """Wet gloves ask how far off it is; how sure that is made reads who wants to know."""
    scripts = [path for path in sorted((ROOT / "static").rglob("*.js")) if "vendor" not in path.parts]
    shown = {str(path.relative_to(ROOT)): statistics_of_script(path.read_text("utf-8")) for path in scripts}
    said = [place(one) for one in TEXTS if one.file.endswith(".py") and STATISTIC.search(one.text)]
    assert {file: lines for file, lines in shown.items() if lines and file not in DETAILS_ALONE} == {}
    assert [one for one in said if one.split(":")[0] not in DETAILS_ALONE] == []
    assert statistics_of_script("html`<p>95 % sure</p>`"), "else nothing is held"
    assert not statistics_of_script("// 95 % sure\nhtml`<details><summary>Details</summary>95 % sure</details>`")


def test_the_documents_for_contributors_are_in_the_same_english() -> None:
    for name in ("DEVELOPERS.md", "README.md", "Makefile"):
        prose = re.sub(r"`[^`]*`|\S*[/_]\S*", "", (ROOT / name).read_text("utf-8"))
        assert re.findall(rf"\b(?:{UNSAID['British spelling']})\b", prose, re.IGNORECASE) == [], name


def test_a_sentence_is_short_enough_for_wet_gloves_and_two_minutes() -> None:
    long = [place(one) for one in TEXTS for said in sentences(one) if len(re.findall(r"[\w'’-]+|\{\}", said)) > MOST_WORDS]
    unread = ("fieldlog/service.py", "fieldlog/windows/calendar.py")  # a unit of systemd, a calendar's properties
    assert [one for one in long if not one.startswith(unread)] == []


def test_a_number_that_may_be_one_takes_its_noun_from_counted() -> None:
    bare = re.compile(rf"\{{\}} (?:[a-z-]+ )?{PLURALS}\b")
    assert [place(one) for one in TEXTS if bare.search(one.text) and not any(some in f"{one.file}: {one.text}" for some in ALWAYS_MORE)] == []
    assert [counted(n, "entry", "entries") for n in (0, 1, 2)] == ["0 entries", "1 entry", "2 entries"]


def test_no_other_place_makes_a_plural() -> None:
    plural = re.compile(r"""'s' if |"s" if |'' if \w+ == 1 |== 1 \? '' : 's'|'s' \* """)
    files = [*(ROOT / "fieldlog").rglob("*.py"), *(path for path in (ROOT / "static").rglob("*.js") if "vendor" not in path.parts)]
    assert [str(path.relative_to(ROOT)) for path in files if plural.search(path.read_text("utf-8"))] == []


def test_what_a_site_lacks_is_named_as_its_form_names_it() -> None:
    """Before, a lead read route_low_level_m."""
    names = ["zone", "lat_deg", "lon_deg", "tide_station", "work_level_m", "route_low_level_m", "walk_out_min", "muster_min", "least_usable_min"]
    fields = CATALOGUE.kinds["site"].fields
    assert site_fields(names) == ", ".join(fields[name].title.lower() for name in names)


def test_the_reader_of_texts_finds_what_people_read() -> None:
    """Else all of the above holds for nothing."""
    said = {(one.file, one.text) for one in TEXTS}
    for known in (
        ("static/views/frame.js", "No network. Saved here, sent later."),
        ("static/views/join.js", "eight letters and digits"),
        ("static/tides/cautions.js", "The water stays below the work level through a high next to this low. The minutes end at that high."),
        ("fieldlog/commands/flags.py", "List the open flags."),
        ("fieldlog/records/site.py", "Lowest point on the path"),
        ("fieldlog/windows/cautions.py", "Go with care: {}."),
    ):
        assert known in said
    assert len(TEXTS) > 3000
