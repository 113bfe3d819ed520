"""The command that lists flags."""

from __future__ import annotations

from typing import Any

import click

from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.commands.sites import chosen_sites
from fieldlog.flags.differences import with_both_sides
from fieldlog.flags.reading import list_flags
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.sync.opening import open_programme


@click.command()
@click.option("--site", help="The site's name or id. Without it: every site.")
@click.option("--all", "everything", is_flag=True, help="Settled and accepted flags too.")
@folder_option
@json_option
@pass_asked
def flags(asked: Asked, site: str | None, everything: bool) -> None:
    """List the open flags."""
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    found: list[dict[str, Any]] = []
    for chosen in chosen_sites(programme.db(), site):
        found += with_both_sides(programme.db(), chosen, list_flags(programme.db(), chosen["record_id"], asked.now(), all=everything))
    asked.show(found, [f"{flag['severity']:<5} {flag['state']:<9} {flag['sentence']}" for flag in found] or ["No open flags."])
