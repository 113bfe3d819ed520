"""What is open stays a question until somebody answers it; what the values settle is asked of nobody."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from fieldlog.imports.proposal import decimal_of, order_of
from tests.imports.sheets import Sheet

Sheets = Callable[..., Sheet]
PAPER = "Block no,Date,Time,exposed in.,OK?,who\nB1,7/5/2025,8:10,16.5,seen,AV\nB-2,8/6/2025,,16,chip,SP\n"


def test_each_open_question_stands_beside_its_column(sheet: Sheets) -> None:
    assert sheet(PAPER).asked() == [("Block no", "“B-2” is"), ("Date", "7/5/2025 is"), ("OK?", "“chip” means")]


def test_the_order_of_a_day_is_asked_with_both_days_and_how_many_rows_fit_both(sheet: Sheets) -> None:
    looked = sheet(PAPER)
    question = looked.question("order")
    assert [answer["label"] for answer in question["answers"]] == ["Jul 5", "May 7"]
    assert (question["note"], question["rows"]) == ("Both fit 2 rows. No row settles it.", 2)
    looked.answer("order", "Jul 5")
    assert looked.said["columns"]["Date"]["order"] == "mdy"
    assert ("Date", "7/5/2025 is") not in looked.asked()


def test_one_day_that_fits_one_order_alone_settles_the_others(sheet: Sheets) -> None:
    looked = sheet(PAPER.replace("8/6/2025", "8/26/2025"))
    assert looked.said["columns"]["Date"]["order"] == "mdy"
    assert "order" not in [question["about"] for question in looked.looked["questions"]]


def test_days_in_two_orders_are_asked_and_say_how_many_fit_each(sheet: Sheets) -> None:
    looked = sheet("tag,Date,found\nB019,7/25/2025,seen\nB019,25/8/2025,seen\nB019,26/8/2025,seen\n")
    assert looked.question("order")["note"] == "1 row fit only month first, 2 rows only day first; the others then need fixing."


def test_orders_and_decimal_signs_are_settled_by_values_that_have_but_one_reading() -> None:
    assert order_of(["7/5/2025", "7/25/2025"]) == "mdy"
    assert order_of(["7/5/2025"]) is order_of(["7/25/2025", "25/7/2025"]) is order_of(["2025-07-05"]) is None
    assert decimal_of(["41,9", "1,250"]) == ","
    assert decimal_of(["1,250.5", "1,250"]) == decimal_of(["12", "13"]) == "."
    assert decimal_of(["1,250"]) is decimal_of(["41,9", "41.9"]) is None


def test_a_number_without_a_unit_is_asked_in_each_unit(sheet: Sheets) -> None:
    looked = sheet("tag,Date,found,exposed height\nB019,2025-07-05,seen,16.5\n")
    question = looked.question("unit")
    assert [answer["label"] for answer in question["answers"]] == ["16.5 mm", "16.5 cm = 165 mm", "16.5 m = 16500 mm", "16.5 in = 419.1 mm", "16.5 ft = 5029.2 mm"]
    looked.answer("unit", "16.5 ft")
    assert looked.said["columns"]["exposed height"]["unit"] == "ft"
    assert looked.looked["columns"][3]["said"] == "16.5 ft = 5029.2 mm"


def test_a_number_whose_unit_or_decimal_sign_is_open_is_shown_as_it_stands_and_never_in_a_unit(sheet: Sheets) -> None:
    looked = sheet("tag,Date,found,exposed height,lean\nB019,2025-07-05,seen,16.5,3\n")
    said = looked.looked["first"]["rest"]
    assert "Exposed height: “16.5”, unit not said yet." in said
    assert " mm" not in said
    assert "Tilt: 3°." in said
    looked.answer("unit", "16.5 in")
    assert "Exposed height: 419.1 mm." in looked.looked["first"]["rest"]
    looked = sheet('tag,Date,found,exposed height\nB019,2025-07-05,seen,"1,250"\nB019,2025-07-06,seen,7\n')
    assert "Exposed height: “1,250”, unit and decimal sign not said yet." in looked.looked["first"]["rest"]
    looked = sheet("tag,Date,found,exposed height\nB019,2025-07-05,seen,16.5 cm\nB019,2025-07-06,seen,7\n")
    assert "Exposed height: 165 mm." in looked.looked["first"]["rest"], "its own cell says its unit"


def test_a_unit_in_the_header_is_asked_of_nobody_and_is_shown(sheet: Sheets) -> None:
    looked = sheet(PAPER)
    assert looked.said["columns"]["exposed in."]["unit"] == "in"
    assert [column["said"] for column in looked.looked["columns"] if column["header"] == "exposed in."] == ["16.5 in = 419.1 mm"]


def test_1_250_is_asked_about(sheet: Sheets) -> None:
    looked = sheet('tag,Date,found,crest level mm,Crest level is above\nB019,2025-07-05,seen,"1,250",M2\n')
    assert [answer["label"] for answer in looked.question("decimal")["answers"]] == ["with a decimal point: 1250", "with a decimal comma: 1.25"]


def test_a_word_that_is_no_choice_is_asked_and_one_that_is_almost_one_is_told(sheet: Sheets) -> None:
    looked = sheet("tag,Date,found\nB019,2025-07-05,SEEN\nB019,2025-07-06,chip\n")
    question = looked.question("word")
    assert (question["ask"], question["note"]) == ("“chip” means", "“SEEN” is read as Seen.")
    looked.answer("word", "Not found, dry")
    assert looked.said["columns"]["found"]["words"] == {"chip": "not_found_dry"}
    assert looked.looked["questions"] == []


def test_a_name_that_is_not_known_may_be_a_near_one_a_new_one_or_left_out(sheet: Sheets) -> None:
    answers = sheet(PAPER).question("reference")["answers"]
    assert [answer["label"] for answer in answers] == ["B024", "A new unit", "Leave these rows out"]


def test_many_unknown_names_are_settled_at_once(sheet: Sheets) -> None:
    looked = sheet("Scientific name\n" + "".join(f"Genus species{number}\n" for number in range(3)))
    assert looked.looked["kind"] == "species"
    looked = sheet("Species,Date,Found\n" + "".join(f"Genus species{number},2025-07-05,seen\n" for number in range(40)))
    questions = [question for question in looked.looked["questions"] if question["about"] == "reference"]
    assert len(questions) == 13
    assert questions[-1]["ask"] == "28 more names"
    assert [answer["label"] for answer in questions[-1]["answers"]] == ["All are new", "Leave these rows out"]


def test_two_columns_of_one_name_are_asked_about(sheet: Sheets) -> None:
    looked = sheet("tag,Date,found,Tilt,Tilt\nB019,2025-07-05,seen,2,3\n")
    question = looked.question("repeated")
    assert (question["column"], question["ask"]) == ("Tilt (2)", "Two columns are called “Tilt”. The second one")
    looked.answer("repeated", "Take this one")
    assert (looked.fields()["Tilt"], looked.fields()["Tilt (2)"]) == (None, "tilt_deg")
    assert looked.looked["questions"] == []


def test_two_columns_that_claim_one_field_are_asked_about(sheet: Sheets) -> None:
    looked = sheet("tag,Date,found,Tilt,angle\nB019,2025-07-05,seen,2,3\n")
    looked.set(["columns", "angle", "field"], "tilt_deg")
    assert looked.question("claimed")["ask"] == "Tilt is in"
    looked.answer("claimed", "angle")
    assert looked.fields()["Tilt"] is None


def test_what_every_record_must_say_and_no_column_says_is_asked(sheet: Sheets) -> None:
    looked = sheet("tag,exposed in.\nB019,16\n", kind="unit_check")
    assert looked.asked() == [("", "No column says Checked at. Every row is of"), ("", "No column says Found. In every row it is")]
    looked.set(["constants", "checked_at"], "2025-07-05")
    looked.answer("lacking", "Seen")
    assert looked.looked["questions"] == []
    assert looked.looked["first"]["head"] == "B019, checked at Jul 5, 2025"
    assert looked.looked["first"]["rest"] == "Found: Seen. Exposed height: 406.4 mm."


def test_levels_are_asked_for_their_datum(sheet: Sheets) -> None:
    assert ("", "No column says Datum of the level. In every row it is") in sheet("Mark,East m,North m,Level m\nM9,1,2,0.5\n").asked()


def test_an_hour_that_came_twice_is_asked_and_only_where_the_sheet_has_it(sheet: Sheets) -> None:
    twice = "tag,Date,Time,found\nB019,2025-11-02,1:30,seen\nB019,2025-07-05,8:10,seen\n"
    looked = sheet(twice)
    assert looked.question("night")["ask"] == "01:30 on Nov 2, 2025 is"
    looked.answer("night", "The second")
    assert looked.said["columns"]["Time"]["night"] == "second"
    assert looked.looked["questions"] == []
    assert sheet(twice.replace("1:30", "3:30")).looked["questions"] == []


def test_a_kept_mapping_of_another_sheet_says_which_column_is_not_here(sheet: Sheets) -> None:
    kept = sheet(PAPER).said
    looked = sheet("Block no,Date,Time,exposed in.,who\nB1,2025-07-05,8:10,16.5,AV\n", **kept)
    assert ("OK?", "This sheet has no column “OK?”.") in looked.asked()


@pytest.mark.parametrize(("kind", "message"), [("units", "There is no kind of record “units”"), ("import", "There is no kind of record “import”")])
def test_a_kind_that_is_none_is_a_sentence(sheet: Sheets, kind: str, message: str) -> None:
    with pytest.raises(Exception, match=message):
        sheet(PAPER, kind=kind)


def test_contacts_beside_people_are_said_to_be_records_of_their_own_to_import_next(sheet: Sheets) -> None:
    people = "Name,Role,Under 18,Mobile,E-mail,Shoe size\nPer Lindqvist,Volunteer,no,555 0100,per@example.org,44\n"
    looked = sheet(people, kind="person")
    assert looked.looked["notes"] == ["Mobile, E-mail: contacts are records of their own. Import the people first, then the same file again as Contacts (person_private)."]
    assert sheet(people, kind="person_private").looked["notes"] == []
    assert sheet("Name,Role\nPer Lindqvist,Volunteer\n", kind="person").looked["notes"] == []
