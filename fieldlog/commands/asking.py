"""What every command is asked with: the programme's folder, the form of the answer, the clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from fieldlog.commands.printable import show_json, show_line
from fieldlog.instants import written


@dataclass
class Asked:
    """One call of the command line. `--data` and `--json` may stand before or after the command's name."""

    now: Callable[[], datetime]
    folder: Path | None = None
    as_json: bool = False

    def programme_folder(self) -> Path:
        """
        The folder that was named.

        Raises:
            click.UsageError: none was.
        """
        if self.folder is None:
            raise click.UsageError("Name the data folder: --data DIR, or set FIELDLOG_DATA.")
        return self.folder

    def now_ms(self) -> int:
        """Milliseconds since 1970 UTC."""
        return int(self.now().timestamp() * 1000)

    def show(self, document: Any, lines: Iterable[str]) -> None:
        """Print one JSON document and nothing else, or the same in words."""
        if self.as_json:
            show_json(document)
        else:
            for line in lines:
                show_line(line)


pass_asked = click.make_pass_decorator(Asked)


def _remember(context: click.Context, option: click.Parameter, value: Any) -> None:
    if value and option.name is not None:
        setattr(context.obj, option.name, value)


folder_option = click.option(
    "--data", "folder", metavar="DIR", type=click.Path(path_type=Path), expose_value=False, callback=_remember,
    help="The data folder (or FIELDLOG_DATA).",
)  # fmt: skip
json_option = click.option(
    "--json", "as_json", is_flag=True, expose_value=False, callback=_remember, help="Print one JSON document."
)


class Moment(click.ParamType[datetime]):
    """An instant: ISO 8601 with a zone."""

    name = "T"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> datetime:
        """The instant in UTC."""
        if isinstance(value, datetime):
            return value
        try:
            moment = datetime.fromisoformat(str(value))
        except ValueError:
            self.fail(f"{value} is not a time; write it as 2026-11-25T06:00Z.", param, ctx)
        if moment.tzinfo is None:
            self.fail(f"{value} has no time zone; write it as 2026-11-25T06:00Z for UTC, or with an offset.", param, ctx)
        return moment.astimezone(UTC)


def iso_utc(ms: int) -> str:
    """An instant of milliseconds since 1970 UTC as text."""
    return written(datetime.fromtimestamp(ms / 1000, UTC))
