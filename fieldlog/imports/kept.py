"""
Uploads that are being brought in, each a folder beside the database: the file, its rows, what is to be fixed. No backup and no replica has them.

What was uploaded may hold contacts, so a folder goes when all of its sheets were taken or it was dropped, and after a day whatever became of it.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
from collections.abc import Callable, Iterator
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device, add_device, device_of_id, sites_json
from fieldlog.apostrophes import guarded
from fieldlog.child import Tell, run
from fieldlog.errors import BadTable, FieldlogError, NotHere
from fieldlog.imports.limits import MOST_BYTES, READING_S, too_many_bytes
from fieldlog.imports.looking import likeliest, look
from fieldlog.imports.mapping import long_columns, mapping_of
from fieldlog.imports.taking import Begun, Taken, take
from fieldlog.imports.trying import TO_MEND
from fieldlog.instants import written
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.names import name_for
from fieldlog.store import Programme, write

DAY_MS = 24 * 3600 * 1000
FOLDER, ABOUT, FILE = "imports", "about.json", "file"
PIECE_BYTES = 1024 * 1024
TRYING_S = 600.0
READING_CHILD, TRYING_CHILD = "fieldlog.imports.reading", "fieldlog.imports.trying"

READ, TRYING, TRIED, TAKING, TAKEN, FAILED = "read", "trying", "tried", "taking", "taken", "failed"
"""How far an upload is."""

COMMANDS = "Imports by command"
"""What the device of the command line is called in the list of devices."""

_ID = re.compile("[0-9a-f]{32}")


class Upload:
    """One upload: its folder, and what is noted of it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.about: dict[str, Any] = json.loads((folder / ABOUT).read_text("utf-8"))

    @property
    def upload_id(self) -> str:
        """Its name, 32 hex digits."""
        return self.folder.name

    def is_of(self, device: Device) -> bool:
        """Whether a device chose it, with the rights that it has now."""
        return bool(self.about["device_id"] == device.device_id and self.about["sites"] == (None if device.sites is None else sorted(device.sites)))

    def note(self, **said: Any) -> None:
        """Keep what is to be noted; the whole of it stands on disk or nothing new does."""
        self.about |= said
        part = self.folder / f"{ABOUT}.part"
        part.write_text(json.dumps(self.about, ensure_ascii=False), "utf-8")
        part.replace(self.folder / ABOUT)

    @property
    def sheets_left(self) -> list[dict[str, Any]]:
        """The sheets with rows that were not taken yet."""
        taken = self.about.get("taken_sheets", [])
        return [sheet for sheet in self.about["sheets"] if sheet["rows"] and sheet["name"] not in taken]

    def sheet(self, name: str) -> tuple[dict[str, Any], list[dict[str, Any]]]:
        """A sheet as the reading child told of it, and the others."""
        sheets: list[dict[str, Any]] = self.about["sheets"]
        found = next((sheet for sheet in sheets if sheet["name"] == name), sheets[0])
        return found, [sheet for sheet in sheets if sheet is not found]


def begin(
    programme: Programme, device: Device, site_id: str | None, name: str, pieces: Iterator[bytes], now_ms: int
) -> Upload:  # fmt: skip
    """
    Read a file and keep it for a day, until it is taken or dropped. A file that is refused leaves nothing behind.

    Args:
        device: the lead's, who alone sees it.
        site_id: the site that its rows are of; None where rows say it, or the kind has none.
        pieces: the file's bytes.

    Raises:
        TooLarge: it has more bytes than the limit.
        WorkFailed: it cannot be read, or has more rows than the limit.
    """
    folder = programme.folder / FOLDER / secrets.token_hex(16)
    folder.mkdir(parents=True, mode=0o700)
    try:
        _store(folder / FILE, pieces)
        sheets = run(READING_CHILD, {"file": str(folder / FILE), "into": str(folder)}, patience_s=READING_S)
        about = {
            "name": name[:120], "device_id": device.device_id, "sites": None if device.sites is None else sorted(device.sites), "site_id": site_id,
            "made_at": now_ms, "sheets": sheets, "state": READ, "step": None, "fault": None, "seed": secrets.token_hex(16),
        }  # fmt: skip
        (folder / ABOUT).write_text(json.dumps(about, ensure_ascii=False), "utf-8")
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return Upload(folder)


def _store(path: Path, pieces: Iterator[bytes]) -> None:
    total = 0
    with path.open("wb") as file:
        for piece in pieces:
            total += len(piece)
            if total > MOST_BYTES:
                raise too_many_bytes(total)
            file.write(piece)


def upload_of(programme: Programme, device: Device, upload_id: str) -> Upload:
    """
    An upload of a device.

    Raises:
        NotHere: there is none, it is another device's, or the device may not see now what it might when it chose the file.
    """
    folder = programme.folder / FOLDER / upload_id
    if _ID.fullmatch(upload_id) and (folder / ABOUT).is_file():
        upload = Upload(folder)
        if upload.is_of(device):
            return upload
    raise NotHere("This file is here no longer: it was imported or dropped, or a day is over. Choose the file again.")


def uploads(programme: Programme) -> list[Upload]:
    """All uploads, whoever's, oldest first."""
    folders = [path.parent for path in (programme.folder / FOLDER).glob(f"*/{ABOUT}")]
    return sorted((Upload(folder) for folder in folders), key=lambda upload: (upload.about["made_at"], upload.upload_id))


def looked(db: Database, catalogue: Catalogue, upload: Upload, said: dict[str, Any]) -> dict[str, Any]:
    """How an upload would be read, as far as somebody said; a mapping that is whole is kept with it."""
    sites = upload.about["sites"]
    if said.get("sheet") is None and upload.sheets_left:
        said = {**said, "sheet": likeliest(upload.sheets_left, catalogue.kinds.get(str(said.get("kind"))))["name"]}
    found = look(db, catalogue, upload.folder, upload.about["sheets"], said, upload.about["site_id"], None if sites is None else frozenset(sites))
    upload.note(mapping=found["mapping"], open=len(found["questions"]))
    return found


def check_is_settled(upload: Upload) -> None:
    """
    Look whether an upload can be tried.

    Raises:
        BadTable: something is open still.
    """
    if upload.about.get("mapping") is None or upload.about["open"]:
        raise BadTable("Something about the columns is still open. Answer it first, then try it.")


def try_upload(programme: Programme, upload: Upload, tell: Tell = lambda _step: None) -> dict[str, Any]:
    """
    Try an upload as its mapping says. Nothing is stored.

    Raises:
        BadTable: something is open still.
        WorkFailed: it could not be tried.
    """
    check_is_settled(upload)
    sheet, others = upload.sheet(upload.about["mapping"].get("sheet", ""))
    job = {
        "database": str(programme.path), "folder": str(upload.folder), "sheet": sheet, "others": others, "mapping": upload.about["mapping"],
        "site_id": upload.about["site_id"], "sites": upload.about["sites"], "seed": upload.about["seed"],
        # Where only a day is known noon is written, so today's may still be to come.
        "latest": written(datetime.fromtimestamp((upload.about["made_at"] + DAY_MS) / 1000, UTC)),
    }  # fmt: skip

    def step(name: str) -> None:
        upload.note(step=name)
        tell(name)

    upload.note(state=TRYING, step=None, fault=None, result=None)
    try:
        result: dict[str, Any] = run(TRYING_CHILD, job, step, patience_s=TRYING_S)
    except FieldlogError as fault:
        upload.note(state=READ, step=None, fault=fault.sentence)
        raise
    upload.note(state=TRIED, step=None, result=result)
    return result


def begin_taking(upload: Upload, now_ms: int) -> Begun:
    """
    Note that an upload is being taken; from here on it is, also by a server that is started again.

    Raises:
        BadTable: it was not tried, or no row of it is good.
    """
    result = upload.about.get("result")
    if upload.about["state"] != TRIED or not result or not result["good"]:
        raise BadTable("No row of this file can be imported yet. Try it first, and fix what it says.")
    site_id, sheet = upload.about["site_id"], upload.about["mapping"].get("sheet", "")
    name = f"{upload.about['name'][:90]}, {sheet[:29]}" if len(upload.about["sheets"]) > 1 else upload.about["name"]
    begun = Begun(
        name_for(site_id, f"import|{upload.about['seed']}"), secrets.token_hex(16), now_ms, site_id, name,
        upload.about["mapping"]["kind"], result["good"] + sum(result["made"].values()),
    )  # fmt: skip
    upload.note(state=TAKING, step=None, begun=asdict(begun))
    return begun


def take_upload(
    programme: Programme, catalogue: Catalogue, upload: Upload, now_ms: Callable[[], int], tell: Tell = lambda _step: None
) -> Taken:  # fmt: skip
    """Take the sheet of an upload whose taking was begun, from where it is; after the last sheet nothing of what was uploaded is left."""
    db = programme.db()

    def step(name: str) -> None:
        upload.note(step=name)
        tell(name)

    taken = take(db, catalogue, Begun(**upload.about["begun"]), upload.folder, lambda: device_of_id(db, upload.about["device_id"]), now_ms, step)
    sheet, _ = upload.sheet(upload.about["mapping"].get("sheet", ""))
    # The next sheet is an import of its own, whose records have names of their own.
    taken_sheets = [*upload.about.get("taken_sheets", []), sheet["name"]]
    upload.note(taken_sheets=taken_sheets, state=READ, step=None, begun=None, result=None, mapping=None, seed=secrets.token_hex(16))
    if not upload.sheets_left:
        shutil.rmtree(upload.folder)
    return taken


def device_of_commands(db: Database, now_ms: int) -> Device:
    """The device by whose rights the command line imports: a lead of all, made at the first time; who ends its access gets another."""
    row = db.conn.execute(
        "SELECT device_id FROM device WHERE name = ? AND role = 'lead' AND sites IS NULL AND revoked_at IS NULL AND unconfirmed = 0", (COMMANDS,)
    ).fetchone()
    if row is not None:
        return device_of_id(db, row[0])
    with write(db):
        return add_device(db, "lead", None, COMMANDS, now_ms)[0]


def drop(upload: Upload) -> None:
    """
    Forget an upload.

    Raises:
        BadTable: it is being taken.
    """
    if upload.about["state"] == TAKING:
        raise BadTable("This file is being imported. Wait until it is, then remove the import as a whole.")
    shutil.rmtree(upload.folder, ignore_errors=True)


def tend_uploads(programme: Programme, now_ms: int) -> None:
    """Forget uploads that are a day old, and what was left of files that could not be read; one that is being taken is taken first."""
    for upload in uploads(programme):
        if upload.about["state"] != TAKING and not 0 <= now_ms - upload.about["made_at"] < DAY_MS:
            shutil.rmtree(upload.folder, ignore_errors=True)
    for folder in (programme.folder / FOLDER).glob("*"):
        if not (folder / ABOUT).exists() and now_ms - folder.stat().st_mtime * 1000 >= DAY_MS:
            shutil.rmtree(folder, ignore_errors=True)


def rows_to_fix(upload: Upload) -> Iterator[str]:
    """The rows that need fixing as lines of a CSV, each with its number in the file and what is wrong: to be edited and chosen again."""
    columns = list(long_columns(mapping_of(upload.about["mapping"])))
    yield _line(["Row", *columns, "What to fix"])
    with (upload.folder / TO_MEND).open("rb") as lines:
        for line in lines:
            row = json.loads(line)
            yield _line([str(row["row"]), *(row["cells"].get(name, "") for name in columns), " ".join(row["sentences"])])


def _line(texts: list[str]) -> str:
    return ",".join(f'"{_guarded(text).replace(chr(34), chr(34) * 2)}"' for text in texts) + "\r\n"


def _guarded(text: str) -> str:
    """A text that no spreadsheet program runs; a number as it is."""
    return text if re.fullmatch(r"[+-]?[0-9.,]+", text) else guarded(text)


def keep_mapping(db: Database, site_id: str | None, name: str, said: Any, now_ms: int) -> None:
    """
    Keep how a sheet is read, by name; one of the same name and site is replaced. It holds texts of cells, so it is the site's.

    Raises:
        BadTable: the name shows nothing or is too long, or it is no mapping.
    """
    if not 1 <= len(name.strip()) <= 80:
        raise BadTable("Give these choices a name of up to 80 letters.")
    mapping = mapping_of(said)
    with write(db):
        db.execute(
            "INSERT OR REPLACE INTO import_mapping(site_id, name, kind, mapping, kept_at) VALUES (?, ?, ?, ?, ?)",
            [site_id or "", name.strip(), mapping.kind, json.dumps(said, ensure_ascii=False), now_ms],
        )


def kept_mappings(db: Database, sites: frozenset[str] | None) -> list[dict[str, Any]]:
    """The mappings that were kept at these sites, None is all and the whole programme's; the newest first: name, kind, mapping, site_id."""
    rows = db.query(
        "SELECT name, kind, mapping, site_id FROM import_mapping WHERE :sites IS NULL OR site_id IN (SELECT value FROM json_each(:sites)) ORDER BY kept_at DESC, name",
        {"sites": sites_json(sites)},
    )
    return [{**row, "mapping": json.loads(row["mapping"]), "site_id": row["site_id"] or None} for row in rows]


def drop_mapping(db: Database, site_id: str | None, name: str) -> None:
    """Forget a mapping that was kept."""
    with write(db):
        db.execute("DELETE FROM import_mapping WHERE site_id = ? AND name = ?", [site_id or "", name])
