"""Whether the time of a record's moments was said, the same way in every kind whose records may come from a list that has days only."""

from __future__ import annotations

from fieldlog.records.fields import YesNo


def time_known() -> YesNo:
    """No where only the day is known: its moments then stand at noon of the site's clock, and say nothing of tide, hours or order within the day."""
    return YesNo("Time known", description="No: only the day is known, and its time is written as noon")
