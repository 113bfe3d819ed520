"""The command that lists hours, and writes letters and sheets of them."""

from __future__ import annotations

from pathlib import Path

import click

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.sites import site_called
from fieldlog.errors import BadRequest, NotHere
from fieldlog.instants import written
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted, named
from fieldlog.sync.opening import open_programme
from fieldlog.timesheets.answers import summary
from fieldlog.timesheets.asking import ALL, days_of, person_known, year_asked
from fieldlog.timesheets.files import funder_csv, funder_page, funder_workbook, letter_page
from fieldlog.timesheets.funder import role_words, sheet_for_funder
from fieldlog.timesheets.letter import letter_of
from fieldlog.timesheets.reading import HoursBook, read_book

LISTED = ("uncounted", "look")


@click.command()
@click.option("--year", default=ALL, show_default=True, help="A year of the site's clock, such as 2026, or all.")
@click.option("--site", help="The site's name or id. Without it: every site.")
@click.option("--award", "award", help="An award's name or id, for its sheet; none: hours of no award.")
@click.option("--person", "person", help="A person's record id, for a letter.")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="The file to write: .html, .csv or .xlsx of an award, .html of a person.")
@folder_option
@json_option
@pass_asked
def hours(asked: Asked, /, year: str, site: str | None, award: str | None, person: str | None, out: Path | None) -> None:
    """List the hours people gave; write a letter or a funder's sheet."""
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    db = programme.db()
    book = read_book(db, None if site is None else frozenset([str(site_called(db, site)["record_id"])]))
    wanted = year_asked(year)
    if (award is None) == (person is None) and (award is not None or out is not None):
        raise BadRequest("Say whose file to write: --award NAME or --person ID, not both.")
    if (award is not None or person is not None) and out is None:
        raise BadRequest("Say which file to write: --out FILE.")
    if out is None:
        told = summary(book, wanted)
        asked.show(told, _lines(told))
        return
    offered = (".html",) if person is not None else (".html", ".csv", ".xlsx")
    if out.suffix not in offered:
        raise BadRequest(f"{out} ends in {out.suffix or 'nothing'!r}. Name a file that ends in {' or '.join(offered)}.")
    if out.exists():
        raise BadRequest(f"{out} is there already. Name another file.")
    out.write_bytes(_file(asked, book, wanted, award, person, out.suffix))
    asked.show({"file": str(out)}, [f"{out} is written."])


def _file(asked: Asked, book: HoursBook, year: int | None, award: str | None, person: str | None, suffix: str) -> bytes:
    if person is not None:
        known = person_known(book, person, None)
        first, last = days_of(book, year, asked.now().date(), known)
        return letter_page(letter_of(book, known, first, last, asked.now()), alone=True).encode()
    first, last = days_of(book, year, asked.now().date())
    sheet = sheet_for_funder(book, _award_called(book, award or ""), first, last, asked.now())
    if suffix == ".csv":
        return funder_csv(book, sheet)
    return funder_workbook(book, sheet, written(asked.now())) if suffix == ".xlsx" else funder_page(book, sheet, alone=True).encode()


def _award_called(book: HoursBook, name: str) -> str | None:
    if name == "none":
        return None
    fitting = [award_id for award_id, award in book.awards.items() if award_id == name or (award["name"] or "").casefold() == name.casefold()]
    if len(fitting) != 1:
        known = ", ".join(f"{named(award['name'])} ({award_id})" for award_id, award in book.awards.items()) or "none"
        raise NotHere(f"{'Several awards are' if fitting else 'No award is'} called {name!r}. Known here: {known}.")
    return fitting[0]


def _lines(told: dict[str, object]) -> list[str]:
    total = told["total"]
    assert isinstance(total, dict)
    lines = [f"{counted(int(str(told['sign_in_count'])), 'sign-in')} on record. {_said(total)}."]
    for part, title in (("roles", "role"), ("people", "name"), ("months", "month")):
        rows = told[part]
        assert isinstance(rows, list)
        lines += ["", *(f"{role_words(row['role']) if part == 'roles' else row[title]}: {_said(row)}" for row in rows)]
    for part, title in zip(LISTED, ("Not counted", "To look at"), strict=True):
        listed = told[part]
        assert isinstance(listed, dict)
        if listed["count"]:
            lines += ["", f"{title}: {listed['count']}", *(row["sentence"] for row in listed["rows"])]
    return lines


def _said(total: dict[str, float]) -> str:
    driven = f", {rounded(total['miles'], 1)} mi" if total["miles"] else ""
    return f"{rounded(total['hours'], 2)} h{driven}, of which {rounded(total['unsigned_hours'], 2)} h not signed for"
