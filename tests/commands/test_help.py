"""The list of commands, and what is said to a call that cannot be understood."""

from __future__ import annotations

import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from fieldlog.__main__ import COMMANDS, function_of

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_says_of_each_command_what_its_own_help_says(call, name: str) -> None:
    module, sentence = COMMANDS[name]
    command = getattr(import_module(f"fieldlog.commands.{module}"), function_of(name))
    assert command.get_short_help_str(200).rstrip(".") == sentence.rstrip(".")
    assert sentence in call("--help").out
    assert call(name, "--help").status == 0


def test_help_loads_no_command() -> None:
    """So that it answers at once: nothing heavy is imported."""
    asked = "import sys; from fieldlog.__main__ import main\ntry: main(['--help'])\nexcept SystemExit: pass\n"
    asked += "print('LOADED', sorted(name for name in sys.modules if name in ('numpy', 'flask', 'marshmallow', 'ephem', 'PIL')))"
    said = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True, cwd=ROOT)
    assert "LOADED []" in said.stdout


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["sail"], "No such command"),
        (["flags"], "Name the data folder"),
        (["tide", "noaa/8443970", "--from", "2026-01-01T00:00Z", "--to", "2026-01-02T00:00Z"], "either --extremes or --step"),
        (["tide", "noaa/8443970", "--from", "2026-01-01", "--to", "2026-01-02T00:00Z", "--extremes"], "has no time zone"),
        (["tide", "noaa/8443970", "--from", "2026-01-02T00:00Z", "--to", "2026-01-01T00:00Z", "--extremes"], "is before --from"),
        (["tide", "noaa/8443970", "--from", "yesterday", "--to", "2026-01-01T00:00Z", "--extremes"], "is not a time"),
        (["tide", "noaa/8443970", "--from", "2026-01-01T00:00Z", "--to", "2026-01-02T00:00Z", "--step", "0m"], "is not a step"),
        (["tide", "noaa/8443970", "--from", "2026-01-01T00:00Z", "--to", "2036-01-02T00:00Z", "--step", "1s"], "levels"),
        (["tide", "Nowhere Sound", "--from", "2026-01-01T00:00Z", "--to", "2026-01-02T00:00Z", "--extremes"], "No tide station"),
        (["tide", "noaa/8443970", "--from", "2126-01-01T00:00Z", "--to", "2126-01-02T00:00Z", "--extremes"], "before 2100"),
        (["stations", "--near", "here"], "is not a place"),
        (["stations", "--near", "95,0"], "Latitude is between"),
        (["invite", "--role", "captain", "--data", "x"], "captain"),
    ],
)
def test_a_call_that_cannot_be_answered_ends_with_2_and_a_sentence(refused, arguments: list[str], word: str) -> None:
    assert word in refused(*arguments)


def test_a_tide_and_the_stations_near_are_one_json_document(call) -> None:
    span = ("--from", "2026-03-10T00:00Z", "--to", "2026-03-11T00:00Z")
    rows = call("tide", "Boston, MA", *span, "--extremes", "--json").document
    assert [row["kind"] for row in rows] in (["high", "low"] * 2, ["low", "high"] * 2, ["low", "high", "low"], ["high", "low", "high"])
    levels = call("--json", "tide", "noaa/8443970", *span, "--step", "6m").document
    assert len(levels) == 241
    near = call("stations", "--near", "42.35,-71.05", "--count", 3, "--json").document
    assert near[0]["id"] == "noaa/8443970"
    assert "Not for navigation" in call("tide", "Boston, MA", *span, "--extremes").out
