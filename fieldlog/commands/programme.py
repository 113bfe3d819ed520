"""Commands that make, open, check and move a programme."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from fieldlog.access.invitations import Invitation
from fieldlog.access.invitations import invite as make_invitation
from fieldlog.access.leads import LEADS_WANTED
from fieldlog.backup import make_backup, photos_named
from fieldlog.commands.asking import Asked, folder_option, iso_utc, json_option, pass_asked
from fieldlog.commands.confirming import what_to_confirm
from fieldlog.commands.sites import site_called, site_id_of
from fieldlog.doctor import examine, examine_backup
from fieldlog.exported import take_exported
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import Restored, restore_backup
from fieldlog.shown_names import counted
from fieldlog.store import (
    REPLAYING,
    ProgrammeLock,
    create_programme,
    existing_programme,
    set_setting,
    setting,
    write,
)
from fieldlog.sync.opening import open_programme
from fieldlog.sync.replay import replay as replay_log

LOCAL_ADDRESS = "http://localhost:8080"
FIRST_LEAD_HOURS = 24 * 7
FILE = click.Path(path_type=Path, dir_okay=False)
FILE_HERE = click.Path(path_type=Path, dir_okay=False, exists=True)


@click.command()
@click.option("--name", help="The program's name. Without it: the folder's name.")
@click.option("--address", default=LOCAL_ADDRESS, show_default=True, help="Where phones reach the server.")
@folder_option
@json_option
@pass_asked
def init(asked: Asked, name: str | None, address: str) -> None:
    """Make an empty program and the invitations of two leads."""
    folder = asked.programme_folder()
    create_programme(folder, name or folder.resolve().name).close()
    programme = open_programme(folder, CATALOGUE, asked.now_ms())
    set_setting(programme.db(), "address", address.rstrip("/"))
    first, second = (
        _invitation(make_invitation(programme.db(), None, "lead", None, 1, FIRST_LEAD_HOURS, asked.now_ms()), address) for _ in range(LEADS_WANTED)
    )  # fmt: skip
    asked.show(
        {"programme": setting(programme.db(), "programme_name"), "folder": str(folder), "invitation": first, "second_lead": second},
        [
            f"An empty program is in {folder}. Serve it: fieldlog --data {folder} serve", *_invitation_lines(first),
            "Give a second person this one today: with one lead, a lost phone locks everyone out of set-up.", *_invitation_lines(second),
        ],
    )  # fmt: skip


@click.command()
@click.option("--role", type=click.Choice(["lead", "crew", "desk", "reader"]), required=True)
@click.option("--site", help="The site's name or id. Without it: every site.")
@click.option("--uses", type=click.IntRange(1, 500), default=1, show_default=True, help="How many devices can join with it.")
@click.option("--hours", type=click.IntRange(1, 24 * 366), default=24, show_default=True, help="How long it can be used.")
@folder_option
@json_option
@pass_asked
def invite(asked: Asked, role: str, site: str | None, uses: int, hours: int) -> None:
    """Invite phones: a short code and a link, each with a role."""
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    site_id = None if site is None else site_called(programme.db(), site)["record_id"]
    made = make_invitation(programme.db(), None, role, site_id, uses, hours, asked.now_ms())
    said = _invitation(made, setting(programme.db(), "address") or LOCAL_ADDRESS)
    asked.show(said, _invitation_lines(said))


def _invitation(made: Invitation, address: str) -> dict[str, object]:
    return {
        "code": made.code, "link": f"{address.rstrip('/')}/#join={made.code}", "role": made.role, "site": made.site_id,
        "uses": made.uses, "expires_at": iso_utc(made.expires_at),
    }  # fmt: skip


def _invitation_lines(said: dict[str, object]) -> list[str]:
    return [f"To join as {said['role']}: {said['link']}", f"or type the code {said['code']} (until {said['expires_at']})."]


@click.command()
@folder_option
@json_option
@pass_asked
def replay(asked: Asked) -> None:
    """
    Rebuild every table from the log. A server can keep running. Until the rebuild is done, phones read the old tables and wait to send.
    """
    folder = asked.programme_folder()
    # Opened as it is: to open it for work would make the tables of an older version a first time.
    programme = existing_programme(folder)
    with ProgrammeLock(folder, REPLAYING), write(programme.db()):
        count = replay_log(programme.db(), CATALOGUE)
    open_programme(folder, CATALOGUE, asked.now_ms())
    asked.show({"entries": count}, [f"Every table was rebuilt from {counted(count, 'entry', 'entries')}."])


@click.command()
@click.argument("file", type=FILE_HERE, required=False)
@folder_option
@json_option
@click.pass_context
@pass_asked
def doctor(asked: Asked, context: click.Context, file: Path | None) -> None:
    """Check a program or a backup, and say what to fix.

    Ends with status 1 if something needs a look.
    """
    if file is None:
        found = examine(asked.programme_folder(), CATALOGUE, asked.now_ms())
    else:
        found = examine_backup(file)
    all_well = all(finding.ok for finding in found)
    asked.show(
        {"ok": all_well, "findings": [asdict(finding) for finding in found]},
        (f"{'ok  ' if finding.ok else 'LOOK'}  {finding.sentence}" for finding in found),
    )
    context.exit(0 if all_well else 1)


@click.command()
@click.argument("file", type=FILE)
@folder_option
@json_option
@pass_asked
def backup(asked: Asked, file: Path) -> None:
    """Back up the whole program into one checked file."""
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    made = make_backup(programme, file, asked.now_ms())
    asked.show(
        {"file": str(file), **asdict(made), "made_at": iso_utc(made.made_at)},
        [
            f"{file} holds {counted(made.entries, 'entry', 'entries')} and {counted(made.photos, 'photo')}; it was opened and checked.",
            *([f"Photos that are gone or unreadable: {photos_named(made.missing)}."] if made.missing else []),
        ],
    )


@click.command()
@click.argument("source", metavar="FILE|REPLICA")
@folder_option
@json_option
@pass_asked
def restore(asked: Asked, source: str) -> None:
    """Restore a backup or a replica into the data folder."""
    if "://" not in source and not Path(source).exists():
        raise click.UsageError(f"There is no backup and no replica at {source}.")
    restored = restore_backup(source, asked.programme_folder(), CATALOGUE, asked.now_ms())
    said, before = restored.backup, restored.before
    lacks = photos_named(said.missing) if said.missing else str(restored.photos_missing)
    asked.show(
        {
            "file": source, **asdict(said), "made_at": iso_utc(said.made_at), "before": before and str(before),
            "photos_missing": restored.photos_missing,
            "are_purges_known": restored.are_purges_known, "replica": restored.replica or None, "replica_elsewhere": restored.replica_elsewhere or None,
            "unconfirmed": [{"device_id": one, "role": role, "name": name} for one, role, name in restored.unconfirmed],
        },
        [
            f"The program is as it was at {iso_utc(said.made_at)}: {counted(said.entries, 'entry', 'entries')}, {counted(said.photos, 'photo')}.",
            *([f"Missing photos: {lacks}. Phones that still have them send them again."] if restored.photos_missing else []),
            *([f"What was here before is in {before}."] if before else []),
            *_replica_lines(restored),
            *([] if restored.are_purges_known else ["If somebody was forgotten after this backup was made, forget them again: fieldlog purge NAME"]),
            *what_to_confirm(restored.unconfirmed),
        ],
    )


def _replica_lines(restored: Restored) -> list[str]:
    """Where a second copy lies is of the machine, so a restore does not bring it along."""
    if restored.replica:
        return [f"Its replica continues at {restored.replica}, as set on this machine."]
    if restored.replica_elsewhere:
        return [
            f"The replica is off: none is set on this machine. It was at {restored.replica_elsewhere}."
            " Set one: fieldlog serve --replica PLACE"
        ]
    return []


@click.command()
@click.argument("file", type=FILE_HERE)
@click.option("--site", help="The name or id of the site it was written at. Not needed if there is only one.")
@folder_option
@json_option
@pass_asked
def ingest(asked: Asked, file: Path, site: str | None) -> None:
    """Import a file that a phone exported."""
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    site_id = site_id_of(programme.db(), site)
    took = take_exported(programme.db(), file.read_bytes(), CATALOGUE, asked.now_ms(), file.name, site_id)
    asked.show(
        asdict(took),
        [
            f"{counted(took.lines, 'entry', 'entries')} read: {took.taken} stored, {took.held} held back, {took.known} already here.",
            *took.sentences,
        ],
    )
