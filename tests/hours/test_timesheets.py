"""What leads get over HTTP and by the command line: sums, letters, the funder's sheet in three forms; and who gets none of it."""

from __future__ import annotations

import csv
import io
from datetime import timedelta

import openpyxl
import pytest

from a_phone import Phone
from fieldlog.pack.visit_sums import visit_sums
from fieldlog.timesheets.reading import read_book
from tests.sync.lines import record_id

SITE, OTHER = record_id("site 1"), record_id("site 2")
EMMA, EMMA_TOO, NOOR, LENA = (record_id(name) for name in ("Emma Vail", "another Emma Vail", "Noor Halim", "Lena Strand"))
AWARD = record_id("award")


def signed_in(phone: Phone, name: str, person: str, in_at: str, out_at: str | None, **more: str) -> None:
    given = {} if out_at is None else {"out_at": f"2026-{out_at}:00Z"}
    phone.write("sign_in", record_id(name), {"person_id": person, "in_at": f"2026-{in_at}:00Z", **given, **more}, g=SITE)


@pytest.fixture
def lead(client_of, now) -> Phone:
    """A lead of two sites whose volunteers gave 3.50 and 2.25 h in June, of which the first are signed for; a student gave 1 h."""
    phone = Phone(client_of("lead"), int((now() - timedelta(days=100)).timestamp() * 1000))
    for site, zone in ((SITE, "America/New_York"), (OTHER, "Europe/Oslo")):
        phone.note("site", site, site, name="Alder Spit" if site == SITE else "Heron Bar", zone=zone)
    for person, name, role in ((EMMA, "Emma Vail", "volunteer"), (EMMA_TOO, "Emma Vail", "volunteer"), (NOOR, "=Noor Halim", "volunteer"), (LENA, "Lena Strand", "student")):
        phone.note("person", person, SITE, display_name=name, role=role)
    phone.note("award", AWARD, SITE, name="Spring grant", federal=True)
    phone.note("award_hours", record_id("all"), SITE, award_id=AWARD, from_day="2026-01-01")
    phone.note("rate", record_id("rate"), SITE, name="Volunteers", rate_year=2026, rate_per="hour", amount=34.79, currency="USD", basis="Typed for this test")
    signed_in(phone, "1", EMMA, "06-14T13:00", "06-14T16:30", task="placing")
    signed_in(phone, "2", NOOR, "06-14T13:00", "06-14T15:15", task="placing")
    signed_in(phone, "3", LENA, "06-14T13:00", "06-14T14:00")
    signed_in(phone, "4", EMMA_TOO, "06-14T13:00", None)
    phone.note("hours_signed", record_id("word"), SITE, person_id=EMMA, from_day="2026-06-01", to_day="2026-06-30", signed_h=3.5, signed_at="2026-07-01T12:00:00Z")
    phone.note("mileage", record_id("m"), SITE, person_id=NOOR, driven_on="2026-06-14", driven_mi=42)
    phone.note("preparation", record_id("p"), SITE, person_id=NOOR, worked_on="2026-06-13", spent_h=1.25)
    assert {ack[2] for ack in phone.sync().json["acks"]} == {"ok"}
    return phone


def test_a_lead_gets_sums_and_sentences_and_two_people_of_one_name_apart(lead: Phone) -> None:
    told = lead.client.get("/api/hours?year=2026").json
    assert (told["total"]["hours"], told["total"]["unsigned_hours"], told["total"]["miles"], told["sign_in_count"]) == (8.0, 4.5, 42.0, 4)
    assert {row["role"]: row["hours"] for row in told["roles"]} == {"volunteer": 7.0, "student": 1.0}
    emma = next(row["name"] for row in told["people"] if row["person_id"] == EMMA)
    assert emma.startswith("Emma Vail (person ")
    (open_one,) = told["uncounted"]["rows"]
    assert open_one["sentence"].endswith("Jun 14, 2026: in at 09:00, no sign-out time. Not counted. Write the sign-out time, or remove the sign-in.")
    assert emma not in open_one["sentence"], "the other Emma"
    assert told["months"][0]["month"] == "2026-06"
    assert lead.client.get("/api/hours?year=2024").json["total"]["hours"] == 0.0
    assert lead.client.get("/api/hours?year=soon").json["detail"] == "The year is 'soon'; give a year such as 2026, or all."


def test_one_persons_hours_say_what_is_to_sign_at_which_site(lead: Phone) -> None:
    told = lead.client.get(f"/api/hours/people/{NOOR}?year=all").json
    assert [(row["from_day"], row["to_day"], row["hours"], row["miles"], row["person_id"], row["site"]) for row in told["to_sign"]] == [("2026-06-01", "2026-06-30", 3.5, 42.0, NOOR, "Alder Spit")]
    assert {(line["kind"], line["in"], line["out"], line["hours"], line["miles"]) for line in told["lines"]} == {("sign_in", "09:00", "11:15", 2.25, 0.0), ("preparation", None, None, 1.25, 0.0), ("mileage", None, None, 0.0, 42.0)}
    assert lead.client.get(f"/api/hours/people/{record_id('nobody')}?year=all").status_code == 404


def test_the_letter_says_what_is_in_it_and_what_is_not(lead: Phone) -> None:
    page = lead.client.get(f"/api/hours/people/{NOOR}/letter?year=2026")
    assert page.mimetype == "text/html"
    assert "=Noor Halim has 3.50 h at Alder Spit on record, from Jan 1, 2026 to Dec 31, 2026, on 2 days." in page.text
    assert "3.50 h of these are not signed for by a lead yet." in page.text
    assert "1 sign-in without both times is in none of these hours." in lead.client.get(f"/api/hours/people/{EMMA_TOO}/letter?year=all").text


def test_the_funders_sheet_values_signed_hours_alone_and_leaves_the_judgement(lead: Phone) -> None:
    """3.50 x 34.79 = 121.765, by hand; halves go up."""
    page = lead.client.get(f"/api/hours/awards/{AWARD}/sheet.html?year=2026").text
    for said in ("121.77 USD", "Not signed for by a lead: 3.50 h, without value", "Student</td><td class=\"number\">1.00 h", "is for your grants office to judge", "no sign-out time. Not counted", "Typed for this test"):
        assert said in page, said
    for asked in ("Documented", "To one award only", "Necessary and reasonable", "Rates", "Services of third parties"):
        assert f"<dt>{asked}</dt>" in page
    rows = list(csv.DictReader(io.StringIO(lead.client.get(f"/api/hours/awards/{AWARD}/sheet.csv?year=2026").text)))
    assert {(row["person"].split(" (")[0], row["hours_h"], row["signed"]) for row in rows if row["kind"] == "sign_in"} == {("Emma Vail", "3.5", "true"), ("'=Noor Halim", "2.25", "false"), ("Lena Strand", "1", "false")}
    book = openpyxl.load_workbook(io.BytesIO(lead.client.get(f"/api/hours/awards/{AWARD}/sheet.xlsx?year=2026").data))
    assert book.sheetnames == ["Summary", "Values", "Each record", "In no sum", "What the rules ask"]
    assert [cell.value for cell in book["Values"][2]] == [2026, "Volunteer", "Placing", 3.5, "h", 34.79, "USD", 121.77, "Typed for this test"]
    assert "121.77" not in lead.client.get("/api/hours/awards/none/sheet.html?year=2026").text
    assert lead.client.get(f"/api/hours/awards/{record_id('none')}/sheet.csv?year=2026").status_code == 404
    assert lead.client.get(f"/api/hours/awards/{AWARD}/sheet.pdf?year=2026").status_code == 400


def test_hours_without_a_rate_have_no_value_and_say_so(lead: Phone) -> None:
    lead.note("rate", record_id("rate"), SITE, rate_year=2025)
    lead.sync()
    page = lead.client.get(f"/api/hours/awards/{AWARD}/sheet.html?year=2026").text
    assert "No rate for 2026 is in the table. No value is counted." in page
    assert "USD" not in page


def test_leads_alone_get_hours_of_people_and_of_their_own_sites(lead: Phone, client_of) -> None:
    paths = ["/api/hours?year=all", f"/api/hours/people/{EMMA}?year=all", f"/api/hours/people/{EMMA}/letter?year=all", "/api/hours/awards/none/sheet.csv?year=all"]
    for role in ("crew", "desk", "reader"):
        client = client_of(role, SITE)
        assert {client.get(path).status_code for path in paths} == {403}
    elsewhere = client_of("lead", OTHER)
    told = elsewhere.get("/api/hours?year=all")
    assert (told.json["total"]["hours"], told.json["people"]) == (0.0, [])
    assert elsewhere.get(f"/api/hours/people/{EMMA}?year=all").status_code == 404
    assert "Emma" not in told.text


def test_a_minute_signed_in_at_two_sites_counts_at_one_whichever_site_is_asked(lead: Phone, client_of) -> None:
    """Emma is in until 12:30 (New York) at one site, and from 12:00 to 14:00 at another: her half an hour is the first one's for every lead."""
    there = record_id("Emma at the bar")
    lead.note("person", there, OTHER, display_name="Emma Vail", role="volunteer", same_as=EMMA)
    for name, out_at in (("5", "2026-06-14T18:00:00Z"), ("6", None)):
        lead.write("sign_in", record_id(name), {"person_id": there, "in_at": "2026-06-14T16:00:00Z", "out_at": out_at}, g=OTHER)
    assert {ack[2] for ack in lead.sync().json["acks"]} == {"ok"}
    assert lead.client.get("/api/hours?year=all").json["total"]["hours"] == 9.5
    here, elsewhere = (client_of("lead", site).get("/api/hours?year=all") for site in (SITE, OTHER))
    assert (here.json["total"]["hours"], elsewhere.json["total"]["hours"]) == (8.0, 1.5)
    assert (here.json["sign_in_count"], elsewhere.json["sign_in_count"]) == (4, 2)
    assert "0.50 h of the sign-in at 18:00 are also in one at another site. They count once." in elsewhere.json["look"]["rows"][0]["sentence"]
    assert "no sign-out time, and in and out" in elsewhere.json["uncounted"]["rows"][0]["sentence"]
    assert "15:00" not in elsewhere.text, "when she was at the other site is for its leads"


def test_the_demos_hours_stand_in_the_ledger_and_in_what_readers_are_told(demo_programme) -> None:
    book = read_book(demo_programme.db(), None)
    minutes = sum(line.minutes for line in book.ledger.lines)
    assert (book.ledger.sign_in_count, minutes) == (213, 13069)
    assert (book.ledger.uncounted, book.ledger.remarks) == ([], [])
    (site,) = demo_programme.db().query("SELECT record_id, zone FROM site")
    told = visit_sums(demo_programme.db(), site["record_id"], site["zone"])
    assert sum(year["hours"] for year in told["visit_years"]) == pytest.approx(minutes / 60, abs=0.1), "217.8 h, each year to the tenth"
