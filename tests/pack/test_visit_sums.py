"""Readers get visit dates, purposes and observer numbers, never names; hours as sums. Nobody else's pack moves by a sign-in."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from a_phone import Phone
from access import rights_table as table
from fieldlog.pack.visit_sums import MISTAKEN
from tests.sync.lines import record_id

SITE, OTHER = record_id("site 1"), record_id("site 2")
EMMA, NOOR = record_id("Emma Vail"), record_id("Noor Halim")


@pytest.fixture
def crew(client_of, now) -> Phone:
    """A crew's phone that wrote of three visits: one of two people, one that was joined to it, one of last year."""
    lead = Phone(client_of("lead"), int((now() - timedelta(days=400)).timestamp() * 1000))
    for site in (SITE, OTHER):
        lead.note("site", site, site, name="Alder Spit", zone="America/New_York")
    lead.note("person", EMMA, SITE, display_name="Emma Vail")
    lead.note("person", NOOR, SITE, display_name="Noor Halim")
    lead.sync()
    phone = Phone(client_of("crew", SITE), int(now().timestamp() * 1000))
    first, second, old = (record_id(name) for name in ("first", "second", "old"))
    phone.note("visit", first, SITE, purpose="monitoring", started_at="2026-11-20T02:00:00Z")
    phone.note("visit", second, SITE, purpose="monitoring", started_at="2026-11-20T02:10:00Z")
    phone.note("visit", old, SITE, purpose="storm_check", started_at="2025-11-20T12:00:00Z")
    sign_in(phone, "1", first, EMMA, "2026-11-20T02:00:00Z", "2026-11-20T04:30:00Z")
    sign_in(phone, "2", second, NOOR, "2026-11-20T02:10:00Z", "2026-11-20T03:10:00Z")
    sign_in(phone, "3", second, EMMA, "2026-11-20T05:00:00Z", None)
    sign_in(phone, "4", old, EMMA, "2025-11-20T12:00:00Z", "2025-11-20T12:30:00Z")
    sign_in(phone, "5", old, NOOR, "2025-11-20T12:00:00Z", None, no_out_reason=MISTAKEN)
    assert {ack[2] for ack in phone.sync().json["acks"]} == {"ok"}
    lead.note("visit", second, SITE, joined_to=first)
    assert {ack[2] for ack in lead.sync().json["acks"]} == {"ok"}
    return phone


def sign_in(phone: Phone, name: str, visit: str, person: str, in_at: str, out_at: str | None, **more: str) -> None:
    given = {} if out_at is None else {"out_at": out_at}
    phone.write("sign_in", record_id(name), {"person_id": person, "in_at": in_at, **given, **more}, g=SITE, y=visit)


def test_a_reader_is_told_days_purposes_numbers_and_the_hours_of_a_year_together(crew, client_of) -> None:
    told = client_of("reader", SITE).get(f"/api/pack/sites/{SITE}/visits").json
    assert told == {
        "visits": [{"day": "2026-11-19", "purpose": "monitoring", "people": 2}, {"day": "2025-11-20", "purpose": "storm_check", "people": 1}],
        "visit_count": 2,
        "visit_years": [{"year": 2026, "visits": 1, "hours": 3.5}, {"year": 2025, "visits": 1, "hours": 0.5}],
    }
    assert {name: set(told[name][0]) for name in ("visits", "visit_years")} == table.VISIT_SUMS_KNOW


def test_nothing_of_it_names_a_person_or_a_record(crew, client_of) -> None:
    text = client_of("reader", SITE).get(f"/api/pack/sites/{SITE}/visits").text
    known = [EMMA, NOOR, "Emma", "Noor", *(record_id(name) for name in ("first", "second", "old", "1", "2", "3", "4", "5")), ":00", "T02"]
    assert [word for word in known if word in text] == []


def test_readers_alone_have_it_in_their_pack(crew, client_of) -> None:
    for role in ("lead", "crew", "desk", "reader"):
        parts = client_of(role, SITE).get("/api/pack/index").json["parts"]
        assert (f"sites/{SITE}/visits" in parts) == (role == "reader")


@pytest.mark.parametrize("sites", [(SITE,), ()], ids=["one site", "all sites"])
def test_a_sign_in_moves_the_packs_of_that_sites_readers_alone(crew, client_of, sites) -> None:
    clients = {name: client_of(role, *of) for name, role, of in (
        ("reader", "reader", sites), ("crew", "crew", sites), ("elsewhere", "reader", (OTHER,)),
    )}  # fmt: skip
    before = {name: client.get("/api/pack/index").json for name, client in clients.items()}
    sign_in(crew, "6", record_id("first"), NOOR, "2026-11-20T06:00:00Z", "2026-11-20T07:00:00Z")
    crew.sync()
    after = {name: client.get("/api/pack/index").json for name, client in clients.items()}
    assert {name for name in clients if before[name]["etag"] != after[name]["etag"]} == {"reader"}
    was, is_now = before["reader"]["parts"], after["reader"]["parts"]
    assert {address for address in was if was[address] != is_now[address]} == {f"sites/{SITE}/visits"}


def test_a_mistaken_sign_in_is_told_by_the_same_words_on_both_sides() -> None:
    text = (Path(__file__).parents[2] / "static" / "records" / "mistaken.js").read_text("utf-8")
    assert f"no_out_reason: '{MISTAKEN}'" in text
