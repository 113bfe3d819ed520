"""The command says of an allowance what the record showed and what was added to it."""

from __future__ import annotations

from fieldlog.commands.water_level import _allowance


def test_an_allowance_is_printed_with_what_the_record_showed_and_what_was_added() -> None:
    parts = {"shown_m": 0.22, "more_m": 0.13, "days": 90, "is_floor": False, "is_season_known": True, "is_year": False}
    said = _allowance({"allowance": parts, "allowance_m": 0.35, "basis": "meant for at most 1 low in 20."})
    assert said == "Allowance 0.35 m (0.22 m shown in 90 days, 0.13 m added for what they do not show), meant for at most 1 low in 20."
