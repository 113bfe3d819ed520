"""
Who may read and write, said a second time from outside: by people, not by lanes and tokens.

The watcher looks at what each slice wrote and at each answer that goes out.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

WRITERS = {
    "sighting": ("crew", "lead"), "unit_check": ("crew", "lead"), "person": ("crew", "desk", "lead"), "site": ("lead",),
    "sign_in_private": ("desk", "lead"), "person_private": ("desk", "lead"), "species": ("lead",), "unit": ("lead",),
    "flag_decision": ("lead",),
}  # fmt: skip
READERS = {
    **dict.fromkeys(("sighting", "unit_check", "site", "species", "unit", "flag_decision"), ("reader", "crew", "desk", "lead")),
    "person": ("crew", "desk", "lead"), "sign_in_private": ("lead",), "person_private": ("lead",),
}  # fmt: skip
PRIVATE = ("sign_in_private", "person_private")
MADE_OF = {
    "sighting": ("found", "seen_at"), "unit_check": ("unit_id", "checked_at", "found_state"), "person": ("display_name",),
    "sign_in_private": ("sign_in_id",), "person_private": ("person_id",), "species": ("scientific_name",),
    "unit": ("tag", "row_id", "slot_number"), "flag_decision": ("flag_id", "decision", "reason", "decided_at"),
    "site": ("name", "lat_deg", "lon_deg", "zone", "tide_station", "level_datum", "work_level_m", "route_low_level_m",
             "walk_out_min", "muster_min", "least_usable_min"),
}  # fmt: skip


CAREFUL = {"minor": True, "waiver_valid": False}


@dataclass(frozen=True)
class Rights:
    """What a person's device was given; `person` is whoever holds it."""

    person: Any
    role: str
    sites: list[str] | None
    revoked: bool = False

    def at(self, site: str | None) -> bool:
        return self.sites is None or site in self.sites


class Watcher:
    """Looks at a storm's database after each slice."""

    def __init__(self, storm: Any) -> None:
        self.storm = storm
        self.seen = 0
        self.in_tray: set[tuple[str, int]] = set()
        self.solved: dict[tuple[str, int], str] = {}

    def of_others(self, lane: str, person: Any) -> bool:
        """A lane of somebody else; one of an older phone may be opened by others once a restore has lost it."""
        return self.storm.owner[lane] is not person and not (self.storm.restores and not lane.startswith("k-"))

    def look(self, device_id: str | None) -> None:
        """At all that was written since the last look, by this device or from the tray."""
        db = self.storm.db
        rows = db.execute(
            "SELECT seq, lane_id, number, kind, record_id, site_id, line FROM log WHERE seq > ? ORDER BY seq", (self.seen,)
        ).fetchall()
        for seq, lane, number, kind, record, site, line in rows:
            self.seen = seq
            self.storm.ever[lane, number] = line
            self.storm.told.add(lane)
            if record[14:15] == "8" or self.storm.restores:
                self.storm.guessable.add((kind, record))
            holder = device_id
            if (lane, number) in self.in_tray:
                (holder,) = db.execute("SELECT device_id FROM lane WHERE lane_id = ?", (lane,)).fetchone()
            assert holder is not None
            self.written(self.storm.rights[holder], lane, kind, record, site, json.loads(line), seq)
        self.in_tray = set(db.execute("SELECT lane_id, number FROM tray").fetchall())
        self.storm.told.update(lane for lane, _ in self.in_tray)
        self.hidden(device_id)

    def written(self, rights: Rights, lane: str, kind: str, record: str, site: str | None, said: dict[str, Any], seq: int) -> None:
        fields = said["f"]
        assert not rights.revoked, "a revoked device wrote"
        assert not self.of_others(lane, rights.person), "a lane of others was written to"
        assert rights.role in WRITERS[kind], f"{rights.role} wrote {kind}"
        assert rights.at(site), f"somebody of {rights.sites} wrote at {site}"
        assert site is not None or rights.role == "lead", "a line of the whole programme by no lead"
        assert kind not in PRIVATE or (said.get("k") and site is not None), "a private line that can be guessed, or of no site"
        assert kind != "site" or site == record
        digits = record.replace("-", "")
        if digits[12] == "8":
            assert hashlib.sha256(f"{site or ''}|{digits[:24]}".encode()).hexdigest()[:8] == digits[24:], "a name of another site"
        first_seq, first_site, first_lane = self.storm.db.execute(
            "SELECT seq, site_id, lane_id FROM log WHERE kind = ? AND record_id = ? ORDER BY seq LIMIT 1", (kind, record)
        ).fetchone()
        assert all(fields.get(name, "") is not None for name in MADE_OF[kind]), "something required was emptied"
        if first_seq == seq:
            assert all(name in fields for name in MADE_OF[kind]), "half a record was made"
            return
        assert kind == "site" or first_site == site, "a record moved"
        if rights.role == "crew" and kind == "person" and self.storm.makers.get(record) is not rights.person:
            before, after = self.known_of(record, seq - 1), self.known_of(record, seq)
            assert all(after[name] in (before[name], careful) for name, careful in CAREFUL.items()), "crew says that nobody is a minor, or signs"
        if "_deleted" in fields and rights.role != "lead":
            assert not self.of_others(first_lane, rights.person), "removed what others made"

    def known_of(self, person: str, seq: int) -> dict[str, Any]:
        """What the log up to a number says of somebody's age and waiver: of answers that stand against each other the careful one."""
        rows = self.storm.db.execute("SELECT entry_id, line FROM log WHERE kind = 'person' AND record_id = ? AND seq <= ?", (person, seq)).fetchall()
        said = {entry_id: json.loads(line) for entry_id, line in rows}
        known = {}
        for name, careful in CAREFUL.items():
            named = {base for one in said.values() if name in one["f"] for base in one.get("b", {}).get(name, [])}
            stand = [one["f"][name] for entry_id, one in said.items() if name in one["f"] and entry_id not in named]
            known[name] = next((answer for answer in (careful, None, not careful) if answer in stand), None)
        return known

    def hidden(self, device_id: str | None) -> None:
        """Held lines that an entry hides from the list: one's own, or those of devices that a lead covers."""
        for lane, number, by in self.storm.db.execute("SELECT lane_id, number, resolved_by FROM tray WHERE resolved_by IS NOT NULL").fetchall():
            if self.solved.get((lane, number)) == by:
                continue
            self.solved[lane, number] = by
            (author_lane,) = self.storm.db.execute("SELECT lane_id FROM log WHERE entry_id = ?", (by,)).fetchone()
            author_device, holder = (self.storm.db.execute("SELECT device_id FROM lane WHERE lane_id = ?", (one,)).fetchone()[0] for one in (author_lane, lane))
            rights, theirs = self.storm.rights[author_device], self.storm.rights[holder].sites
            covers = rights.sites is None or (theirs is not None and set(theirs) <= set(rights.sites))
            assert not self.of_others(lane, rights.person) or (rights.role == "lead" and covers), "hid what is not its own"

    def answered(self, rights: Rights, device_id: str, lane: str, reply: dict[str, Any], has_lines: bool) -> None:
        """At what comes down to a device."""
        numbers = [ack[0] for ack in reply["acks"]]
        assert numbers == list(range(numbers[0], numbers[0] + len(numbers))) if numbers else True, "receipts with gaps"
        for seq, _entry_id, _eff, text in reply["pull"]:
            assert not rights.revoked, "a revoked device was given something"
            if text is None:
                (of,) = self.storm.db.execute("SELECT lane_id FROM log WHERE seq = ?", (seq,)).fetchone()
                assert of == lane and not self.of_others(lane, rights.person), "told of a lane of others"
                continue
            said = json.loads(text)
            assert rights.role in READERS[said["t"]], f"{rights.role} was given {said['t']}"
            assert said["g"] is None or rights.at(said["g"]), f"somebody of {rights.sites} was given a line of {said['g']}"
        if self.of_others(lane, rights.person):
            assert not reply["acks"], "receipts for a lane of others"
            assert not has_lines or reply["err"] == "fork", "a lane of others took lines"
            assert not has_lines or self.storm.db.execute(
                "SELECT 1 FROM incident WHERE device_id = ? AND lane_id IN (?, ?)", (device_id, lane, "-")
            ).fetchone(), "an incident was not written down"  # fmt: skip
