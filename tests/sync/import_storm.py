"""
A storm in which leads import files, take the imports back and restore them, while everyone goes on correcting what came with them.

An import is a lane that the server writes under a lead's device; whatever stops it, it goes on with the same lines.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from typing import Any

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import write
from fieldlog.sync.imported import is_turning, turn_some
from tests.sync.model_phone import ModelPhone, fold
from tests.sync.storm import FAULTS, Storm, random_ops
from tests.sync.storm_kinds import PRIVATE, fields_of

TAKEN, TURNED, CORRECTED, GONE_ON, FOLLOWED = 3, 24, 6, 12, 12
"""How many of each a schedule has."""

MOST_ROWS = 4
MOST_STEPS = 500
"""In which all rows follow, some at a time."""


def with_imports(seed: int, length: int) -> list[tuple[Any, ...]]:
    """A storm's schedule with imports drawn between, the same for the same seed; what the storm alone does stays as it is."""
    rnd = random.Random(f"imports {seed}")
    made = random_ops(seed, length)
    drawn: list[tuple[Any, ...]] = [
        *(("take", rnd.randrange(6), rnd.randint(1, MOST_ROWS)) for _ in range(TAKEN)),
        *(("turn_back", rnd.randrange(6), rnd.randrange(TAKEN), rnd.random() < 0.6) for _ in range(TURNED)),
        *(("correct", rnd.randrange(6), rnd.randrange(TAKEN), rnd.randrange(MOST_ROWS), rnd.randrange(4), rnd.random() < 0.2) for _ in range(CORRECTED)),
        *(("go_on", rnd.randrange(TAKEN), rnd.choice(FAULTS), rnd.randrange(800)) for _ in range(GONE_ON)),
        *(("follow",) for _ in range(FOLLOWED)),
    ]  # fmt: skip
    rnd.shuffle(drawn)
    # The first ones are soon, so that there is time for what becomes of them.
    for op in sorted(drawn, key=lambda op: op[0] != "take"):
        made.insert(rnd.randrange(length // 3) if op[0] == "take" else rnd.randrange(len(made)), op)
    return made


class ImportStorm(Storm):
    """A storm with imports: each a lane of its own, which no fault of a phone befalls."""

    other_kinds = tuple(CATALOGUE.kinds.values())
    """What tells of an import, and what its flags and marks ask for."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.imports: list[tuple[str, int, ModelPhone]] = []
        self.counted: Counter[str] = Counter()

    def take(self, number: int, rows: int) -> None:
        """A lead's try becomes a lane, whose lines are sent one time after the other."""
        if self.device(self.phone(number)).role != "lead":
            return
        import_id = f"import-{len(self.imports)}"
        hand = ModelPhone(self.rnd, lambda: self.now_ms, frozenset({PRIVATE}))
        self.devices[id(hand)] = self.device(self.phone(number))
        told = {"file_name": "summer.csv", "of_kind": "quadrat", "records_made": rows, "imported_at": "2026-11-26T14:04:00.000Z"}
        hand.edit("import", import_id, told)
        for place in range(rows):
            hand.edit("quadrat", f"{import_id}-{place}", fields_of("count", place), i=import_id)
        self.imports.append((import_id, rows, hand))

    def go_on(self, which: int, fault: str, where: int) -> None:
        if self.imports:
            self.sync_phone(self.imports[which % len(self.imports)][2], fault, where)

    def turn_back(self, number: int, which: int, is_removed: bool) -> None:
        """A lead who knows of an import removes it, or restores it."""
        phone = self.phone(number)
        if self.imports and self.device(phone).role == "lead":
            import_id = self.imports[which % len(self.imports)][0]
            if any(said["r"] == import_id for _, _, said in phone.entries()):
                phone.edit("import", import_id, {"_deleted": is_removed})
                self.counted["turned"] += 1

    def correct(self, number: int, which: int, place: int, value: int, is_removal: bool) -> None:
        """Somebody corrects a row, or a lead removes it, whether the import stands or not."""
        phone = self.phone(number)
        if self.imports:
            import_id, rows, _ = self.imports[which % len(self.imports)]
            record_id = f"{import_id}-{place % rows}"
            if any(said["r"] == record_id for _, _, said in phone.entries()):
                is_lead = self.device(phone).role == "lead"
                phone.edit("quadrat", record_id, {"_deleted": True} if is_removal and is_lead else fields_of("cover_pct", value))
                self.counted["corrected"] += 1

    def follow(self) -> None:
        """The server's own thread lets some rows follow their import."""
        with write(self.server.db):
            turn_some(self.server.db, self.server.catalogue)

    def calm(self) -> None:
        self.phones += [hand for _, _, hand in self.imports]
        super().calm()
        for _ in range(MOST_STEPS):
            if not is_turning(self.server.db):
                return
            self.follow()
        raise AssertionError("the rows do not come to follow their imports")


def check_imports(storm: ImportStorm) -> None:
    """A row that nobody changed since stands while its import does; every other one is a record of its own."""
    db = storm.server.db
    log = [(row[0], row[1], row[2]) for row in db.execute("SELECT entry_id, eff, line FROM log")]
    entries = [(entry_id, eff, json.loads(line)) for entry_id, eff, line in log]
    folded, written = fold(entries), Counter((said["t"], said["r"]) for _, _, said in entries)
    for record_id, deleted, import_id in db.execute("SELECT record_id, deleted, import_id FROM quadrat WHERE record_id LIKE 'import-%'").fetchall():
        is_untouched = written["quadrat", record_id] == 1
        of = next((said["i"] for _, _, said in entries if said["r"] == record_id and "i" in said), None)
        assert import_id == (of if is_untouched else None), record_id
        cell = ("import", of, "_deleted") if is_untouched and of else ("quadrat", record_id, "_deleted")
        assert bool(deleted) == bool(folded.get(cell, (False,))[0]), record_id
        storm.counted["followed" if is_untouched and deleted else "stood"] += 1
