"""
The file that a phone exports: its push bodies one after the other, taken by the same code as a sync.

For a phone whose browser died, or that had no signal for a week. A lane whose key the file shows is judged by the device that
holds it. A lane that has a key is not taken from a file without it. A lane of an older phone has none: whatever device the file
names, and whosever the lane is, the file writes there as a device of its own, a crew of one site.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from sqlite_utils import Database

from fieldlog.access.devices import Device, add_device, device_of_lane
from fieldlog.errors import BadRequest
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import write
from fieldlog.sync.header import Header, read_header
from fieldlog.sync.lanes import KEYED, lane_name
from fieldlog.sync.log import read
from fieldlog.sync.receive import receive

ERRORS = {
    "gap": "starts after line {top}, the last one here. Nothing from it was stored: the phone must sync itself.",
    "diverged": "does not continue what is here. Nothing from it was stored: the phone must sync itself.",
    "fork": "was continued by two phones, or the file has no key for it. The rest was not stored: the phone must sync itself.",
}


@dataclass
class Took:
    """What became of a file's entries; `sentences` say why some were held or left."""

    lines: int = 0
    taken: int = 0
    held: int = 0
    known: int = 0
    sentences: list[str] = field(default_factory=list)


def take_exported(db: Database, data: bytes, catalogue: Catalogue, now_ms: int, file_name: str, site_id: str | None) -> Took:
    """
    Take every body of an exported file; giving the file again changes nothing.

    Args:
        site_id: the site that what proves nothing is written to, as its crew; None where nobody said which.

    Raises:
        BadHeader: the file does not begin with a header line.
        BadRequest: it proves nothing, and no site was named.
    """
    took = Took()
    file = _File(db, file_name, site_id, now_ms)
    for body in bodies(data):
        _take(db, body, catalogue, now_ms, file, took)
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


class _File:
    """Who writes by a file: what of it proves nothing is written by one device, made with the first line of that kind that is new."""

    def __init__(self, db: Database, name: str, site_id: str | None, now_ms: int) -> None:
        self._db = db
        self._name = name
        self._site_id = site_id
        self._now_ms = now_ms
        self._device: Device | None = None

    def sender(self, header: Header, has_new: bool) -> Device | None:
        """
        The device by whose rights a body is judged, None where its lane has a key that the file lacks.

        Raises:
            BadRequest: the body proves nothing, and no site was named.
        """
        holder = device_of_lane(self._db, header.lane_id)
        if header.lane_id.startswith(KEYED):
            if header.key is None or lane_name(header.key) != header.lane_id:
                return None
            if holder is not None:
                return holder
        if self._site_id is None:
            raise BadRequest("The file does not show who wrote it, so it counts as a crew's, of one site. Say which: --site NAME")
        file = self._crew(frozenset([self._site_id]), has_new)
        if holder is None or holder.device_id == file.device_id:
            return file
        return replace(file, revoked=holder.revoked, unconfirmed=holder.unconfirmed, continues=header.lane_id)

    def _crew(self, here: frozenset[str], is_stored: bool) -> Device:
        if self._device is not None or not is_stored:
            return self._device or Device("", "crew", here, None, revoked=False)
        with write(self._db):
            self._device, _ = add_device(self._db, "crew", here, f"File {self._name}", self._now_ms)
        return self._device


def _take(db: Database, body: bytes, catalogue: Catalogue, now_ms: int, file: _File, took: Took) -> None:
    header, lines = read_header(body.split(b"\n", 1)[0]), body.count(b"\n") - 1
    row = db.conn.execute("SELECT top FROM lane WHERE lane_id = ?", (header.lane_id,)).fetchone()
    top = 0 if row is None else row[0]
    took.lines += lines
    device = file.sender(header, header.number + lines - 1 > top)
    if device is None:
        took.sentences.append(f"Lane {header.lane_id} {ERRORS['fork']}")
        return
    reply = receive(db, body, catalogue, lambda: device, lambda: now_ms)
    if reply["err"] is not None:
        took.sentences.append(f"Lane {header.lane_id} {ERRORS[reply['err']].format(top=top)}")
    for number, _, verdict, *rest in reply["acks"]:
        if number <= top:
            took.known += 1
        elif verdict == "ok":
            took.taken += 1
        else:
            took.held += 1
            took.sentences.append(f"Line {number} is held back: {rest[-1]}")
