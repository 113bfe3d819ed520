"""What is held about a person: which kinds of records since when, which roles read them, and what a purge does with each."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlite_utils import Database

from fieldlog.days import day_words
from fieldlog.errors import NotAllowed, NotHere
from fieldlog.purging.initials import initials_of
from fieldlog.questions.names import names_of
from fieldlog.questions.of_people import records_about, same_people, values_of_records, written_by_people
from fieldlog.records.catalogue import Catalogue, Kind
from fieldlog.shown_names import counted, named
from fieldlog.sync.purges import is_forgotten, said_in
from fieldlog.sync.reading import SEES

Row = dict[str, Any]
INITIALS, DELETED, STAYS = "initials", "deleted", "stays"
"""What a purge does with a kind of record."""


@dataclass
class Holding:
    """The records of one kind about a person; the times are milliseconds since 1970 UTC."""

    kind: str
    title: str
    count: int
    first_ms: int
    last_ms: int
    seen_by: list[str]
    fate: str
    sentence: str


@dataclass
class Held:
    """
    What is held about one person, at all sites.

    `goes` are the records that a purge takes, as kind and id, the person's own among them; `names` all names that their records had. `unsalted`
    entries have no random bits: somebody who guesses all of such an entry can try the guess against its name, which stays.
    """

    people: list[Row]
    holdings: list[Holding]
    goes: list[tuple[str, str]]
    names: list[str]
    is_forgotten: bool
    unsalted: int
    sites: dict[str | None, str] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """What the person is called."""
        return named(self.people[0]["display_name"])

    @property
    def initials(self) -> str:
        """What stands for the name after a purge."""
        return initials_of(self.people[0]["display_name"])

    @property
    def tag(self) -> str:
        """32 hex digits over what a purge takes: what somebody agreed to is what goes."""
        told = json.dumps([sorted(self.goes), self.names, [one.count for one in self.holdings if one.fate == DELETED]])
        return hashlib.sha256(told.encode()).hexdigest()[:32]


def held_about(db: Database, catalogue: Catalogue, person_id: str, today: date) -> Held:
    """
    What is held about a person.

    Raises:
        NotHere: there is no such person.
    """
    people = same_people(db, person_id)
    if not people:
        raise NotHere("There is no such person here. Sync, then open the person again.")
    ids = [row["record_id"] for row in people]
    goes = [("person", one) for one in ids]
    holdings = [_holding(catalogue.kinds["person"], people, INITIALS, f"The name becomes {initials_of(people[0]['display_name'])}; role and hours stay.")]
    for kind in catalogue.kinds.values():
        if kind.of_person is not None:
            taken, kept = _split(db, kind, records_about(db, kind, kind.of_person, ids), today)
            goes += [(kind.name, row["record_id"]) for row in taken]
            holdings += [_holding(kind, taken, DELETED, "Deleted for good.")] if taken else []
            holdings += [_holding(kind, rows, STAYS, f"Stays until {until}, as set with its text.") for until, rows in kept.items()]
        else:
            holdings += _naming(db, kind, ids)
    goes += _in_tray(db, catalogue, set(ids), set(goes))
    written = sum(count for _kind, count, _first, _last in written_by_people(db, ids))
    if written:
        first, last = min(row[2] for row in written_by_people(db, ids)), max(row[3] for row in written_by_people(db, ids))
        sentence = f"{counted(written, 'entry', 'entries')} by this person stay, under the initials."
        holdings.append(Holding("entries", "Entries written", written, ms_of(first), ms_of(last), ["lead", "crew", "desk"], STAYS, sentence))
    sites = names_of(db, "site", {row["site_id"] for row in people if row["site_id"]})
    names, unsalted = _names(db, ids)
    return Held(
        people, holdings, goes, names, all(is_forgotten(db, one) for one in ids), unsalted,
        {row["site_id"]: named(sites.get(row["site_id"])) if row["site_id"] else "every site" for row in people},
    )  # fmt: skip


def check_may_purge(held: Held, sites: frozenset[str] | None) -> None:
    """
    Whether a lead of these sites may forget a person, and read all that is held about them.

    Raises:
        NotAllowed: the person is of another site too.
    """
    other = [name for site_id, name in held.sites.items() if sites is not None and site_id not in sites]
    if other:
        raise NotAllowed(f"{held.name} is also on record at {', '.join(sorted(other))}. Only a lead of all their sites may do this: ask one.")


def ms_of(eff: str) -> int:
    """The time of a stamp, milliseconds since 1970 UTC."""
    return int(eff[:12], 16)


def _holding(kind: Kind, rows: Sequence[Row], fate: str, sentence: str) -> Holding:
    first, last = min(row["created_eff"] for row in rows), max(row["changed_eff"] for row in rows)
    seen_by = [role for role, classes in SEES.items() if kind.privacy in classes]
    return Holding(kind.name, kind.title, len(rows), ms_of(first), ms_of(last), sorted(seen_by), fate, sentence)


def _naming(db: Database, kind: Kind, ids: list[str]) -> list[Holding]:
    """The records of another kind that refer to the person: they stay."""
    rows = {
        row["record_id"]: row for by, target in kind.refs.items() if target == "person" and kind.name != "person"
        for row in records_about(db, kind, by, ids) if not row["deleted"]
    }  # fmt: skip
    return [_holding(kind, list(rows.values()), STAYS, "Stays, with the initials in place of the name.")] if rows else []


def _split(db: Database, kind: Kind, rows: list[Row], today: date) -> tuple[list[Row], dict[str, list[Row]]]:
    """The records that a purge takes, and those that stay by the day until which they do."""
    if kind.kept_until is None:
        return rows, {}
    by, column = kind.kept_until
    untils = values_of_records(db, kind.refs[by], column, {row[by] for row in rows if row[by]})
    taken, kept = [], dict[str, list[Row]]()
    for row in rows:
        until = untils.get(row[by])
        if until is not None and until < today.isoformat():
            taken.append(row)
        else:
            words = "a lead says until when" if until is None else day_words(date.fromisoformat(until), year=True)
            kept.setdefault(words, []).append(row)
    return taken, kept


def _in_tray(db: Database, catalogue: Catalogue, people: set[str], known: set[tuple[str, str]]) -> list[tuple[str, str]]:
    """The records that stand in held lines alone and are about these people."""
    found = set[tuple[str, str]]()
    for (line,) in db.conn.execute("SELECT line FROM tray WHERE length(line) > 0"):
        said = said_in(line)
        kind = None if said is None else catalogue.kinds.get(said["t"])
        if said is None or kind is None or kind.of_person is None or kind.kept_until is not None or not isinstance(said.get("f"), dict):
            continue
        named_by = said["f"].get(kind.of_person)
        target = kind.refs[kind.of_person]
        whose = values_of_records(db, target, "person_id", {named_by}).get(named_by) if target != "person" and isinstance(named_by, str) else named_by
        if isinstance(whose, str) and whose in people:
            found.add((said["t"], said["r"]))
    return sorted(found - known)


def _names(db: Database, ids: list[str]) -> tuple[list[str], int]:
    """Every name that these people ever had, the newest first, and how many of the entries that say so have no random bits."""
    asked = json.dumps(ids)
    lines = db.conn.execute(
        "SELECT line FROM log WHERE kind = 'person' AND record_id IN (SELECT value FROM json_each(?)) ORDER BY seq DESC", (asked,)
    ).fetchall()
    entries = [said for said in map(said_in, (line for (line,) in lines)) if said is not None]
    names = dict.fromkeys(name for said in entries if isinstance(name := said["f"].get("display_name"), str) and name)
    return list(names), sum(said.get("k") is None for said in entries)
