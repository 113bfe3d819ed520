"""A person at a further site is a second record that says whose it is: the one reference that crosses sites, for leads of both."""

from __future__ import annotations

import uuid

import pytest

from a_phone import Phone, texts_pulled
from fieldlog.flags.reading import list_flags
from tests.sync.lines import REQUIRED, record_id

HERE, THERE, INES, INES_THERE = (record_id(name) for name in ("Alder Spit", "Heron Bar", "Ines here", "Ines there"))


@pytest.fixture
def now_ms(now) -> int:
    return int(now().timestamp() * 1000)


@pytest.fixture
def lead(client_of, now_ms) -> Phone:
    phone = Phone(client_of("lead"), now_ms)
    for site_id in (HERE, THERE):
        phone.note("site", site_id, site_id, **REQUIRED["site"])
    phone.note("person", INES, HERE, display_name="Ines Calder")
    phone.note("person", INES_THERE, THERE, display_name="Ines Calder")
    assert words(phone) == ["ok"] * 4
    return phone


def words(phone: Phone) -> list[str]:
    return ["ok" if ack[2] == "ok" else ack[4] for ack in phone.sync().json["acks"]]


def says_same(phone: Phone, **more: object) -> str:
    phone.note("person", INES_THERE, THERE, same_as=INES, **more)
    return words(phone)[-1]


def same_as_of(programme) -> str | None:
    ((other,),) = programme.db().conn.execute("SELECT same_as FROM person WHERE record_id = ?", (INES_THERE,)).fetchall()
    return other


def test_a_lead_of_both_sites_says_who_is_the_same(lead, now, programme):
    assert says_same(lead) == "ok"
    assert same_as_of(programme) == INES
    assert [flag for flag in list_flags(programme.db(), THERE, now(), all=True) if flag["rule"] == "orphan"] == []


@pytest.mark.parametrize(("role", "site"), [("lead", THERE), ("lead", HERE), ("crew", None), ("desk", None)])
def test_nobody_else_says_it(lead, client_of, now_ms, role, site):
    assert says_same(Phone(client_of(role, site), now_ms)) == "not-permitted"


@pytest.mark.parametrize(("role", "site"), [("lead", THERE), ("crew", None), ("desk", None)])
def test_nobody_else_makes_a_person_who_says_it(lead, client_of, now_ms, role, site):
    phone = Phone(client_of(role, site), now_ms)
    phone.note("person", str(uuid.uuid4()), THERE, display_name="Mei Tarn", same_as=INES)
    assert words(phone) == ["not-permitted"]


def test_a_lead_of_two_sites_waits_for_a_person_who_is_not_known_yet(lead, client_of, now_ms, programme):
    both = client_of("lead", HERE)
    assert lead.client.patch(f"/api/devices/{both.device_id}", json={"role": "lead", "sites": [HERE, THERE]}).status_code == 200
    phone, late = Phone(both, now_ms), str(uuid.uuid4())
    phone.note("person", INES_THERE, THERE, same_as=late)
    assert words(phone) == ["waits-for-first"]
    lead.note("person", late, HERE, display_name="Ines Calder")
    lead.sync()
    assert same_as_of(programme) == late


@pytest.mark.parametrize("sites", [None, [HERE, THERE]])
def test_nobody_is_the_same_person_as_himself(lead, client_of, now_ms, programme, sites):
    client = client_of("lead", HERE)
    assert lead.client.patch(f"/api/devices/{client.device_id}", json={"role": "lead", "sites": sites}).status_code == 200
    phone, new = Phone(client, now_ms), str(uuid.uuid4())
    phone.note("person", INES_THERE, THERE, same_as=INES_THERE)
    phone.note("person", new, THERE, display_name="Mei Tarn", same_as=new)
    phone.note("person", INES_THERE, THERE, same_as=INES)
    assert words(phone) == ["names-itself:same_as", "names-itself:same_as", "ok"]
    sentences = {sentence for (sentence,) in programme.db().conn.execute("SELECT sentence FROM tray").fetchall()}
    assert sentences == {"Same person as names this record itself. Choose another one, or clear it; the text is kept."}
    assert same_as_of(programme) == INES


def test_the_other_sites_record_itself_stays_there(lead, client_of, now_ms):
    says_same(lead)
    lines = texts_pulled(Phone(client_of("crew", THERE), now_ms).sync())
    assert not any(f'"r":"{INES}"' in line for line in lines)
