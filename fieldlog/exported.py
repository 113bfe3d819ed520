"""
The file that a phone exports: its push bodies one after the other, taken by the same code as a sync.

For a phone whose browser died, or that had no signal for a week.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field

from sqlite_utils import Database

from fieldlog.access.devices import Device, add_device, device_of_id, device_of_lane
from fieldlog.errors import NotHere
from fieldlog.records.catalogue import Catalogue
from fieldlog.sync.log import read
from fieldlog.sync.receive import read_header, receive

ERRORS = {
    "gap": "starts after line {top}, the last that is here. Nothing of it was taken; the phone must sync itself.",
    "diverged": "does not continue what is here. Nothing of it was taken; the phone must sync itself.",
    "fork": "was continued by two phones. Nothing of it was taken; the phone must sync itself.",
}


@dataclass
class Took:
    """What became of a file's entries; `sentences` say why some were held or left."""

    lines: int = 0
    taken: int = 0
    held: int = 0
    known: int = 0
    sentences: list[str] = field(default_factory=list)


def take_exported(db: Database, data: bytes, catalogue: Catalogue, now_ms: int, file_name: str) -> Took:
    """
    Take every body of an exported file; each is a transaction of its own, and giving the file again changes nothing.

    Raises:
        BadHeader: the file does not begin with a header line.
    """
    took = Took()
    for body in bodies(data):
        _take(db, body, catalogue, now_ms, file_name, took)
    return took


def bodies(data: bytes) -> Iterator[bytes]:
    """The push bodies of a file; a body begins at each line that is a header."""
    body: list[bytes] = []
    # A file's last line counts even where an editor took its newline away.
    for line in data.rstrip(b"\n").split(b"\n"):
        if body and _is_header(line):
            yield b"\n".join([*body, b""])
            body = []
        body.append(line)
    yield b"\n".join([*body, b""])


def _is_header(line: bytes) -> bool:
    if b'"p":' not in line or b'"rid":' not in line:
        return False
    try:
        said = read(line)
    except (ValueError, RecursionError):
        return False
    return isinstance(said, dict) and "p" in said and "rid" in said


def _take(db: Database, body: bytes, catalogue: Catalogue, now_ms: int, file_name: str, took: Took) -> None:
    header = read_header(body.split(b"\n", 1)[0])
    device = _device(db, body, header.lane_id, file_name, now_ms)
    row = db.conn.execute("SELECT top FROM lane WHERE lane_id = ?", (header.lane_id,)).fetchone()
    top = 0 if row is None else row[0]
    reply = receive(db, body, catalogue, device, now_ms)
    took.lines += body.count(b"\n") - 1
    if reply["err"] is not None:
        took.sentences.append(f"Lane {header.lane_id} {ERRORS[reply['err']].format(top=top)}")
        return
    for number, _, verdict, *rest in reply["acks"]:
        if number <= top:
            took.known += 1
        elif verdict == "ok":
            took.taken += 1
        else:
            took.held += 1
            took.sentences.append(f"Line {number} is held: {rest[-1]}")


def _device(db: Database, body: bytes, lane_id: str, file_name: str, now_ms: int) -> Device:
    owner = device_of_lane(db, lane_id)
    if owner is not None:
        return owner
    said = read(body.split(b"\n", 1)[0]).get("device")
    if isinstance(said, str):
        with suppress(NotHere):
            return device_of_id(db, said)
    # A phone that never reached this server writes as crew does, whatever its role was.
    device, _ = add_device(db, "crew", None, f"File {file_name}", now_ms)
    return device
