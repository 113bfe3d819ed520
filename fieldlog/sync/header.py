"""The first line of a sync body: whose lane, from which number on, and how far its phone has read."""

from __future__ import annotations

from dataclasses import dataclass

from fieldlog.errors import BadHeader
from fieldlog.sync.log import is_id, is_lane_id, is_short_text, is_whole, read

PROTOCOL = 1


@dataclass(frozen=True)
class Header:
    """
    What a phone asks; `number` is the n of the line that follows, `key` what the lane's name is the hash of.

    `season`: a phone that has nothing would have this season first; `past`: how far back it has come since; `older`: it
    names the entries of both itself, so they travel as their lines alone. `purges`: it carries out itself what was purged.
    """

    request_id: str
    lane_id: str
    key: str | None
    number: int
    previous: str
    mine: int
    cursor: tuple[int, str] | None
    want: int
    now_ms: int
    app: str | None
    person_id: str | None
    season: bool = False
    past: int | None = None
    older: bool = False
    purges: bool = False


def read_header(line: bytes) -> Header:
    """
    The header in a body's first line.

    Raises:
        BadHeader: it is not JSON, or a member is missing or of the wrong shape.
    """
    try:
        said = read(line)
    except (ValueError, RecursionError):
        said = None
    if not isinstance(said, dict):
        raise BadHeader("The sync body does not begin with a header line in JSON. Update the app; nothing is lost.")
    cursor = said.get("cursor")
    rules = {
        "p": said.get("p") == PROTOCOL,
        "rid": isinstance(said.get("rid"), str) and 1 <= len(said["rid"]) <= 64,
        "d": is_lane_id(said.get("d")),
        "key": said.get("key") is None or is_id(said["key"]),
        "from": is_whole(said.get("from")) and said["from"] >= 1,
        "prev": said.get("prev") == "" or is_id(said.get("prev")),
        "mine": is_whole(said.get("mine")),
        "cursor": cursor is None
        or (isinstance(cursor, list) and len(cursor) == 2 and is_whole(cursor[0]) and (cursor[1] == "" or is_id(cursor[1]))),
        "want": is_whole(said.get("want", 500)),
        "now": is_whole(said.get("now")),
        "app": is_short_text(said.get("app")),
        "person": is_short_text(said.get("person")),
        "season": said.get("season", False) in (True, False),
        "past": said.get("past") is None or is_whole(said["past"]),
        "older": said.get("older", False) in (True, False),
        "purges": said.get("purges", False) in (True, False),
    }
    wrong = [name for name, right in rules.items() if not right]
    if wrong:
        raise BadHeader(
            f"The sync header's {', '.join(wrong)} cannot be read. Update the app; nothing is lost.",
            dict.fromkeys(wrong, "missing or of the wrong shape"),
        )
    return Header(
        said["rid"], said["d"], said.get("key"), said["from"], said["prev"], said["mine"],
        None if cursor is None else (cursor[0], cursor[1]), said.get("want", 500), said["now"], said.get("app"),
        said.get("person"), said.get("season", False), said.get("past"), said.get("older", False),
        said.get("purges", False),
    )  # fmt: skip
