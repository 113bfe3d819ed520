"""HTTP of hours; for leads. Crew and desk have their own hours on the phone, readers get sums with their pack."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.devices import Device
from fieldlog.access.guard import current_device, require
from fieldlog.errors import BadRequest
from fieldlog.exports.formats import FORMATS
from fieldlog.instants import written
from fieldlog.openapi.operations import answer, in_path, in_query, operation
from fieldlog.openapi.shapes import group, list_of, text
from fieldlog.store import Programme
from fieldlog.timesheets.answers import of_person, summary
from fieldlog.timesheets.asking import days_of, person_known, year_asked
from fieldlog.timesheets.files import funder_csv, funder_page, funder_workbook, letter_page
from fieldlog.timesheets.funder import sheet_for_funder
from fieldlog.timesheets.letter import letter_of
from fieldlog.timesheets.reading import HoursBook, read_book

NO_AWARD = "none"
HTML, CSV, XLSX = FORMS = ("html", "csv", "xlsx")
_XLSX_TYPE = FORMATS["xlsx"].media_type

_YEAR = in_query("year", "A year of the sites' clocks such as 2026, or all")
_PERSON = in_path("person_id", "Any record of the person")
_LISTS = {name: list_of({"type": "object"}) for name in ("roles", "months")}


def blueprint(programme: Programme, now: Callable[[], datetime]) -> Blueprint:
    """The routes of hours."""
    routes = Blueprint("timesheets", __name__)

    def asked() -> tuple[Device, HoursBook, int | None]:
        db = programme.db()
        device = current_device(request, db)
        require(device, "lead")
        return device, read_book(db, device.sites), year_asked(request.args.get("year", ""))

    @routes.get("/api/hours")
    @operation(
        "hours", "Hours of the device's sites in sums, and all that is not counted (leads)",
        {"200": answer("Sums by person, month, role, task and award; sentences", group(["total", "people", *_LISTS], people=list_of({"type": "object"}), **_LISTS))},
        parameters=[_YEAR],
    )  # fmt: skip
    def hours() -> Response:
        _device, book, year = asked()
        return jsonify(summary(book, year))

    @routes.get("/api/hours/people/<person_id>")
    @operation(
        "hours_of_person", "One person's hours, record by record (leads)",
        {"200": answer("Sums, and a line a record and day, the newest first", group(["name", "total", "lines", *_LISTS], name=text(), lines=list_of({"type": "object"}), **_LISTS))},
        parameters=[_PERSON, _YEAR], refuses=("404",),
    )  # fmt: skip
    def person(person_id: str) -> Response:
        device, book, year = asked()
        return jsonify(of_person(book, person_known(book, person_id, device.sites), year))

    @routes.get("/api/hours/people/<person_id>/letter")
    @operation(
        "hours_letter", "A letter about one person's hours, one page of HTML that prints (leads)",
        {"200": answer("The page", text(), "text/html")}, parameters=[_PERSON, _YEAR], refuses=("404",),
    )  # fmt: skip
    def letter(person_id: str) -> Response:
        device, book, year = asked()
        known = person_known(book, person_id, device.sites)
        first, last = days_of(book, year, now().date(), known)
        return _page(letter_page(letter_of(book, known, first, last, now())))

    @routes.get("/api/hours/awards/<award_id>/sheet.<form>")
    @operation(
        "hours_for_funder", "The hours of an award for its funder, as a page, CSV or XLSX (leads)",
        {"200": {"description": "The sheet", "content": {media: {"schema": text()} for media in ("text/html", "text/csv", _XLSX_TYPE)}}},
        parameters=[in_path("award_id", "The award, or none: hours of no award"), in_path("form", "html, csv or xlsx", enum=list(FORMS)), _YEAR], refuses=("404",),
    )  # fmt: skip
    def funder(award_id: str, form: str) -> Response:
        _device, book, year = asked()
        if form not in FORMS:
            raise BadRequest(f"The form is {form!r}; give {', '.join(FORMS)}.", {"form": "unknown"})
        first, last = days_of(book, year, now().date())
        sheet = sheet_for_funder(book, None if award_id == NO_AWARD else award_id, first, last, now())
        if form == HTML:
            return _page(funder_page(book, sheet))
        data = funder_csv(book, sheet) if form == CSV else funder_workbook(book, sheet, written(now()))
        name = f"hours {request.args['year']}.{form}"
        headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
        return Response(data, mimetype="text/csv" if form == CSV else _XLSX_TYPE, headers=headers)

    return routes


def _page(html: str) -> Response:
    return Response(html, mimetype="text/html", headers={"Cache-Control": "no-store"})
