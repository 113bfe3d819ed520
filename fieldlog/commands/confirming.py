"""The command that says, after a restore, which devices still belong to the programme."""

from __future__ import annotations

import click
from sqlite_utils import Database

from fieldlog.access.carried_over import unconfirmed_devices
from fieldlog.access.invitations import confirm_invitations
from fieldlog.commands.asking import Asked, folder_option, json_option, pass_asked
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.shown_names import counted
from fieldlog.sync.confirming import confirm_device, finish_releasing
from fieldlog.sync.opening import open_programme

SHORTEST = 6
"""Letters of an id that name a device where no other begins with them."""


@click.command()
@click.argument("device", required=False)
@click.option(
    "--all", "has_all", is_flag=True,
    help="Every device and invitation. Right after a move, if the old server was stopped before its last backup and not started again.",
)
@folder_option
@json_option
@pass_asked
def confirm(asked: Asked, device: str | None, has_all: bool) -> None:
    """Confirm a device after a restore, or list those waiting."""
    if has_all and device is not None:
        raise click.UsageError("Name a device or say --all, not both.")
    programme = open_programme(asked.programme_folder(), CATALOGUE, asked.now_ms())
    finish_releasing(programme.db(), CATALOGUE, asked.now_ms())  # where an earlier command was stopped in it
    waiting = unconfirmed_devices(programme.db())
    if has_all:
        _confirm_all(asked, programme.db(), waiting)
        return
    if device is None:
        found = [{"device_id": device_id, "role": role, "name": name} for device_id, role, name in waiting]
        lines = [f"{device_id}  {role:6}  {name}" for device_id, role, name in waiting]
        asked.show(found, lines or ["Every device is confirmed."])
        return
    named = [one for one in waiting if one[0] == device or (len(device) >= SHORTEST and one[0].startswith(device))]
    if len(named) != 1:
        raise click.UsageError(f"{device} names {len(named)} of the {len(waiting)} devices waiting. List them: fieldlog confirm")
    ((device_id, role, name),) = named
    confirm_device(programme.db(), CATALOGUE, None, device_id, asked.now_ms())
    asked.show(
        {"device_id": device_id, "role": role, "name": name},
        [f"{name} ({role}) is confirmed." + (" It can confirm the others under Set-up, Devices." if role == "lead" else "")],
    )


def _confirm_all(asked: Asked, db: Database, waiting: list[tuple[str, str, str]]) -> None:
    for device_id, _role, _name in waiting:
        confirm_device(db, CATALOGUE, None, device_id, asked.now_ms())
    invitations = confirm_invitations(db)
    asked.show(
        {"devices": len(waiting), "invitations": invitations},
        [f"Confirmed: {counted(len(waiting), 'device')}, {counted(invitations, 'invitation')}. Whose access had ended before the backup stays out."],
    )


def what_to_confirm(waiting: tuple[tuple[str, str, str], ...]) -> list[str]:
    """What must be done after a restore before these devices, as id, role and name, are given anything, and why."""
    if not waiting:
        return []
    leads = [f"fieldlog confirm {device_id}   ({name})" for device_id, role, name in waiting if role == "lead"]
    return [
        f"Devices waiting to be confirmed: {len(waiting)}. The server does not know whose access a lead ended after the backup, so they get nothing. What they write is kept.",
        "Moved from a server that you stopped before this backup? Then: fieldlog confirm --all",
        *(["Else confirm a lead's device that you know. It can confirm the others under Set-up, Devices:", *leads] if leads
          else ["None of them is a lead's: fieldlog invite --role lead"]),
    ]  # fmt: skip
