"""How many people lead: one person with two devices is one, and who was let go of does not count."""

from __future__ import annotations

import json

from fieldlog.access.leads import count_leads
from fieldlog.store import Programme
from tests.a_phone import Phone

SITE, OTHER = "00000000-0000-4000-8000-00000000000a", "00000000-0000-4000-8000-00000000000b"


def test_people_count_and_not_devices(programme: Programme, client_of, now) -> None:
    db, now_ms = programme.db(), int(now().timestamp() * 1000)
    laptop, phone = (Phone(client_of("lead"), now_ms) for _ in range(2))
    assert count_leads(db, None) == 2, "nobody is chosen on either"
    for device in (laptop, phone):
        device.client.post("/api/sync", data=device.body(person="ines"))
    assert count_leads(db, None) == 1
    client_of("crew")
    assert count_leads(db, None) == 1
    gone = client_of("lead")
    assert count_leads(db, None) == 2
    laptop.client.delete(f"/api/devices/{gone.device_id}")
    assert count_leads(db, None) == 1
    client_of("lead").post("/api/leave")
    assert count_leads(db, None) == 1


def test_a_lead_of_one_site_leads_that_site_alone(programme: Programme, client_of, now) -> None:
    lead = Phone(client_of("lead"), int(now().timestamp() * 1000))
    for site in (SITE, OTHER):
        lead.note("site", site, site, name=f"Site {site[-1]}")
    lead.sync()
    client_of("lead", SITE)
    db = programme.db()
    assert (count_leads(db, frozenset([SITE])), count_leads(db, frozenset([OTHER])), count_leads(db, None)) == (2, 1, 1)


def test_a_leads_pack_says_how_many_and_changes_with_it(client_of, now) -> None:
    client = client_of("lead")

    def index() -> dict:
        return json.loads(client.get("/api/pack/index").data)

    first = index()
    assert first["programme"]["leads"] == 1
    other = Phone(client_of("lead"), int(now().timestamp() * 1000))
    second = index()
    assert (second["programme"]["leads"], second["etag"] != first["etag"]) == (2, True)
    me = Phone(client, int(now().timestamp() * 1000))
    for device in (me, other):
        device.client.post("/api/sync", data=device.body(person="ines"))
    third = index()
    assert (third["programme"]["leads"], third["etag"] != second["etag"]) == (1, True)
    other.client.post("/api/sync", data=other.body(person="ines"))
    assert index()["etag"] == third["etag"], "a contact alone changes no pack"
    crew = json.loads(client_of("crew").get("/api/pack/index").data)
    assert "leads" not in crew["programme"]
