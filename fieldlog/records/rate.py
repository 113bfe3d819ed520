"""What an hour, or a mile, of unpaid work is counted as, and where that comes from. No rate comes with the program."""

from __future__ import annotations

from fieldlog.records.fields import Choice, Number, Text, Whole
from fieldlog.records.kind import Kind, Record
from fieldlog.records.person import PERSON_ROLES
from fieldlog.records.sign_in import TASKS

VALUED_ROLES = {role: PERSON_ROLES[role] for role in ("volunteer", "leader")}
"""Whose hours may have a value. Students' and staff's have none here: course credit and pay are no volunteers' match (common practice, no source)."""

RATE_PER = {"hour": "An hour", "mile": "A mile"}


class Rate(Record):
    name = Text("Name", 80, required=True, description="Such as Volunteers 2026, carrying")
    rate_year = Whole("Year of the work", least=1990, most=2200, required=True)
    rate_per = Choice("For", RATE_PER, required=True)
    rate_role = Choice("Role", VALUED_ROLES, description="A leader who is paid signs in as staff. Empty: either")
    task = Choice("Task", TASKS, description="Empty: every task without a rate of its own")
    amount = Number("Amount", least=0, most=100_000, plausible=(0.05, 500), required=True)
    currency = Text("Currency", 3, required=True, description="Three letters, such as USD")
    basis = Text(
        "Where it comes from", 500, required=True,
        description="What you pay for similar work, what the local labor market pays, or a published value with its source and year",
    )  # fmt: skip


RATE = Kind("rate", "Rate", Rate, privacy="crew", writers={"lead"})
