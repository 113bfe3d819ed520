"""
Marks: whether what a pack is made of changed, kept beside the tables by triggers, so that no sync builds anything.

A part (a site, the tray, the devices) has a mark of random bits, drawn anew in the transaction that changes a row the part
is made of, whoever writes it. Random and not counted, so that a restored backup never says of other rows what it said before.
"""

from __future__ import annotations

import hashlib
import json
from datetime import date

from sqlite_utils import Database

from fieldlog.access.devices import Device, scope_of
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import setting

TRAY, DEVICES = "tray", "devices"
"""Parts that belong to no site; a site's part is named by its record id."""


def visits_of(site_id: str) -> str:
    """The part that a site's visits and sign-ins make, which only readers are given, so that a sign-in moves no other pack."""
    return f"{_VISITS}{site_id}"


_VISITS = "visits "

_SITE_OF = {
    **dict.fromkeys(("closure", "datum_offset", "row", "unit", "unit_check", "unit_event", "own_station", "survey", "site_tapes"), "{row}.site_id"),
    **dict.fromkeys(("visit", "sign_in"), f"'{_VISITS}' || {{row}}.site_id"),
    "site": "{row}.record_id",
    "flag": "iif({row}.subject_kind = 'site', {row}.subject_id, {row}.site_id)",
}
"""
The tables that a site's parts are made of, each with which site its row is of. No other table is asked: SQLite lets no table
take another's place while a trigger names it.
"""

_AFTER = ("AFTER INSERT", "AFTER UPDATE", "AFTER DELETE")
_WATCHED = {
    **dict.fromkeys(_SITE_OF, ("BEFORE INSERT", "BEFORE UPDATE", *_AFTER)),
    **dict.fromkeys(("survey", "site_tapes"), _AFTER),
    TRAY: _AFTER,
    "device": ("AFTER INSERT", "AFTER UPDATE OF role, sites, name, revoked_at, token_sha256, unconfirmed, person_id", "AFTER DELETE"),
    "lane": ("AFTER UPDATE OF device_id",),
}
"""
What is watched before a row is written is the site that it leaves: SQLite tells no trigger of a row that INSERT OR REPLACE
takes away. A contact alone, which writes when a device was last seen, changes no pack.
"""


def lay_marks(db: Database) -> None:
    """
    See that each table of a pack has its triggers, and draw every mark anew where one was missing. Must be called inside a `write`.

    A table that was dropped and made again lost its triggers, and nobody knows what was written to it meanwhile.
    """
    wanted = {
        "_".join(["pack", table, *when.lower().split()[:2]]): _trigger(table, when) for table, changes in _WATCHED.items() for when in changes
    }
    have = dict(db.conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'pack\\_%' ESCAPE '\\'"))
    for name in [name for name, sql in have.items() if f"CREATE TRIGGER {name} {wanted.get(name)}" != sql]:
        db.conn.execute(f"DROP TRIGGER {name}")
        del have[name]
    for name in wanted.keys() - have.keys():
        db.conn.execute(f"CREATE TRIGGER {name} {wanted[name]}")
    if len(have) < len(wanted):
        db.conn.execute("DELETE FROM pack_mark")
        of_sites = f"SELECT record_id, {_DRAWN} FROM site UNION ALL SELECT '{_VISITS}' || record_id, {_DRAWN} FROM site"
        db.conn.execute(f"INSERT INTO pack_mark {of_sites} UNION ALL VALUES (?, {_DRAWN}), (?, {_DRAWN})", (TRAY, DEVICES))


_DRAWN = "lower(hex(randomblob(8)))"


def _trigger(table: str, when: str) -> str:
    if table not in _SITE_OF:
        part, rows = f"'{TRAY if table in (TRAY, 'lane') else DEVICES}'", "WHERE TRUE"
    elif when in ("BEFORE INSERT", "BEFORE UPDATE"):
        key = {"flag": "flag_id", "own_station": "station_id"}.get(table, "record_id")
        part, after = _SITE_OF[table].format(row="was"), _SITE_OF[table].format(row="NEW")
        rows = f"FROM {table} AS was WHERE was.{key} = NEW.{key} AND {part} <> coalesce({after}, '')"
    else:
        part = _SITE_OF[table].format(row="OLD" if when == "AFTER DELETE" else "NEW")
        rows = f"WHERE {part} IS NOT NULL"
    return (
        f"{when} ON {table} BEGIN INSERT INTO pack_mark(part, mark) SELECT {part}, {_DRAWN} {rows} "
        "ON CONFLICT(part) DO UPDATE SET mark = excluded.mark; END"
    )


def mark_of(db: Database, part: str) -> str:
    """The mark of one part; empty where nothing was ever written to it."""
    row = db.conn.execute("SELECT mark FROM pack_mark WHERE part = ?", (part,)).fetchone()
    return "" if row is None else str(row[0])


def pack_tag(db: Database, catalogue: Catalogue, device: Device, day: date) -> str:
    """
    What tells one pack of a device from the next: 32 hex digits over all that it is made of.

    Args:
        day: the UTC day for which windows are computed.
    """
    apart = (TRAY, DEVICES) if device.role == "lead" else ()
    is_reader = device.role == "reader"
    if device.sites is None:
        visits = "" if is_reader else f"AND part NOT LIKE '{_VISITS}%'"
        shown = f"part NOT IN (SELECT value FROM json_each(?)) {visits}", sorted({TRAY, DEVICES} - set(apart))
    else:
        visited = {visits_of(site_id) for site_id in device.sites} if is_reader else set()
        shown = "part IN (SELECT value FROM json_each(?))", sorted({*device.sites, *visited, *apart})
    marks = db.conn.execute(f"SELECT part, mark FROM pack_mark WHERE {shown[0]} ORDER BY part", (json.dumps(shown[1]),)).fetchall()
    addresses = db.conn.execute(
        "SELECT site_id, secret_sha256 FROM calendar_address WHERE device_id = ? AND ended_at IS NULL ORDER BY site_id", (device.device_id,)
    ).fetchall()
    made_of = [catalogue.version, scope_of(device), day.isoformat(), setting(db, "programme_name"), marks, addresses]
    return hashlib.sha256(json.dumps(made_of).encode()).hexdigest()[:32]
