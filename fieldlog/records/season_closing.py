"""
How far a site's season is closed, and what its leads leave to the next ones. A closing that was begun can be gone on with by any lead.

It names no person: contacts are those of roles, which outlast whoever has them.
"""

from __future__ import annotations

from fieldlog.records.fields import Date, Text, Whole, YesNo
from fieldlog.records.kind import Kind, Record


class SeasonClosing(Record):
    season_year = Whole("Season", least=2000, most=2200, required=True)
    people_done = YesNo("Everyone who leaves was named")
    open_done = YesNo("What is open was looked at")
    methods_done = YesNo("Methods were noted")
    role_contacts = Text(
        "Contacts, a line each", 2000, description="A role and how to reach it, such as: Harbor office, 555 0142. No person's name or own number"
    )  # fmt: skip
    word = Text("What the next leads should know", 2000, description="Keys, permits and their dates, tools, what to do first")
    closed_on = Date("Closed on")


SEASON_CLOSING = Kind("season_closing", "Closing of a season", SeasonClosing, writers={"lead"}, privacy="crew")
