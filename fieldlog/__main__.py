"""
The command line.

A command's module is loaded when the command is called, so that `fieldlog --help` answers at once. Every fault ends
here as one sentence on standard error and exit status 2.
"""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib import import_module
from keyword import iskeyword
from pathlib import Path

import click

from fieldlog import keep_pandas_out
from fieldlog.commands.asking import Asked, json_option
from fieldlog.commands.printable import say
from fieldlog.disk import named
from fieldlog.errors import FieldlogError

COMMANDS = {
    "demo": ("serving", "Build the demo if it is missing, and serve it."),
    "init": ("programme", "Make an empty program and the invitations of two leads."),
    "serve": ("serving", "Serve a program; back it up at start and every night."),
    "service": ("service", "Print a systemd unit and a Caddy file for this program."),
    "invite": ("programme", "Invite phones: a short code and a link, each with a role."),
    "replay": ("programme", "Rebuild every table from the log."),
    "doctor": ("programme", "Check a program or a backup, and say what to fix."),
    "backup": ("programme", "Back up the whole program into one checked file."),
    "restore": ("programme", "Restore a backup or a replica into the data folder."),
    "confirm": ("confirming", "Confirm a device after a restore, or list those waiting."),
    "import": ("importing", "Import a spreadsheet: CSV, XLSX or GeoJSON."),
    "ingest": ("programme", "Import a file that a phone exported."),
    "purge": ("purging", "Forget a person, or delete old contacts and medical notes."),
    "export": ("exporting", "Take a program's data out, in a form that other programs read."),
    "stations": ("tides", "List tide stations near a place."),
    "tide": ("tides", "Predict a station's highs and lows, or its level in steps."),
    "water-level": ("water_level", "Make a site's own tide from its logger's record."),
    "windows": ("windows", "List the low tides you can walk, and why not the others."),
    "plan": ("plan", "Plan the next visit: which units, in which order."),
    "sheet": ("sheet", "Write a visit's sheet for paper, for the day the phones die."),
    "hours": ("hours", "List the hours people gave; write a letter or a funder's sheet."),
    "flags": ("flags", "List the open flags."),
    "query": ("query", "Answer a question in SQL from the open data."),
}
"""Each command's module and the sentence that the list of commands shows (tests/commands/test_help.py)."""


def function_of(command: str) -> str:
    """What a command's function is called; a word of the language has a stroke behind it."""
    return f"{command}_" if iskeyword(command) else command.replace("-", "_")


class LazyGroup(click.Group):
    """A group that knows its commands' names and sentences without loading them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands' names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, its module loaded now."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = getattr(import_module(f"fieldlog.commands.{COMMANDS[cmd_name][0]}"), function_of(cmd_name))
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the table."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, sentence) for name, (_, sentence) in COMMANDS.items()])


@click.group(cls=LazyGroup)
@click.option(
    "--data", metavar="DIR", envvar="FIELDLOG_DATA", type=click.Path(path_type=Path), help="The data folder."
)
@json_option
@click.version_option(package_name="fieldlog")
@click.pass_obj
def cli(asked: Asked, data: Path | None) -> None:
    """Fieldlog: record what you see on a living shoreline's reef units, with or without a network."""
    asked.folder = data


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line; ends the process with its exit status."""
    keep_pandas_out()
    asked = Asked(lambda: datetime.now(UTC))
    try:
        status = cli.main(arguments, prog_name="fieldlog", standalone_mode=False, obj=asked)
    except FieldlogError as fault:
        _end(fault.sentence)
    except click.exceptions.NoArgsIsHelpError as fault:
        _end(fault.format_message())
    except click.ClickException as fault:
        _end(" ".join(fault.format_message().split()))
    except sqlite3.DatabaseError as fault:
        known = named(fault)
        _end(known.sentence if isinstance(known, FieldlogError) else f"The database gave an unexpected answer: {fault}")
    except OSError as fault:
        _end(f"{fault.strerror or fault}: {fault.filename}" if fault.filename else str(fault))
    except (click.Abort, KeyboardInterrupt):
        sys.exit(130)
    sys.exit(status if isinstance(status, int) else 0)


def _end(sentence: str) -> None:
    say(sentence, err=True)
    sys.exit(2)


if __name__ == "__main__":
    main()
