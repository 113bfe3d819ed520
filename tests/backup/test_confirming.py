"""What a restore does not know, nobody is given: who was taken off since is carried over, or each device is confirmed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from fieldlog import create_app
from fieldlog.access import devices, invitations
from fieldlog.access.calendar_secrets import calendar_paths
from fieldlog.access.carried_over import are_sites, unconfirmed_devices
from fieldlog.access.devices import device_of_id
from fieldlog.backup import make_backup
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.restoring import restore_backup
from fieldlog.store import Programme, create_programme
from fieldlog.sync.opening import open_programme
from tests.a_phone import Phone, texts_pulled
from tests.backup.conftest import write_species

SITE = "00000000-0000-4000-8000-00000000000a"
OTHER = "00000000-0000-4000-8000-00000000000b"
NOW_MS = 1_800_000_000_000


@pytest.fixture
def sites(phone: Phone) -> Phone:
    """The lead's phone, after two sites were set up."""
    for site in (SITE, OTHER):
        phone.note("site", site, site, name=f"Site {site[-1]}")
    assert {ack[2] for ack in phone.sync().json["acks"]} == {"ok"}
    return phone


@pytest.fixture
def crew(sites: Phone, client_of, now) -> Phone:
    return Phone(client_of("crew", SITE), int(now().timestamp() * 1000))


@pytest.fixture
def served(now) -> Iterator[Callable[[Path, FlaskClient], FlaskClient]]:
    """served(folder, client): the same browser, the server of that folder."""
    apps = {}

    def again(folder: Path, client: FlaskClient) -> FlaskClient:
        if folder not in apps:
            apps[folder] = create_app(folder, now)
        made = apps[folder].test_client()
        made.set_cookie("fieldlog", client.get_cookie("fieldlog").value)
        made.device_id = client.device_id
        return made

    yield again
    for app in apps.values():
        app.extensions["photo_copies"].close()
        app.extensions["programme"].close()


def backed_up(programme: Programme, tmp_path: Path) -> str:
    make_backup(programme, tmp_path / "all.zip", NOW_MS)
    return str(tmp_path / "all.zip")


def restored_here(programme: Programme, source: str) -> Programme:
    """The programme after a restore over its own folder, which nobody has open."""
    programme.close()
    assert restore_backup(source, programme.folder, CATALOGUE, NOW_MS).before is not None
    return open_programme(programme.folder, CATALOGUE, NOW_MS)


def waiting(programme: Programme) -> set[str]:
    return {row[0] for row in programme.db().execute("SELECT device_id FROM device WHERE unconfirmed")}


def test_what_was_decided_since_the_backup_is_carried_over(programme, sites, client_of, app, tmp_path, now) -> None:
    revoked, moved, gone = (client_of("crew", SITE).device_id for _ in range(3))
    leaving = client_of("crew", SITE)
    open_code, ended = (invitations.invite(programme.db(), None, "crew", None, 5, 24, NOW_MS) for _ in range(2))
    source = backed_up(programme, tmp_path)
    lead = device_of_id(programme.db(), sites.client.device_id)
    devices.revoke(programme.db(), lead, revoked, NOW_MS)
    devices.change(programme.db(), lead, moved, "desk", frozenset({OTHER}), NOW_MS)
    invitations.withdraw(programme.db(), lead, ended.invitation_id, NOW_MS)
    assert leaving.post("/api/leave").status_code == 204
    write_species(sites, 4)
    app.extensions["programme"].close()
    again = restored_here(programme, source)
    assert waiting(again) == set()
    assert device_of_id(again.db(), revoked).revoked
    assert (device_of_id(again.db(), moved).role, device_of_id(again.db(), moved).sites) == ("desk", frozenset({OTHER}))
    assert not device_of_id(again.db(), gone).revoked
    tokens = dict(again.db().execute("SELECT device_id, token_sha256 FROM device").fetchall())
    assert tokens[leaving.device_id] == f"left {leaving.device_id}"
    rows = dict(again.db().execute("SELECT invitation_id, revoked_at FROM invitation").fetchall())
    assert (rows[ended.invitation_id], rows[open_code.invitation_id]) == (NOW_MS, None)
    again.close()


@pytest.mark.parametrize(
    ("stored", "is_right"),
    [(None, True), (f'["{SITE}"]', True), (f'["{SITE}", "{OTHER}"]', True), (f'["{SITE}", 1]', False), ("[1]", False), ("[]", False),
     ("null", False), (f'"{SITE}"', False), ("{}", False), ("[" * 100_000, False), (1, False)],
    ids=["all", "one", "two", "one and a number", "a number", "none", "null", "a text", "an object", "deep", "no text"],
)  # fmt: skip
def test_a_devices_sites_are_all_or_a_list_of_ids_and_nothing_else(stored: object, is_right: bool) -> None:
    assert are_sites(stored) is is_right


@pytest.mark.parametrize(
    "harm",
    ["UPDATE device SET role = 'owner'", "UPDATE device SET sites = '[1]'", "UPDATE device SET sites = 'x'", "UPDATE device SET revoked_at = 'x'",
     "UPDATE invitation SET uses_left = -1", "UPDATE invitation SET uses_left = -1 WHERE rowid = (SELECT max(rowid) FROM invitation)",
     "DROP TABLE invitation", "DELETE FROM device", "page device", "page sqlite_autoindex_device_2", "page sqlite_autoindex_invitation_2"],
)  # fmt: skip
def test_a_folder_that_says_what_is_never_said_is_not_believed(programme, crew, app, tmp_path, harm) -> None:
    for _ in range(2):
        invitations.invite(programme.db(), None, "crew", None, 5, 24, NOW_MS)
    source = backed_up(programme, tmp_path)
    app.extensions["programme"].close()
    db = sqlite3.connect(programme.path, isolation_level=None)
    if harm.startswith("page "):
        (page,) = db.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", [harm.removeprefix("page ")]).fetchone()
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        db.close()
        with programme.path.open("r+b") as file:
            file.seek((page - 1) * 4096)
            file.write(b"\xff" * 4096)
    else:
        db.execute(harm)
        db.close()
    again = restored_here(programme, source)
    assert waiting(again) == {row[0] for row in again.db().execute("SELECT device_id FROM device")}
    assert again.db().execute("SELECT count(*) FROM invitation WHERE NOT unconfirmed").fetchone() == (0,)
    again.close()


def test_a_backup_from_before_the_first_entry_knows_its_devices_again(programme, client_of, app, tmp_path) -> None:
    device_id = client_of("lead").device_id
    assert programme.db().execute("SELECT count(*) FROM log").fetchone() == (0,)
    source = backed_up(programme, tmp_path)
    app.extensions["programme"].close()
    again = restored_here(programme, source)
    assert device_id not in waiting(again)
    again.close()


def test_of_two_invitations_the_one_that_the_folder_knows_nothing_of_waits(programme, app, tmp_path) -> None:
    known, unknown = (invitations.invite(programme.db(), None, "crew", None, 5, 24, NOW_MS).invitation_id for _ in range(2))
    source = backed_up(programme, tmp_path)
    programme.db().execute("DELETE FROM invitation WHERE invitation_id = ?", [unknown])
    app.extensions["programme"].close()
    again = restored_here(programme, source)
    assert dict(again.db().execute("SELECT invitation_id, unconfirmed FROM invitation").fetchall()) == {known: 0, unknown: 1}
    again.close()


def test_another_programmes_folder_says_nothing_about_these_devices(programme, crew, tmp_path) -> None:
    source = backed_up(programme, tmp_path)
    create_programme(tmp_path / "other", "Another").close()
    restore_backup(source, tmp_path / "other", CATALOGUE, NOW_MS)
    again = Programme(tmp_path / "other")
    assert crew.client.device_id in waiting(again)
    again.close()


def test_a_role_that_differs_waits_where_the_folder_is_not_the_later_one(programme, sites, client_of, app, tmp_path) -> None:
    moved, same = client_of("crew", SITE).device_id, client_of("crew", SITE).device_id
    older = backed_up(programme, tmp_path)
    write_species(sites, 4)
    lead = device_of_id(programme.db(), sites.client.device_id)
    devices.change(programme.db(), lead, moved, "reader", frozenset({SITE}), NOW_MS)
    newer = tmp_path / "newer.zip"
    make_backup(programme, newer, NOW_MS)
    restore_backup(older, tmp_path / "elsewhere", CATALOGUE, NOW_MS)
    elsewhere = Programme(tmp_path / "elsewhere")
    elsewhere.db().execute("UPDATE device SET unconfirmed = 0")
    elsewhere.close()
    restore_backup(str(newer), tmp_path / "elsewhere", CATALOGUE, NOW_MS)
    again = Programme(tmp_path / "elsewhere")
    assert waiting(again) == {moved}
    assert device_of_id(again.db(), moved).role == "reader"
    assert same not in waiting(again)
    again.close()


@pytest.fixture
def elsewhere(programme, sites, crew, tmp_path) -> Path:
    """A folder on a new machine, restored from the backup alone."""
    write_crew_sighting(crew, 1)
    restore_backup(backed_up(programme, tmp_path), tmp_path / "elsewhere", CATALOGUE, NOW_MS)
    return tmp_path / "elsewhere"


def write_crew_sighting(crew: Phone, number: int) -> None:
    crew.note("sighting", f"{number:08d}-0000-4000-8000-00000000000c", SITE, taxon="crab", found="seen", seen_at="2026-11-25T05:00:00Z")
    crew.sync()


def test_an_unconfirmed_device_sends_and_is_given_nothing(elsewhere, crew, sites, served) -> None:
    client = served(elsewhere, crew.client)
    crew.client = client
    write_crew_sighting(crew, 2)
    answer = crew.sync().json
    assert answer["err"] is None
    assert [ack[2] for ack in answer["acks"]][-1] == "q"
    assert answer["acks"][-1][4] == "unconfirmed"
    assert "confirm" in answer["acks"][-1][5]
    assert (answer["pull"], answer["more"], answer["reset"], answer["revoked"]) == ([], False, False, False)
    assert answer["pack"] is None
    for path in ("/api/pack", f"/api/photos/{'0' * 64}", "/api/photos"):
        refused = client.get(path)
        assert (refused.status_code, refused.json["word"]) == (403, "unconfirmed"), path
    lead = served(elsewhere, sites.client)
    for path in ("/api/devices", "/api/invitations", "/api/private/x"):
        assert lead.get(path).json["word"] == "unconfirmed", path
    for path in (f"/api/devices/{crew.client.device_id}/confirm", "/api/invitations", f"/api/devices/{lead.device_id}/confirm"):
        assert lead.post(path, json={}).json["word"] == "unconfirmed", path


def test_the_console_confirms_a_lead_who_confirms_the_others(call, elsewhere, crew, sites, served) -> None:
    crew.client = served(elsewhere, crew.client)
    write_crew_sighting(crew, 2)
    listed = call("confirm", "--json", data=elsewhere).document
    assert {one["role"] for one in listed} == {"lead", "crew"}
    lead = served(elsewhere, sites.client)
    assert call("confirm", lead.device_id[:10], data=elsewhere).status == 0
    states = {one["device_id"]: one["state"] for one in lead.get("/api/devices").json["devices"]}
    assert (states[lead.device_id], states[crew.client.device_id]) == ("joined", "unconfirmed")
    confirmed = lead.post(f"/api/devices/{crew.client.device_id}/confirm")
    assert (confirmed.status_code, confirmed.json["role"]) == (200, "crew")
    answer = crew.sync()
    assert [ack[2] for ack in answer.json["acks"]] == ["ok", "ok"]
    assert texts_pulled(answer)
    programme = Programme(elsewhere)
    assert programme.db().execute("SELECT count(*) FROM sighting").fetchone() == (2,)
    assert programme.db().execute("SELECT count(*) FROM tray").fetchone() == (0,)
    programme.close()


def test_who_was_taken_off_or_left_is_waited_for_by_nobody_and_leads_come_first(programme, client_of) -> None:
    crew, lead, revoked, left, confirmed = (client_of(role).device_id for role in ("crew", "lead", "lead", "lead", "lead"))
    db = programme.db()
    db.execute("UPDATE device SET unconfirmed = 1 WHERE device_id <> ?", [confirmed])
    db.execute("UPDATE device SET revoked_at = ? WHERE device_id = ?", [NOW_MS, revoked])
    db.execute("UPDATE device SET token_sha256 = 'left ' || device_id WHERE device_id = ?", [left])
    assert [(device_id, role) for device_id, role, _name in unconfirmed_devices(db)] == [(lead, "lead"), (crew, "crew")]


def test_a_lead_confirms_only_devices_of_their_own_sites(call, elsewhere, programme, crew, sites, served, app, client_of) -> None:
    restored = Programme(elsewhere)
    restored.db().execute("UPDATE device SET sites = ?, unconfirmed = 0 WHERE device_id = ?", [f'["{OTHER}"]', sites.client.device_id])
    restored.close()
    lead = served(elsewhere, sites.client)
    assert lead.post(f"/api/devices/{crew.client.device_id}/confirm").status_code == 403
    assert lead.post("/api/devices/nobody/confirm").status_code == 404


def test_an_invitation_of_a_restored_backup_lets_in_when_a_lead_says_so(call, programme, sites, served, tmp_path) -> None:
    made = invitations.invite(programme.db(), None, "crew", None, 5, 24 * 365, int(sites.now_ms))
    source = backed_up(programme, tmp_path)
    restore_backup(source, tmp_path / "elsewhere", CATALOGUE, NOW_MS)
    assert call("confirm", sites.client.device_id, data=tmp_path / "elsewhere").status == 0
    lead = served(tmp_path / "elsewhere", sites.client)
    joining = {"code": made.code, "device_name": "new"}
    assert lead.application.test_client().post("/api/join", json=joining).status_code == 403
    (row,) = [one for one in lead.get("/api/invitations").json["invitations"] if one["invitation_id"] == made.invitation_id]
    assert row["unconfirmed"] == 1
    assert lead.post(f"/api/invitations/{made.invitation_id}/confirm").status_code == 204
    assert lead.application.test_client().post("/api/join", json=joining).status_code == 200
    assert lead.post("/api/invitations/nothing/confirm").status_code == 404


def test_restoring_says_whom_to_confirm(call, programme, sites, tmp_path) -> None:
    said = call("restore", backed_up(programme, tmp_path), data=tmp_path / "elsewhere").out
    assert f"fieldlog confirm {sites.client.device_id}" in said
    assert "wait" in call("confirm", "zzzzzzzz", data=tmp_path / "elsewhere").err


def test_a_calendar_of_an_unconfirmed_device_tells_nothing_until_it_is_confirmed(call, programme, crew, served, tmp_path) -> None:
    path = calendar_paths(programme.db(), device_of_id(programme.db(), crew.client.device_id), [SITE])[SITE]
    restore_backup(backed_up(programme, tmp_path), tmp_path / "elsewhere", CATALOGUE, NOW_MS)
    client = served(tmp_path / "elsewhere", crew.client).application.test_client()
    waits = client.get(path)
    assert (waits.status_code, waits.json["word"]) == (403, "unconfirmed")
    assert waits.json["detail"] == (
        "This calendar is paused. The server was restored from a backup, and a lead must confirm the phone this calendar belongs to. Keep this address: it works again after that."
    )
    assert client.get(path.replace(".ics", "x.ics")).status_code == 404
    assert call("confirm", crew.client.device_id, data=tmp_path / "elsewhere").status == 0
    assert client.get(path).status_code == 200
