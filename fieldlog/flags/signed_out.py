"""Nobody vanishes: who came in on an earlier tide and has neither a time out nor a reason for none."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.days import day_words
from fieldlog.flags.flag import ACT, About, Found, read_rule
from fieldlog.instants import written
from fieldlog.questions.visits import never_signed_out
from fieldlog.shown_names import named

TURN = timedelta(hours=16)
"""Nobody is on the shore for longer than this, and no visit lasts longer: two low tides and the high between. The phone has the same in visits.js."""


NOT_SIGNED_OUT = About("Not signed out", "ask", "a sign-out time, or a reason for none")


@read_rule("not_signed_out", NOT_SIGNED_OUT)
def not_signed_out(
    sign_in_id: str, name: str | None, in_at: str, zone: str | None, now: datetime, visit_at: str | None = None
) -> Found | None:  # fmt: skip
    """
    Somebody without a time out since an earlier tide. It depends on now, so it is found when it is read and never stored.

    Args:
        in_at: when they came in, UTC text.
        zone: the site's time zone.
        now: aware.
        visit_at: when their visit was started, UTC text. With it ends the alarm for them, so they are told of from then on at the latest.
    """
    came = datetime.fromisoformat(in_at)
    left = min(came, datetime.fromisoformat(visit_at or in_at)) + TURN
    if left > now:
        return None
    at = came.astimezone(ZoneInfo(zone or "UTC"))
    said = f"{named(name)}: not signed out. In since {day_words(at, year=True)}, {at:%H:%M}. Ask, then give a time or a reason under People."
    return Found(ACT, said, {"in_at": in_at}, written(left), sign_in_id)


def left_out(db: Database, site_id: str, now: datetime) -> Iterator[Found]:
    """Everyone of a site who was never signed out, the longest first."""
    for sign_in_id, name, in_at, zone, visit_at in never_signed_out(db, site_id):
        found = not_signed_out(sign_in_id, name, in_at, zone, now, visit_at)
        if found is not None:
            yield found
