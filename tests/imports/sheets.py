"""Sheets as tests write them: read as the child reads them, looked at and tried against a programme."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlite_utils import Database

from fieldlog.imports.looking import look
from fieldlog.imports.mapping import settled
from fieldlog.imports.reading import work
from fieldlog.imports.trying import entries_in, try_sheet
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme


class Sheet:
    """A file's first steps: `said` is its mapping so far."""

    def __init__(self, programme: Programme, folder: Path, data: bytes | str, site_id: str | None, **said: Any) -> None:
        self.programme, self.folder, self.site_id = programme, folder / "sheet", site_id
        self.folder.mkdir(exist_ok=True)
        (self.folder / "file").write_bytes(data.encode() if isinstance(data, str) else data)
        self.sheets = work({"file": str(self.folder / "file"), "into": str(self.folder)}, lambda _step: None)
        self.look(**said)

    @property
    def db(self) -> Database:
        return self.programme.db()

    def look(self, **said: Any) -> dict[str, Any]:
        self.looked = look(self.db, CATALOGUE, self.folder, self.sheets, said, self.site_id, None)
        self.said: dict[str, Any] = self.looked["mapping"]
        return self.looked

    def fields(self) -> dict[str, str | None]:
        return {header: column["field"] for header, column in self.said["columns"].items()}

    def asked(self) -> list[tuple[str, str]]:
        return [(question["column"], question["ask"]) for question in self.looked["questions"]]

    def question(self, about: str) -> dict[str, Any]:
        return next(question for question in self.looked["questions"] if question["about"] == about)

    def answer(self, about: str, label: str) -> None:
        """Settle a question by the answer that begins with these words."""
        chosen = next(answer for answer in self.question(about)["answers"] if answer["label"].startswith(label))
        self.look(**settled(self.said, chosen["sets"]))

    def set(self, path: list[str], value: Any) -> None:
        self.look(**settled(self.said, [{"path": path, "value": value}]))

    def tried(self, latest: str | None = None) -> dict[str, Any]:
        sheet = next(sheet for sheet in self.sheets if sheet["name"] == self.said.get("sheet", ""))
        job = {
            "database": str(self.programme.path), "folder": str(self.folder), "sheet": sheet, "others": [one for one in self.sheets if one is not sheet],
            "mapping": self.said, "site_id": self.site_id, "sites": None, "seed": "test", "latest": latest,
        }  # fmt: skip
        return try_sheet(CATALOGUE, job, lambda _step: None)

    def entries(self) -> list[dict[str, Any]]:
        return list(entries_in(self.folder))
