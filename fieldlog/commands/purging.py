"""The command that forgets a person, and deletes contacts and medical notes that were kept long enough."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

import click

from fieldlog.commands.asking import Asked, folder_option, iso_utc, json_option, pass_asked
from fieldlog.commands.printable import say
from fieldlog.errors import NameAmbiguous, NotHere
from fieldlog.purging.aged import DAYS, aged_records
from fieldlog.purging.copies import copies_of
from fieldlog.purging.doing import forget, purge_aged
from fieldlog.purging.held import held_about
from fieldlog.purging.naming import texts_naming
from fieldlog.purging.telling import NO_UNDO, told
from fieldlog.questions.of_people import people_called, same_people
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.shown_names import counted
from fieldlog.store import Programme
from fieldlog.sync.opening import open_programme

NOT_CLEAN = "The disk may still hold deleted text between the rows of the database. The next nightly backup deletes it; or free some space and run this again."


@click.command()
@click.argument("person", required=False)
@click.option("--days", type=click.IntRange(0, 36_500), default=DAYS, show_default=True, help="Without a person: how long after the last visit contacts and medical notes are kept.")
@click.option("--report", "is_report", is_flag=True, help="Only say what is held and what would go.")
@folder_option
@json_option
@pass_asked
def purge(asked: Asked, person: str | None, days: int, is_report: bool) -> None:
    """Forget a person, or delete old contacts and medical notes.

    With a name or an id: that person. Without: what is older than the days after its visit. Asks twice before anything is deleted. It cannot be undone. The 30 days are our suggestion; your institution's rules come first.
    """
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    if person is None:
        _aged(asked, programme, days, is_report)
    else:
        _person(asked, programme, _id_of(programme, person), is_report)


def _id_of(programme: Programme, person: str) -> str:
    """
    Whom a name or an id means.

    Raises:
        NotHere: nobody.
        NameAmbiguous: several people whom nobody called the same one.
    """
    ids = people_called(programme.db(), person) or [person]
    same = {row["record_id"] for row in same_people(programme.db(), ids[0])}
    if not same:
        raise NotHere(f"Nobody here is called {person}, or has that id.")
    if not same.issuperset(ids):
        raise NameAmbiguous(f"{counted(len(ids), 'person', 'people')} here are called {person}. Name one by id: {', '.join(ids)}")
    return ids[0]


def _person(asked: Asked, programme: Programme, person_id: str, is_report: bool) -> None:
    held = held_about(programme.db(), CATALOGUE, person_id, asked.now().date())
    report = told(programme, CATALOGUE, held)
    if is_report:
        asked.show(report, _lines_of(report))
        return
    _tell(_lines_of(report))
    _must_type(held.name, f"Forget this person? Type the name as it stands here ({held.name}):")
    _must_type("delete", f"{NO_UNDO} Type delete:")
    is_clean = forget(programme, CATALOGUE, person_id, held.tag, None, asked.now())
    named = texts_naming(programme.db(), CATALOGUE, held.names, held.goes)
    asked.show(
        {"initials": held.initials, "is_clean": is_clean, "named": named, "copies": copies_of(programme)},
        [f"The name is now {held.initials}. Phones delete their copies when they next sync.", *([] if is_clean else [NOT_CLEAN])],
    )


def _aged(asked: Asked, programme: Programme, days: int, is_report: bool) -> None:
    records = aged_records(programme.db(), CATALOGUE, days, asked.now())
    counts = Counter(CATALOGUE.kinds[kind].title for kind, _record_id in records)
    lines = [f"{title}: {counted(count, 'record')}" for title, count in counts.items()]
    if not records:
        lines = [f"No contact or medical note is older than {counted(days, 'day')} after its visit."]
    if is_report or not records:
        asked.show({"days": days, "records": dict(counts), "deleted": 0, "is_clean": True, "copies": copies_of(programme)}, lines)
        return
    _tell([*lines, *_copies(copies_of(programme))])
    _must_type("delete", f"Delete what is older than {counted(days, 'day')} after the visit? Type delete:")
    _must_type("for good", f"{NO_UNDO} Type for good:")
    is_clean = purge_aged(programme, CATALOGUE, records, None, asked.now())
    asked.show(
        {"days": days, "records": dict(counts), "deleted": len(records), "is_clean": is_clean, "copies": copies_of(programme)},
        [f"Deleted: {counted(len(records), 'record')}. Phones delete their copies when they next sync.", *([] if is_clean else [NOT_CLEAN])],
    )


def _lines_of(report: dict[str, Any]) -> Iterator[str]:
    yield f"{report['name']}, at {', '.join(site['name'] for site in report['sites'])}" + (" (already forgotten)" if report["is_forgotten"] else "")
    for one in report["holdings"]:
        seen_by = f", seen by {', '.join(one['seen_by'])}" if one["seen_by"] else ""
        yield f"  {one['title']}: {one['count']}, {iso_utc(one['first_ms'])} to {iso_utc(one['last_ms'])}{seen_by}. {one['sentence']}"
    if report["named"]:
        yield "Texts with the name or a part of it. They stay: look at each, and write the text again without the name."
    for one in report["named"]:
        yield f"  {one['what']} ({one['record_id'] or 'held'}): {one['text'] or one['hit']}" + (" (an earlier text)" if one["is_former"] else "")
    yield from _copies(report["copies"])
    yield f"Devices that may hold it until they next sync: {len(report['phones'])}"
    for device in report["phones"]:
        yield f"  {device['name']} ({device['role']}), last contact {iso_utc(device['seen_at']) if device['seen_at'] else 'never'}"
    yield from report["warnings"]


def _copies(copies: list[dict[str, Any]]) -> Iterator[str]:
    yield "Copies that a purge cannot reach, or reaches later:"
    for one in copies:
        yield f"  {one['where'] or one['what']}: {one['sentence']}"


def _tell(lines: Iterable[str]) -> None:
    """What somebody decides by; standard output is for the answer."""
    for line in lines:
        say(line, err=True)


def _must_type(wanted: str, question: str) -> None:
    """
    Ask for a word.

    Raises:
        click.ClickException: something else was typed.
    """
    say(question, err=True)
    typed = sys.stdin.readline().strip()
    if typed.casefold().split() != wanted.casefold().split():
        raise click.ClickException(f"You typed {typed or 'nothing'}, not {wanted}. Nothing was deleted.")
