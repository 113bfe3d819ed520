"""
Every kind, role and site against reading, writing, correcting, removing, bringing back, mending, photos, private records, calendar,
pack and files: the product's own answers beside the table written by hand (`rights_table.py`).
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest

from a_phone import Phone
from access import rights_table as table
from fieldlog import create_app
from fieldlog.access.devices import device_of_id
from fieldlog.exported import take_exported
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.fields import Choice, Date, FlagId, Instant, Measured, Ref, Sha256, Text, YesNo, Zone
from fieldlog.records.kind import Kind
from fieldlog.store import create_programme, write
from fieldlog.sync.opening import open_programme
from some_pictures import drawn, encoded, name_of
from tests.live_server import code_for

AT = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
NOW_MS = int(AT.timestamp() * 1000)
HERE, THERE = str(uuid.uuid4()), str(uuid.uuid4())
PLACES = {"own": HERE, "other": THERE, "null": None}
PHOTOS = {kind: {"own": encoded(drawn(px), "PNG"), "other": encoded(drawn(px), "WEBP")} for kind, px in (("photo", 640), ("people_photo", 320))}
CELLS = [(role, site) for role in table.ROLES for site in table.SITES]


def value_of(declared: Any) -> Any:
    """A value that a crew might write; what it is matters to nobody here."""
    match declared:
        case YesNo():
            return True
        case Choice():
            return next(iter(declared.labels))
        case Zone():
            return "America/New_York"
        case Instant() | Date():
            return "2026-11-25T05:00:00Z" if isinstance(declared, Instant) else "2026-11-25"
        case Ref():
            return str(uuid.uuid4())
        case Sha256() | FlagId():
            return uuid.uuid4().hex * (2 if isinstance(declared, Sha256) else 1)
        case Measured():
            return declared.least
        case Text():
            return "Alder " * max(1, declared.least // 6 + 1) if declared.most > 6 else "A"
    item = {name: value_of(inner) for name, inner in declared.inner.items()}
    return [next(iter(item.values())) if declared.is_bare else item]


def fields_of(kind: Kind) -> dict[str, Any]:
    """All that a record of a kind must have when it is made."""
    made = {name: value_of(declared) for name, declared in kind.fields.items() if declared.required}
    datums = {kind.fields[name].metadata["x-datum"]: "MLLW" for name in made if "x-datum" in kind.fields[name].metadata}
    return {**made, **datums}


def change_of(kind: Kind) -> dict[str, Any]:
    """A change that any role which writes the kind may make: of a field that says nothing of who may, and joins it to nothing else."""
    free = [name for name, one in kind.fields.items() if "x-crew" not in one.metadata and not isinstance(one, Ref | Sha256 | FlagId)]
    return {free[-1]: value_of(kind.fields[free[-1]])}


@pytest.fixture(scope="module")
def shore(tmp_path_factory):
    """Two sites that a lead set up, with a record of every kind on each and, where it may be, of the whole programme."""
    folder = tmp_path_factory.mktemp("rights") / "programme"
    create_programme(folder, "Skein Bay").close()
    programme = open_programme(folder, CATALOGUE, NOW_MS)
    app = create_app(folder, lambda: AT)
    made = SimpleNamespace(programme=programme, app=app, phones={}, records={}, joined=0)
    lead = phone_of(made, "lead-all", fresh=True)
    for place, site_id in PLACES.items():
        for kind in [CATALOGUE.kinds["site"], *(one for one in CATALOGUE.kinds.values() if one.name != "site")]:
            if place == "null" and (kind.name == "site" or not table.KINDS[kind.name].of_programme):
                continue
            record_id = site_id if kind.name == "site" else str(uuid.uuid4())
            fields = fields_of(kind)
            if kind.name in PHOTOS:
                fields["sha256"] = name_of(PHOTOS[kind.name][place])
            if kind.name == "person_private":
                fields["person_id"] = made.records["person", place]
            made.records[kind.name, place] = record_id
            lead.note(kind.name, record_id, site_id, **fields)
    answer = lead.sync()
    assert {ack[2] for ack in answer.json["acks"]} == {"ok"}, [ack for ack in answer.json["acks"] if ack[2] != "ok"]
    for picture in [one for pictures in PHOTOS.values() for one in pictures.values()]:
        assert upload(lead.client, picture).status_code == 201
    assert app.extensions["photo_copies"].wait()
    yield made
    app.extensions["photo_copies"].close()
    app.extensions["programme"].close()
    programme.close()


def phone_of(shore, role: str, *, fresh: bool = False) -> Phone:
    """A device of a role, of the site here or, "-all", of the whole programme."""
    if fresh or role not in shore.phones:
        client = shore.app.test_client()
        word, everywhere = table.of(role)
        code = code_for(shore.programme, word, None if everywhere else HERE, NOW_MS)
        client.device_id = client.post("/api/join", json={"code": code, "device_name": role}).json["device_id"]
        shore.joined += 1
        phone = Phone(client, NOW_MS + shore.joined)
        if fresh:
            return phone
        shore.phones[role] = phone
    return shore.phones[role]


def upload(client, picture: bytes):
    headers = {"Upload-Offset": "0", "Upload-Length": str(len(picture))}
    return client.patch(f"/api/photos/{name_of(picture)}", data=picture, headers=headers)


def answered(shore, role: str, entries: dict[str, tuple[str, str | None, dict[str, Any]]]) -> dict[str, str]:
    """The word for each kind's entry: (record id, the site it names, fields), each kind in a lane of its own device's."""
    phone = phone_of(shore, role, fresh=True)
    for kind, (record_id, site_id, fields) in entries.items():
        phone.note(kind, record_id, site_id, **fields)
    acks = phone.sync().json["acks"]
    return {kind: "taken" if ack[2] == "ok" else ack[4] for kind, ack in zip(entries, acks, strict=True)}


def expected(say: Callable[..., str], *asked: str) -> dict[str, str]:
    return {kind: say(kind, *asked) for kind in CATALOGUE.kinds}


def test_every_kind_of_the_catalogue_stands_in_the_table() -> None:
    assert set(table.KINDS) == set(CATALOGUE.kinds)


@pytest.mark.parametrize(("role", "site"), CELLS)
def test_who_makes_a_record(shore, role, site) -> None:
    entries = {}
    for name, kind in CATALOGUE.kinds.items():
        record_id = str(uuid.uuid4())
        # A new site names itself; there is no "own" one to be made by a lead of one site.
        place = record_id if name == "site" and site != "null" else PLACES[site]
        entries[name] = (record_id, place, fields_of(kind))
    assert answered(shore, role, entries) == expected(table.said_of_making, role, site)


@pytest.mark.parametrize(("role", "site"), CELLS)
def test_who_changes_a_record(shore, role, site) -> None:
    assert answered(shore, role, standing(shore, site, change_of)) == expected(table.said_of_changing, role, site)


@pytest.mark.parametrize("removed", [True, False])
@pytest.mark.parametrize(("role", "site"), CELLS)
def test_who_removes_a_record_and_brings_it_back(shore, role, site, removed) -> None:
    entries = standing(shore, site, lambda _kind: {"_deleted": removed})
    assert answered(shore, role, entries) == expected(table.said_of_removing, role, site)
    if removed:
        answered(shore, "lead-all", standing(shore, site, lambda _kind: {"_deleted": False}))


def standing(shore, site: str, change: Callable[[Kind], dict[str, Any]]) -> dict[str, tuple[str, str | None, dict[str, Any]]]:
    """A change of each kind's record of a site, by an entry that names that site."""
    return {
        name: (shore.records.get((name, site)) or shore.records.get((name, "own")), PLACES[site], change(kind))
        for name, kind in CATALOGUE.kinds.items()
    }


@pytest.mark.parametrize("removed", [False, True])
@pytest.mark.parametrize("role", table.ROLES)
def test_nobody_moves_a_record_to_another_site(shore, role, removed) -> None:
    entries = {
        name: (shore.records[name, "other"], HERE, {"_deleted": True} if removed else change_of(kind)) for name, kind in CATALOGUE.kinds.items()
    }
    assert answered(shore, role, entries) == expected(table.said_of_moving, role)


@pytest.mark.parametrize("role", ["crew", "desk"])
def test_crew_and_desk_remove_what_their_own_device_made(shore, role) -> None:
    phone = phone_of(shore, role, fresh=True)
    kinds = [name for name, rights in table.KINDS.items() if role in rights.makes.split()]
    for name in kinds:
        record_id = str(uuid.uuid4())
        phone.note(name, record_id, HERE, **fields_of(CATALOGUE.kinds[name]))
        phone.note(name, record_id, HERE, _deleted=True)
        phone.note(name, record_id, HERE, _deleted=False)
    assert [ack[2] for ack in phone.sync().json["acks"]] == ["ok"] * 3 * len(kinds)


@pytest.mark.parametrize("role", table.ROLES)
def test_who_reads_a_record_by_the_pull(shore, role) -> None:
    old_private_lines(shore)
    phone = phone_of(shore, role, fresh=True)
    pulled = set()
    while True:
        answer = phone.sync().json
        pulled |= {(said["t"], said["r"]) for *_, line in answer["pull"] if line is not None for said in [json.loads(line)]}
        if not answer["more"]:
            break
    got = {(kind, site) for (kind, site), record_id in shore.records.items() if (kind, record_id) in pulled}
    assert got == {(kind, site) for kind, site in shore.records if table.reads(kind, role, site)}


def old_private_lines(shore) -> None:
    """A private line of no site, as the app of version 0.2.0 wrote them."""
    if ("person_private", "null") in shore.records:
        return
    phone, record_id = phone_of(shore, "lead-all", fresh=True), str(uuid.uuid4())
    phone.note("person_private", record_id, HERE, person_id=shore.records["person", "null"])
    assert phone.sync().json["acks"][0][2] == "ok"
    shore.records["person_private", "null"] = record_id
    db = shore.programme.db()
    with write(db):
        (line,) = db.conn.execute("SELECT line FROM log WHERE record_id = ?", (record_id,)).fetchone()
        db.conn.execute("UPDATE log SET site_id = NULL, line = ? WHERE record_id = ?", (line.replace(b'"g":"' + HERE.encode() + b'"', b'"g":null'), record_id))
        db.conn.execute("UPDATE person_private SET site_id = NULL WHERE record_id = ?", (record_id,))


@pytest.mark.parametrize(("role", "site"), list(table.FIXES))
def test_whose_held_line_an_entry_hides(shore, role, site) -> None:
    theirs = held_line(shore, site)
    assert hides(shore, phone_of(shore, role, fresh=True), theirs) == table.FIXES[role, site]


@pytest.mark.parametrize("role", ["lead-all", "lead", "crew", "crew-all"])
def test_a_device_hides_its_own_held_line(shore, role) -> None:
    phone = phone_of(shore, role, fresh=True)
    phone.note("sighting", str(uuid.uuid4()), HERE, found="no such word", seen_at="2026-11-25T05:00:00Z")
    assert hides(shore, phone, phone.sync().json["acks"][0][1])


def held_line(shore, site: str) -> str:
    """The id of a line that a crew's device of a site has in the tray."""
    client = shore.app.test_client()
    client.device_id = client.post("/api/join", json={"code": code_for(shore.programme, "crew", PLACES[site], NOW_MS), "device_name": "x"}).json["device_id"]
    phone = Phone(client, NOW_MS)
    phone.note("sighting", str(uuid.uuid4()), PLACES[site], found="no such word", seen_at="2026-11-25T05:00:00Z")
    (ack,) = phone.sync().json["acks"]
    assert ack[2] == "q"
    return str(ack[1])


def hides(shore, phone: Phone, entry_id: str) -> bool:
    phone.write("sighting", str(uuid.uuid4()), fields_of(CATALOGUE.kinds["sighting"]), g=HERE, fixes=entry_id)
    assert phone.sync().json["acks"][-1][2] == "ok"
    row = shore.programme.db().conn.execute("SELECT resolved_by FROM tray WHERE entry_id = ?", (entry_id,)).fetchone()
    return row[0] is not None


@pytest.mark.parametrize("role", table.ROLES)
def test_who_sends_the_bytes_of_a_photo(shore, role) -> None:
    wanted = table.PHOTO_UPLOAD[table.of(role)[0]]
    assert upload(phone_of(shore, role).client, PHOTOS["photo"]["own"]).status_code == wanted


@pytest.mark.parametrize(("role", "site"), list(table.PHOTO_READ))
def test_who_sees_a_photo(shore, role, site) -> None:
    answers = [phone_of(shore, role).client.get(f"/api/photos/{name_of(pictures[site])}", buffered=True) for pictures in PHOTOS.values()]
    assert [200 if answer.status_code == 200 else 404 for answer in answers] == [table.PHOTO_READ[role, site], table.PEOPLE_PHOTO_READ[role, site]]


@pytest.mark.parametrize(("role", "site"), list(table.PRIVATE_ROUTE))
def test_who_asks_for_a_persons_private_records(shore, role, site) -> None:
    old_private_lines(shore)
    answer = phone_of(shore, role).client.get(f"/api/private/{shore.records['person', site]}")
    said = "refused" if answer.status_code == 403 else "told" if answer.json["contact"] else "nothing"
    assert said == table.PRIVATE_ROUTE[role, site]


@pytest.mark.parametrize(("role", "site"), list(table.PACK_OF_SITE))
def test_whose_pack_a_device_gets(shore, role, site) -> None:
    client = phone_of(shore, role).client
    for part in ("windows", "state", "visits", f"units/{shore.records['unit', site]}/flags"):
        assert client.get(f"/api/pack/sites/{PLACES[site]}/{part}").status_code == table.PACK_OF_SITE[role, site]
    told = table.PACK_OF_SITE[role, site] == 200
    assert {PLACES[site] in client.get("/api/pack").json["sites"], PLACES[site] in client.get("/api/pack/index").text} == {told}
    assert client.get("/api/pack/tray").status_code == table.TRAY[table.of(role)[0]]
    assert ("tray" in client.get("/api/pack").json) == (table.TRAY[table.of(role)[0]] == 200)


@pytest.mark.parametrize(("role", "device", "line"), list(table.TRAY_LINES))
def test_who_reads_a_held_line_and_hides_it(shore, role, device, line) -> None:
    """A desk's note that is held; its text may be private. A lead is told of the newest 200: the other cells' are older."""
    shore.programme.db().conn.execute("UPDATE tray SET received_at = received_at - 1")
    theirs, secret = joined_at(shore, "other" if device == "moved" else device), uuid.uuid4().hex
    if line == "unreadable":
        theirs.add(json.dumps({"g": HERE, "f": secret}).encode() + b"}")
    else:
        theirs.note("sign_in_private", str(uuid.uuid4()), PLACES[line], sign_in_id="x", medical_note=secret)
    (ack,) = theirs.sync().json["acks"]
    assert ack[2] == "q"
    if device == "moved":
        answer = phone_of(shore, "lead-all").client.patch(f"/api/devices/{theirs.client.device_id}", json={"role": "desk", "sites": [HERE]})
        assert answer.status_code == 200, answer.json
    lead = phone_of(shore, role, fresh=True)
    told = [lead.client.get("/api/pack/tray").text, lead.client.get("/api/pack").text]
    assert [secret in text for text in told] == [table.TRAY_LINES[role, device, line]] * 2
    assert hides(shore, lead, ack[1]) == table.TRAY_LINES[role, device, line]


def joined_at(shore, site: str) -> Phone:
    """A desk's device of a site, or with "null" of the whole programme."""
    client = shore.app.test_client()
    code = code_for(shore.programme, "desk", PLACES[site], NOW_MS)
    client.device_id = client.post("/api/join", json={"code": code, "device_name": "a desk"}).json["device_id"]
    return Phone(client, NOW_MS)


@pytest.mark.parametrize(("role", "site"), list(table.CALENDAR))
def test_whose_calendar_a_device_gets(shore, role, site) -> None:
    client = phone_of(shore, role).client
    assert client.get("/api/pack").status_code == 200
    device = device_of_id(shore.programme.db(), client.device_id)
    rows = shore.programme.db().conn.execute("SELECT site_id FROM calendar_address WHERE device_id = ?", (device.device_id,)).fetchall()
    assert ((PLACES[site],) in rows) == table.CALENDAR[role, site]


@pytest.mark.parametrize("site", table.SITES)
def test_what_a_file_that_proves_nothing_may_write(shore, site) -> None:
    phone = phone_of(shore, "lead-all", fresh=True)
    phone.lane_id, phone.key = uuid.uuid4().hex, None
    for name, kind in CATALOGUE.kinds.items():
        record_id = str(uuid.uuid4())
        phone.note(name, record_id, record_id if name == "site" and site != "null" else PLACES[site], **fields_of(kind))
    db = shore.programme.db()
    take_exported(db, phone.body(), CATALOGUE, NOW_MS, "a file", HERE)
    held = dict(db.conn.execute("SELECT number, why FROM tray WHERE lane_id = ?", (phone.lane_id,)).fetchall())
    found = {name: held.get(number, "taken") for number, name in enumerate(CATALOGUE.kinds, 1)}
    assert found == expected(table.said_of_ingesting, site)


def test_a_file_in_the_old_lane_of_a_lead_writes_as_crew_too(shore) -> None:
    lead = phone_of(shore, "lead-all", fresh=True)
    lead.lane_id, lead.key = uuid.uuid4().hex, None
    for _ in range(2):
        lead.note("closure", str(uuid.uuid4()), HERE, **fields_of(CATALOGUE.kinds["closure"]))
    assert {ack[2] for ack in lead.sync().json["acks"]} == {"ok"}
    lead.note("closure", str(uuid.uuid4()), HERE, **fields_of(CATALOGUE.kinds["closure"]))
    db = shore.programme.db()
    take_exported(db, lead.body(), CATALOGUE, NOW_MS, "a file", HERE)
    assert db.conn.execute("SELECT number, why FROM tray WHERE lane_id = ?", (lead.lane_id,)).fetchall() == [(3, "not-permitted")]
