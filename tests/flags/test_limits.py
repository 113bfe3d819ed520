"""
Where a flag begins and ends, what it counts, and what it says: at the limits themselves, one step to either side.

The limits are this project's own proposal; the sentences are read by the crew, so they are held whole.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from fieldlog.flags.doubt import VALUES_TOLD, Disagreement, RecordSeen, clock_off, disagreement
from fieldlog.flags.reading import list_flags
from fieldlog.records.catalogue import CATALOGUE
from tests.flags.shore import DESIGN, MARKS, NOW, OTHER, SITE, UNIT, Shore
from tests.flags.test_doubt import apart
from tests.sync.lines import record_id

JULY, AUGUST, SEPTEMBER = "2026-07-01T10:00:00.000Z", "2026-08-01T10:00:00.000Z", "2026-09-01T10:00:00.000Z"
SENTENCES = [
    ("damaged", {"crack_width_mm": 0.3}, "look", "A010: a crack of 0.3 mm, seen Jul 1, 2026."),
    ("damaged", {"crack_width_mm": 1.31}, "act", "A010: a crack of 1.31 mm, seen Jul 1, 2026."),
    ("damaged", {"body_grade": 1}, "look", "A010: damage grade 1 of 4 by eye, seen Jul 1, 2026."),
    ("damaged", {"body_grade": 2, "crack_width_mm": 0.3}, "act", "A010: damage grade 2 of 4 by eye, a crack of 0.3 mm, seen Jul 1, 2026."),
    ("damaged", {"body_grade": 0, "crack_width_mm": 1.4}, "act", "A010: a crack of 1.4 mm, seen Jul 1, 2026."),
    ("leaning", {"tilt_deg": 15}, "look", "A010: leaning 15\u00b0 (flagged from 15\u00b0), seen Jul 1, 2026."),
    ("leaning", {"tilt_deg": 29.9}, "look", "A010: leaning 29.9\u00b0 (flagged from 15\u00b0), seen Jul 1, 2026."),
    ("leaning", {"tilt_deg": 30}, "act", "A010: leaning 30\u00b0 (flagged from 15\u00b0), seen Jul 1, 2026."),
    ("leaning", {"stance_grade": 2}, "look", "A010: leaning, grade 2 of 4 by eye, seen Jul 1, 2026."),
    ("leaning", {"stance_grade": 3}, "act", "A010: leaning, grade 3 of 4 by eye, seen Jul 1, 2026."),
    ("undermined", {"scour_depth_mm": 45}, "look", "A010: scour 45 mm deep, 10 % of the height, seen Jul 1, 2026."),
    ("undermined", {"scour_depth_mm": 113}, "act", "A010: scour 113 mm deep, 25 % of the height, seen Jul 1, 2026."),
    ("undermined", {"toe_grade": 2}, "look", "A010: bed washed out at the toe, grade 2 of 4 by eye, seen Jul 1, 2026."),
    ("undermined", {"rocking": True}, "act", "A010: it rocks when pushed, seen Jul 1, 2026."),
]


@pytest.mark.parametrize(("rule", "measured", "severity", "sentence"), SENTENCES)
def test_at_its_limit_a_flag_says_what_was_measured_and_when(shore: Shore, rule: str, measured: dict, severity: str, sentence: str) -> None:
    shore.check(JULY, **measured)
    flag = shore.flag(rule)
    assert (flag["severity"], flag["sentence"]) == (severity, sentence)


@pytest.mark.parametrize("measured", [{"crack_width_mm": 0.29}, {"toe_grade": 1}, {"scour_depth_mm": 44}, {"stance_grade": 1}, {"tilt_deg": 14.9}], ids=str)
def test_one_step_under_its_limit_nothing_is_raised(shore: Shore, measured: dict) -> None:
    shore.check(JULY, **measured)
    assert shore.flags() == []


def test_the_evidence_is_what_was_measured_and_nothing_that_was_not(shore: Shore) -> None:
    first = shore.check(JULY, crack_width_mm=2, chip_depth_mm=30)
    evidence = {"crack_width_mm": 2, "chip_depth_mm": 30, "grade": 2, "computed_grade": 2, "check_id": first, "photos": 0}
    assert shore.flag("damaged")["evidence"] == evidence
    second = shore.check(AUGUST, scour_depth_mm=100, tilt_deg=20)
    toe = {"scour_depth_mm": 100, "height_mm": 450, "grade": 2, "computed_grade": 2, "check_id": second, "photos": 0}
    assert shore.flag("undermined")["evidence"] == toe
    stance = {"tilt_deg": 20, "limit_deg": 15, "grade": 2, "computed_grade": 2, "check_id": second, "photos": 0}
    assert shore.flag("leaning")["evidence"] == stance


def test_by_eye_the_evidence_names_no_tilt(shore: Shore) -> None:
    check = shore.check(JULY, stance_grade=4)
    assert shore.flag("leaning")["evidence"] == {"grade": 4, "computed_grade": None, "check_id": check, "photos": 0}


def test_photos_are_counted_in_words_and_removed_ones_are_not(shore: Shore) -> None:
    check = shore.check(JULY, crack_width_mm=2)
    photos = [shore.write("photo", of_kind="unit_check", of_id=check, taken_at=JULY, sha256=f"{n}" * 64) for n in (1, 2)]
    assert shore.flag("damaged")["sentence"].endswith("seen Jul 1, 2026, on 2 photos.")
    shore.write("photo", photos[0], _deleted=True)
    assert shore.flag("damaged")["sentence"].endswith("seen Jul 1, 2026, on 1 photo.")
    assert shore.flag("damaged")["evidence"]["photos"] == 1
    shore.write("photo", of_kind="unit", of_id=check, taken_at=JULY, sha256="3" * 64)
    assert shore.flag("damaged")["evidence"]["photos"] == 1, "a photo of something else by that id"


def test_the_first_good_check_after_the_worst_settles_and_later_ones_do_not(shore: Shore) -> None:
    shore.check(JULY, tilt_deg=40)
    better = shore.check(AUGUST, tilt_deg=3)
    shore.check(SEPTEMBER, tilt_deg=2)
    flag = shore.flag("leaning")
    assert (flag["settled_by"], flag["settled_reason"]) == (better, "Looked at again Aug 1, 2026: leaning 3°.")


@pytest.mark.parametrize(("rule", "bad", "good", "says"), [
    ("damaged", {"crack_width_mm": 2}, {"crack_width_mm": 0}, "no crack"),
    ("damaged", {"crack_width_mm": 2}, {"crack_width_mm": 0.1, "lost_volume_pct": 0}, "a crack of 0.1 mm"),
    ("damaged", {"lost_volume_pct": 9, "chip_depth_mm": 4}, {"lost_volume_pct": 0, "chip_depth_mm": 0, "chip_across_mm": 0}, "no piece broken off, no chip"),
    ("damaged", {"crack_width_mm": 2}, {"body_grade": 0}, "grade 0 of 4 by eye"),
    ("undermined", {"rocking": True}, {"rocking": False}, "it does not rock"),
    ("undermined", {"scour_depth_mm": 100}, {"scour_depth_mm": 10}, "scour 10 mm deep"),
    ("undermined", {"rocking": True, "scour_depth_mm": 100}, {"rocking": False, "scour_depth_mm": 0}, "it does not rock, no scour"),
    ("leaning", {"tilt_deg": 40}, {"stance_grade": 1}, "grade 1 of 4 by eye"),
])  # fmt: skip
def test_what_settled_a_flag_is_what_that_check_looked_at_and_no_more(shore: Shore, rule: str, bad: dict[str, Any], good: dict[str, Any], says: str) -> None:
    shore.check(JULY, **bad)
    shore.check(AUGUST, **good)
    assert shore.flag(rule)["settled_reason"] == f"Looked at again Aug 1, 2026: {says}."


def test_measures_told_with_a_search_that_found_nothing_neither_raise_nor_settle(shore: Shore) -> None:
    shore.check(JULY, found_state="not_found_under_water", crack_width_mm=2)
    assert shore.flags("damaged") == []
    shore.check(AUGUST, crack_width_mm=2)
    shore.check(SEPTEMBER, found_state="not_visited", crack_width_mm=0)
    assert shore.flag("damaged")["state"] == "open"


def test_a_changed_design_changes_what_its_units_scour_means(shore: Shore) -> None:
    """100 mm are 22 % of 450 mm, a look; of 300 mm they are 33 %, over the quarter that asks for work."""
    shore.check(JULY, scour_depth_mm=100)
    assert shore.flag("undermined")["severity"] == "look"
    shore.write("unit_design", DESIGN, height_mm=300)
    flag = shore.flag("undermined")
    assert (flag["severity"], flag["evidence"]["height_mm"]) == ("act", 300)
    assert "33 % of the height" in flag["sentence"]


def test_a_unit_taken_out_of_use_and_cleaned_afterwards_stays_silent(shore: Shore) -> None:
    shore.check(JULY, lost_volume_pct=60)
    shore.event("retired", AUGUST)
    shore.event("cleaned", SEPTEMBER)
    assert shore.flags() == []
    shore.check("2026-09-05T10:00:00.000Z", lost_volume_pct=80, tilt_deg=50)
    assert shore.flags() == [], "looked at once more, it is out of use all the same"
    assert list_flags(shore.db, SITE, datetime(2027, 9, 2, tzinfo=UTC)) == [], "nor is it ever overdue"
    shore.event("placed", "2026-09-10T10:00:00.000Z")
    shore.check("2026-09-11T10:00:00.000Z", lost_volume_pct=60)
    assert shore.flag("damaged")["state"] == "open"


def test_cleaning_is_no_new_beginning(shore: Shore) -> None:
    shore.check(JULY, tilt_deg=40)
    shore.event("cleaned", AUGUST)
    assert shore.flag("leaning")["state"] == "open"


def test_a_check_in_the_moment_of_a_reset_belongs_to_what_follows(shore: Shore) -> None:
    shore.check(AUGUST, tilt_deg=40)
    shore.event("reset", AUGUST)
    assert shore.flag("leaning")["raised_at"] == AUGUST


@pytest.mark.parametrize(
    ("kind", "parent", "field", "values"),
    [("person_private", "person", "phone", ("555 0101", "555 0102", "555 0103")),
     ("sign_in_private", "sign_in", "medical_note", ("asthma", "an inhaler", "no nuts"))],
)  # fmt: skip
def test_what_only_leads_may_read_raises_no_flag_that_crews_would_get(shore: Shore, kind: str, parent: str, field: str, values: tuple) -> None:
    person = shore.write("person", display_name="Wren Saltmarsh", role="student", minor=False)
    of = person if parent == "person" else shore.write("sign_in", person_id=person, in_at=JULY)
    private = shore.write(kind, **{f"{parent}_id": of, field: values[0]})
    apart(shore, kind, private, field, values)
    orphaned = shore.write(kind, **{f"{parent}_id": record_id("on another phone"), field: values[0]})
    told = "".join(shore.stored())
    assert private not in told
    assert orphaned not in told
    assert not [value for value in values if value in told]


def test_the_list_has_open_flags_only_the_gravest_and_newest_of_them_first(shore: Shore) -> None:
    shore.check(JULY, tilt_deg=20)
    shore.check(AUGUST, unit=OTHER, tilt_deg=20)
    shore.check(JULY, unit=OTHER, lost_volume_pct=60)
    shore.check("2026-07-02T10:00:00.000Z", rocking=True)
    shore.check(SEPTEMBER, rocking=False)
    listed = list_flags(shore.db, SITE, datetime(2026, 8, 2, tzinfo=UTC))
    assert [(flag["rule"], flag["subject"]["id"], flag["severity"]) for flag in listed] == [
        ("damaged", OTHER, "act"), ("leaning", OTHER, "look"), ("leaning", UNIT, "look"),
    ]  # fmt: skip
    every = list_flags(shore.db, SITE, datetime(2026, 8, 2, tzinfo=UTC), all=True)
    assert [flag["state"] for flag in every] == ["open", "open", "open", "settled"]


def test_flags_of_another_site_are_not_listed(shore: Shore) -> None:
    shore.check(JULY, tilt_deg=20)
    assert list_flags(shore.db, record_id("another site"), NOW, all=True) == []


def test_the_newest_position_that_moved_counts_and_the_next_after_it_settles(shore: Shore) -> None:
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0)
    shore.typed(JULY, 12.4, 15.0)
    newest = shore.typed("2026-07-10T10:00:00.000Z", 12.6, 15.0)
    back = shore.typed(AUGUST, 12.01, 15.0)
    shore.typed(SEPTEMBER, 12.02, 15.0)
    flag = shore.flag("displaced")
    assert (flag["evidence"]["fix_id"], flag["evidence"]["displacement_m"]) == (newest, 0.6)
    assert (flag["settled_by"], flag["settled_at"]) == (back, AUGUST)
    assert flag["settled_reason"] == "Measured again Aug 1, 2026: would have shown 0.60 m and found none."


@pytest.mark.parametrize(("east_m", "grade", "severity"), [(12.12, 1, "look"), (12.125, 2, "act"), (13.6, 4, "act")])
def test_a_quarter_of_its_width_asks_for_work(shore: Shore, east_m: float, grade: int, severity: str) -> None:
    """The design's footprint is 500 mm: a quarter is 125 mm, three widths are 1.5 m. The site wants to know of less."""
    shore.write("site", SITE, least_shift_m=0.1)
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0, sigma_m=0.01)
    shore.typed(JULY, east_m, 15.0, sigma_m=0.01)
    flag = shore.flag("displaced")
    assert (flag["evidence"]["place_grade"], flag["severity"]) == (grade, severity)


def test_a_typed_position_without_its_uncertainty_counts_with_5_cm(shore: Shore) -> None:
    """p < 0.05 from 2.4477 x 0.05 x sqrt(2) = 0.173 m on; 95 times in 100 it shows 3.93 x 0.0707 = 0.278 m."""
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0, sigma_m=None)
    shore.typed(JULY, 12.17, 15.0, sigma_m=None)
    assert shore.flags("displaced") == []
    shore.typed(AUGUST, 12.18, 15.0, sigma_m=None)
    assert shore.flag("displaced")["evidence"]["shows_m"] == pytest.approx(0.278, abs=0.0005)


def test_the_sites_grid_turns_the_bearing(shore: Shore) -> None:
    shore.write("site", SITE, grid_azimuth_deg=90)
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0)
    shore.typed(JULY, 12.0, 15.5)
    assert shore.flag("displaced")["evidence"]["bearing_deg"] == 90
    assert "m east since" in shore.flag("displaced")["sentence"]


def test_a_fourth_tape_is_read_and_one_from_a_mark_that_is_not_here_is_not(shore: Shore) -> None:
    fourth = shore.write("control_mark", record_id("M4"), label="M4", east_m=24.0, north_m=30.0, sigma_m=0.01)
    shore.typed("2026-06-02T10:00:00.000Z", 12.0, 15.0)
    ranges = {name: ((12.5 - east_m) ** 2 + (15.0 - north_m) ** 2) ** 0.5 for name, (east_m, north_m) in MARKS.items()}
    told = {"mark_1_id": record_id("M5"), "range_1_m": 3.0, "mark_2_id": record_id("M1"), "range_2_m": round(ranges["M1"], 3)}
    told |= {"mark_3_id": record_id("M2"), "range_3_m": round(ranges["M2"], 3), "mark_4_id": fourth, "range_4_m": round(ranges["M2"], 3)}
    shore.write("position_fix", of_kind="unit", of_id=UNIT, fixed_at=JULY, method="tapes", **told)
    assert shore.flag("displaced")["evidence"]["displacement_m"] == pytest.approx(0.5, abs=0.002)


def seen_of(kind: str, disagreements: tuple = (), **row: object) -> RecordSeen:
    declared = CATALOGUE.kinds[kind]
    told_ms = int(datetime(2026, 7, 1, 10, tzinfo=UTC).timestamp() * 1000)
    empty = dict.fromkeys(declared.fields)
    return RecordSeen(declared, {**empty, "record_id": "r", "changed_eff": f"{told_ms:012x}0000", **row}, disagreements, {})


@pytest.mark.parametrize(
    ("at", "says"),
    [("2026-07-01T10:11:00.000Z", "11 min"), ("2026-07-01T11:59:00.000Z", "119 min"), ("2026-07-01T12:00:00.000Z", "2 h 0 min"),
     ("2026-07-01T12:31:00.000Z", "2 h 31 min"), ("2026-07-03T09:59:00.000Z", "47 h 59 min"), ("2026-07-03T10:00:00.000Z", "2 days")],
)  # fmt: skip
def test_how_far_a_clock_was_ahead_is_said_in_minutes_hours_or_days(at: str, says: str) -> None:
    (flag,) = clock_off(seen_of("unit_check", checked_at=at))
    assert f" UTC, {says} after it was written down." in flag.sentence
    assert flag.part == "checked_at"
    assert flag.raised_at == "2026-07-01T10:00:00.000Z"


def test_ten_minutes_are_a_slow_thumb_and_a_second_more_is_a_clock() -> None:
    assert clock_off(seen_of("unit_check", checked_at="2026-07-01T10:10:00.000Z")) == []
    assert len(clock_off(seen_of("unit_check", checked_at="2026-07-01T10:10:01.000Z"))) == 1


def test_each_instant_of_a_record_is_looked_at() -> None:
    late = {"in_at": "2026-07-02T10:00:00.000Z", "out_at": "2026-07-02T12:00:00.000Z"}
    assert [flag.part for flag in clock_off(seen_of("sign_in", **late))] == ["in_at", "out_at"]


def test_a_disagreement_says_title_labels_units_and_nothing() -> None:
    found = disagreement(seen_of("unit_check", (
        Disagreement("found_state", ["seen", "a word of a newer app"]), Disagreement("tilt_deg", [3, None]), Disagreement("_deleted", [True, False]),
    )))  # fmt: skip
    start = "Unit check: two phones wrote"
    end = "is used until someone decides."
    assert [flag.sentence for flag in found] == [
        f"{start} Seen and a word of a newer app for Found. Seen {end}", f"{start} 3\u00b0 and nothing for Tilt. 3\u00b0 {end}",
        f"{start} removed and not removed for removed or not. removed {end}",
    ]  # fmt: skip
    assert [flag.part for flag in found] == ["found_state", "tilt_deg", "_deleted"]


@pytest.mark.parametrize(("count", "others"), [(VALUES_TOLD, False), (VALUES_TOLD + 1, True)])
def test_as_many_values_as_are_told_leave_no_others(count: int, others: bool) -> None:
    (found,) = disagreement(seen_of("unit_check", (Disagreement("note", [f"Gull {n}." for n in range(count)]),)))
    assert (" and others for Note." in found.sentence) is others
    assert f"Gull {VALUES_TOLD - 1}." in found.sentence


def test_what_was_over_before_the_last_damage_came_is_not_said_with_it(shore: Shore) -> None:
    """The check that found the crack closed is the one that found a part lost: of the two, that part alone stood until it was settled."""
    shore.check(JULY, crack_width_mm=2)
    shore.check(AUGUST, crack_width_mm=0, lost_volume_pct=30)
    shore.check(SEPTEMBER, lost_volume_pct=0)
    flag = shore.flag("damaged")
    assert (flag["state"], flag["settled_at"]) == ("settled", SEPTEMBER)
    assert "30 %" in flag["sentence"]
    assert "crack" not in flag["sentence"]
