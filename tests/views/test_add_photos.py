"""Many photos at once: the visit and the unit that a file's name or time proposes, corrected, added in one go and taken back as one."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pillow_heif
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from tests.screen_checks import axe, cut_off, small_targets, words_in
from tests.views.hand import at, tap
from views import stage_pack

pytestmark = pytest.mark.browser

HERE = "#/add-photos"
EXIF, GPS = 0x8769, 0x8825
ZONE = "America/New_York"
B024, B036 = ({"id": f"u{tag}", "tag": tag} for tag in ("B024", "B036"))
UNITS = [B024, B036, {"id": "u17", "tag": "17"}, {"id": "ua3", "tag": "A-3"}]


def visit(name: str, begins: str, ends: str, *checks: tuple[str, str]) -> dict[str, Any]:
    return {"id": name, "from": begins, "until": ends, "checks": [[unit, at] for unit, at in checks]}


MORNING = visit("morning", "2026-11-14T11:00:00Z", "2026-11-14T13:00:00Z", ("uB024", "2026-11-14T11:40:00Z"), ("uB036", "2026-11-14T11:45:00Z"))
BARE = visit("bare", "2026-11-14T11:00:00Z", "2026-11-14T13:00:00Z")
MIDNIGHT = visit("midnight", "2026-11-14T04:30:00Z", "2026-11-14T06:00:00Z", ("uB024", "2026-11-14T05:01:00Z"))
"""From 23:30 of the 13th to 01:00 of the 14th on the site's clock."""
CLOCK_NIGHT = visit("clock", "2026-11-01T06:10:00Z", "2026-11-01T07:30:00Z", ("uB024", "2026-11-01T06:31:00Z"))
"""From 01:10, shown the second time, on."""

CASES: list[tuple[str, dict[str, Any], dict[str, Any], dict[str, Any]]] = [
    ("near a check, on the site's clock", {"text": "2026:11:14 06:42:00"}, {},
     {"visitId": "morning", "by": "check", "unitId": "uB024", "isOnSiteClock": True, "ms": "2026-11-14T11:42:00.000Z"}),
    ("the camera's own zone", {"text": "2026:11:14 12:42:10", "offset": "+01:00"}, {},
     {"visitId": "morning", "unitId": "uB024", "isOnSiteClock": False, "ms": "2026-11-14T11:42:10.000Z"}),
    ("the nearer of two checks", {"text": "2026:11:14 06:43:00"}, {}, {"unitId": "uB036", "by": "check"}),
    ("too far from any check", {"text": "2026:11:14 06:20:00"}, {}, {"visitId": "morning", "unitId": None, "by": None, "near": "uB024"}),
    ("a visit without checks", {"text": "2026:11:14 06:42:00"}, {"visits": [BARE]}, {"visitId": "bare", "unitId": None, "near": None}),
    ("no visit at that time", {"text": "2026:11:13 06:42:00"}, {}, {"visitId": None, "unitId": None, "fault": None}),
    ("on the walk there", {"text": "2026:11:14 05:40:00"}, {}, {"visitId": "morning", "awayMs": -20 * 60_000}),
    ("the name before the time", {"text": "2026:11:14 06:45:00", "path": "2026-11-14 b024 chip.JPG"}, {}, {"by": "name", "unitId": "uB024"}),
    ("a folder named for a unit", {"path": "card/B036/IMG_0001.JPG"}, {}, {"by": "folder", "unitId": "uB036", "fault": "no-time"}),
    ("the name before its folder", {"path": "B036/B024.jpg"}, {}, {"by": "name", "unitId": "uB024"}),
    ("a tag with a hyphen", {"path": "A-3_north.jpg"}, {}, {"by": "name", "unitId": "ua3"}),
    ("two tags propose none", {"text": "2026:11:14 06:45:00", "path": "B024 and B036.jpg"}, {}, {"by": "name", "unitId": None, "tags": ["B024", "B036"]}),
    ("a camera's number is no tag", {"path": "IMG_17.jpg"}, {}, {"by": None, "unitId": None}),
    ("part of a longer word is no tag", {"path": "XB024.jpg"}, {}, {"by": None, "unitId": None}),
    ("no time in the file", {}, {}, {"ms": None, "fault": "no-time", "visitId": None}),
    ("no time, but a visit that was chosen", {}, {"visitId": "morning"}, {"fault": "no-time", "visitId": "morning", "unitId": None}),
    ("a clock never set", {"text": "0000:00:00 00:00:00"}, {}, {"fault": "no-time"}),
    ("still to come", {"text": "2027:11:14 06:42:00"}, {}, {"fault": "to-come", "visitId": None, "unitId": None}),
    ("a clock 62 min ahead", {"text": "2026:11:14 07:44:00"}, {"aheadMs": 62 * 60_000}, {"unitId": "uB024", "ms": "2026-11-14T11:42:00.000Z"}),
    ("a clock a year ahead", {"text": "2027:11:14 06:42:00"}, {"aheadMs": 365 * 86_400_000}, {"unitId": "uB024", "fault": None}),
    ("after midnight, of a visit that began before", {"text": "2026:11:14 00:02:30"}, {"visits": [MIDNIGHT]}, {"visitId": "midnight", "unitId": "uB024"}),
    ("before midnight", {"text": "2026:11:13 23:40:00"}, {"visits": [MIDNIGHT]}, {"visitId": "midnight", "unitId": None}),
    ("an hour shown twice, the second in the visit", {"text": "2026:11:01 01:30:00"}, {"visits": [CLOCK_NIGHT]},
     {"visitId": "clock", "unitId": "uB024", "isTwice": True, "ms": "2026-11-01T06:30:00.000Z"}),
    ("an hour shown twice, without a visit", {"text": "2026:11:01 01:30:00"}, {"visits": []}, {"isTwice": True, "ms": "2026-11-01T05:30:00.000Z"}),
    ("an hour that the clock left out", {"text": "2026:03:08 02:30:00"}, {"visits": []}, {"isTwice": False, "ms": "2026-03-08T07:30:00.000Z"}),
    ("of two visits the one with the nearer check", {"text": "2026:11:14 06:44:00"},
     {"visits": [visit("other", "2026-11-14T11:00:00Z", "2026-11-14T13:00:00Z", ("u17", "2026-11-14T11:44:00Z")), MORNING]}, {"visitId": "other", "unitId": "u17"}),
    ("of two visits the one it lies in", {"text": "2026:11:14 08:10:00"},
     {"visits": [MORNING, visit("noon", "2026-11-14T13:05:00Z", "2026-11-14T14:00:00Z")]}, {"visitId": "noon"}),
    ("a chosen visit at another time", {"text": "2026:11:13 06:42:00"}, {"visitId": "morning"}, {"visitId": "morning", "unitId": None, "near": None}),
]  # fmt: skip

MATCHES = """async ([cases, zone, now]) => {
  const { matchOf } = await import('/views/photo-match.js');
  const span = ({ id, from, until, checks }) => ({ id, fromMs: Date.parse(from), untilMs: Date.parse(until),
    checks: checks.map(([unitId, at], n) => ({ id: `${id}${n}`, unitId, ms: Date.parse(at) })) });
  return cases.map(([shot, known]) => {
    const match = matchOf({ path: 'DSC0001.JPG', text: null, offset: null, ...shot },
      { zone, nowMs: Date.parse(now), aheadMs: 0, visitId: null, ...known, visits: known.visits.map(span) });
    return { ...match, ms: match.ms === null ? null : new Date(match.ms).toISOString(), near: match.near?.check.unitId ?? null };
  });
}"""


def photo(shade: int, text: str | None = None, *, offset: str | None = None, north_deg: float | None = None) -> bytes:
    """A small JPEG with a camera's time."""
    image = Image.new("RGB", (64, 48), (shade, 90, 120))
    exif = image.getexif()
    if text:
        exif.get_ifd(EXIF)[0x9003] = text
    if offset:
        exif.get_ifd(EXIF)[0x9011] = offset
    if north_deg is not None:
        exif.get_ifd(GPS).update({1: "N", 2: (north_deg, 0.0, 0.0), 3: "W", 4: (70.0, 0.0, 0.0)})
    made = io.BytesIO()
    image.save(made, "JPEG", exif=exif)
    return made.getvalue()


def choose(page: Page, **files: bytes) -> None:
    page.get_by_label("Choose photos").set_input_files(
        [{"name": name.replace("_", "."), "mimeType": "image/jpeg", "buffer": content} for name, content in files.items()]
    )
    expect(page.get_by_label("Choose photos")).to_be_visible()  # it is away while files are read


def written(page: Page) -> list[dict[str, Any]]:
    return list(page.evaluate("window.written"))


def test_what_a_photo_is_proposed_to_be_of(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", HERE)
    cases = [[shot, {"visits": [MORNING], "units": UNITS, **known}] for _, shot, known, _ in CASES]
    matches = one_page.evaluate(MATCHES, [cases, ZONE, "2026-11-28T12:00:00Z"])
    told = {case[0]: {name: match[name] for name in case[3]} for case, match in zip(CASES, matches, strict=True)}
    assert told == {case[0]: case[3] for case in CASES}


PAST = f"{HERE}/{stage_pack.PAST_VISIT}"
CHECKED = """async ([unit, visit, minute]) => {
  const { phone } = window.stage;
  const { started_at } = await phone.row('visit', visit);
  const at = Date.parse(started_at) + minute * 60_000;
  await phone.write('unit_check', null, { unit_id: unit, checked_at: new Date(at).toISOString(), found_state: 'seen' }, { visitId: visit });
  const { localText } = await import('/views/local-box.js');
  return localText(at, 'America/New_York').replaceAll('-', ':').replace('T', ' ') + ':00';
}"""


def checked(page: Page, unit: int, minute: int) -> str:
    """A check of the past visit, so many minutes after it began; the time as a camera on the site's clock writes it."""
    return str(page.evaluate(CHECKED, [stage_pack.unit_id(unit), stage_pack.PAST_VISIT, minute]))


def said(page: Page, name: str) -> str:
    return words_in(page.get_by_role("group", name=name, exact=True).locator(".said"))


def added(page: Page) -> list[dict[str, Any]]:
    return [one for one in written(page) if one["kind"] in ("photo", "people_photo")]


def test_photos_are_proposed_corrected_added_and_taken_back(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", PAST)
    time = checked(one_page, 3, 40)
    tag, other = (one_page.evaluate("(id) => window.stage.phone.row('unit', id).then((unit) => unit.tag)", stage_pack.unit_id(n)) for n in (3, 9))
    choose(one_page, a_jpg=photo(20, time), b_jpg=photo(80), c_jpg=photo(140, "2020:01:01 12:00:00"))
    assert f"within a minute of the check of {tag}" in said(one_page, "a.jpg")
    assert "the time the visit began" in said(one_page, "b.jpg") and "Its file says no time." in said(one_page, "b.jpg")
    assert "before that visit began" in said(one_page, "c.jpg")
    expect(one_page.get_by_role("button", name="Add 2 photos")).to_be_visible()  # one of another day is left out
    one_page.get_by_role("group", name="b.jpg").get_by_label("Unit").fill("none such")
    tap(one_page, "Add 2 photos")
    assert added(one_page) == [] and "No unit here has the tag none such" in words_in(one_page.get_by_role("group", name="b.jpg"))
    one_page.get_by_role("group", name="b.jpg").get_by_label("Unit").fill(other.lower())
    one_page.get_by_role("group", name="a.jpg").get_by_role("radio", name="Yes").check()
    assert axe(one_page) == [] and cut_off(one_page) == [] and small_targets(one_page) == []
    tap(one_page, "No people in these 1")
    tap(one_page, "Add 2 photos")
    expect(one_page.get_by_text("2 photos kept on this phone.").first).to_be_visible()
    first, second = added(one_page)
    assert (first["kind"], first["fields"]["of_kind"], first["fields"]["recognizable"]) == ("people_photo", "unit_check", True)
    assert (second["kind"], second["fields"]["of_kind"], second["fields"]["of_id"]) == ("photo", "unit", stage_pack.unit_id(9))
    assert one_page.get_by_role("group").filter(has_text="c.jpg").count() == 1
    tap(one_page, "Take all 2 back")
    one_page.wait_for_function("window.written.filter(({ fields }) => fields._deleted).length === 2")
    assert {one["recordId"] for one in written(one_page)[-2:]} == {first["recordId"], second["recordId"]}


def test_what_nobody_answered_counts_as_of_people_and_a_double_is_skipped(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", PAST)
    choose(one_page, a_jpg=photo(7), b_jpg=photo(7), c_jpg=b"no picture at all", d_jpg=photo(8))
    rest = words_in(one_page.locator("section").filter(has_text="Not taken in"))
    assert "b.jpg\nchosen twice" in rest and "c.jpg\nno picture that can be opened" in rest
    one_page.get_by_role("button", name="Leave out d.jpg").click()
    tap(one_page, "Add 1 photo")
    expect(one_page.get_by_text("1 photo kept on this phone.").first).to_be_visible()
    (photo_of,) = added(one_page)
    assert photo_of["kind"] == "people_photo" and "recognizable" not in photo_of["fields"]
    assert (photo_of["fields"]["of_kind"], photo_of["fields"]["of_id"]) == ("visit", stage_pack.PAST_VISIT)
    choose(one_page, again_jpg=photo(7))
    assert "again.jpg\nalready in the app" in words_in(one_page.locator("section").filter(has_text="Not taken in"))
    one_page.evaluate(f"location.hash = '#/visits/{stage_pack.PAST_VISIT}'")
    expect(one_page.locator("main .photos img")).to_have_count(1)  # the photo of the visit stands on its page


def test_a_visit_that_is_not_here_is_nobodys_and_what_has_no_time_then_is_not_added(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", f"{HERE}/01900000-0000-7000-8000-0000000000ff")
    tag = one_page.evaluate("(id) => window.stage.phone.row('unit', id).then((unit) => unit.tag)", stage_pack.unit_id(3))
    choose(one_page, **{"near_jpg": photo(30, checked(one_page, 3, 40)), f"{tag}_jpg": photo(90), "other_jpg": photo(200, "2020:01:01 12:00:00")})
    assert "nothing says when it was taken. Choose its visit above." in said(one_page, f"{tag}.jpg")
    assert "type its unit, or choose a visit above." in said(one_page, "other.jpg")
    tap(one_page, "Add 1 photo")
    expect(one_page.get_by_text("1 photo kept on this phone.").first).to_be_visible()
    (photo_of,) = added(one_page)
    assert photo_of["fields"]["of_kind"] == "unit_check"


def test_a_clock_that_was_wrong_is_set_right_for_all(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", HERE)
    time = checked(one_page, 3, 40)
    early = f"{time[:11]}{int(time[11:13]) - 2:02d}{time[13:]}"
    choose(one_page, a_jpg=photo(11, early), b_jpg=photo(12, early, offset="-05:00"))
    assert "No visit on this phone has that time." in said(one_page, "a.jpg")
    assert "1 photo says no time zone: read on the site’s clock, America/New_York." in words_in(one_page.locator("#shifted"))
    expect(one_page.get_by_role("button", name="Add")).to_have_count(0)
    one_page.locator("#f-ahead").fill("-1.5")
    assert "“-1.5” is no whole number of minutes" in words_in(one_page.locator("#shifted"))
    one_page.locator("#f-ahead").fill("-120")
    assert "Times are moved 120 minutes on. Of 2 photos, 2 lie within a visit and 2 near a check." in words_in(one_page.locator("#shifted"))
    expect(one_page.get_by_role("button", name="Add 2 photos")).to_be_visible()


def test_gps_is_told_and_decides_nothing(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", PAST)
    choose(one_page, a_jpg=photo(13, checked(one_page, 3, 40), north_deg=10.0))
    assert "Its GPS is more than 1000 m from" in said(one_page, "a.jpg")
    assert "within a minute of the check" in said(one_page, "a.jpg")


def test_a_folder_is_chosen_whole(one_page: Page, stage: str, tmp_path: Path) -> None:
    at(one_page, stage, "?past", PAST)
    tag = one_page.evaluate("(id) => window.stage.phone.row('unit', id).then((unit) => unit.tag)", stage_pack.unit_id(3))
    (tmp_path / "card" / tag).mkdir(parents=True)
    (tmp_path / "card" / tag / "IMG_0001.jpg").write_bytes(photo(14))
    (tmp_path / "card" / "notes.txt").write_text("no picture")
    one_page.get_by_label("Choose a folder").set_input_files(tmp_path / "card")
    expect(one_page.get_by_text("notes.txt")).to_be_visible()
    assert f"Its folder says {tag}." in words_in(one_page.locator("main"))
    expect(one_page.get_by_role("button", name="Add 1 photo")).to_be_visible()


def test_what_no_browser_here_decodes_but_the_server_does_is_kept_as_it_came_and_said(one_page: Page, stage: str) -> None:
    at(one_page, stage, "?past", PAST)
    pillow_heif.register_heif_opener()
    made = io.BytesIO()
    Image.new("RGB", (64, 48), (20, 90, 120)).save(made, "HEIF")
    choose(one_page, a_heic=made.getvalue(), b_heic=b"\0\0\0\x18ftypmp42" + bytes(200), c_heic=made.getvalue() + bytes(8 * 1024 * 1024))
    assert "This browser cannot show it. It is added as it is." in said(one_page, "a.heic")
    rest = words_in(one_page.locator("section").filter(has_text="Not taken in"))
    assert "b.heic\nno picture that can be opened" in rest and "c.heic\nlarger than 8 MB" in rest
    tap(one_page, "Add 1 photo")
    expect(one_page.get_by_text("1 photo kept on this phone.").first).to_be_visible()
    assert len(added(one_page)) == 1
    told = one_page.evaluate(
        "async (bytes) => { const { madePhoto } = await import('/store/photos.js'); const made = await madePhoto(new Blob([new Uint8Array(bytes)]));"
        " return [made.type, made.bytes.size, made.width]; }", list(made.getvalue()),
    )  # fmt: skip
    assert told == ["image/heic", len(made.getvalue()), None]
