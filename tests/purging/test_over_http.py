"""Who may see what is held about a person, and forget them: a lead of all their sites, who types the name."""

from __future__ import annotations

from tests.a_phone import Phone
from tests.sync.lines import record_id

SITE, OTHER, MARIA, AGAIN = record_id("Alder Spit"), record_id("Heron Bar"), record_id("Maria"), record_id("Maria at Heron Bar")


def person_at_two_sites(client_of, now) -> tuple:
    lead = client_of("lead")
    phone = Phone(lead, int(now().timestamp() * 1000))
    for site in (SITE, OTHER):
        phone.note("site", site, site)
    phone.note("person", MARIA, SITE, display_name="Maria Quintanilla")
    phone.note("person_private", record_id("contact"), SITE, person_id=MARIA, phone="555 0142")
    phone.note("visit", record_id("visit"), SITE, purpose="walk", started_at="2026-09-22T06:00:00Z", conditions="Calm; Maria slipped at the ladder")
    phone.note("person", AGAIN, OTHER, display_name="Maria Quintanilla", same_as=MARIA)
    assert [ack[2] for ack in phone.sync().json["acks"]] == ["ok"] * 6
    return lead, client_of("lead", SITE), client_of("crew", SITE)


def test_a_lead_of_all_sites_forgets_a_person_at_all_of_them(client_of, now, programme) -> None:
    lead, of_one_site, crew = person_at_two_sites(client_of, now)
    assert crew.get(f"/api/people/{MARIA}/held").status_code == 403
    refused = of_one_site.get(f"/api/people/{MARIA}/held")
    assert refused.status_code == 403
    assert refused.json["detail"].endswith("Only a lead of all their sites may do this: ask one.")
    assert lead.get("/api/people/nobody/held").status_code == 404
    held = lead.get(f"/api/people/{MARIA}/held").json
    assert {one["kind"]: (one["count"], one["seen_by"], one["fate"]) for one in held["holdings"]} == {
        "person": (2, ["crew", "desk", "lead"], "initials"), "person_private": (1, ["lead"], "deleted"),
    }  # fmt: skip
    assert [(one["kind"], one["hit"], one["is_former"]) for one in held["named"]] == [("visit", "Maria", False)]
    assert held["warnings"][0].startswith("This cannot be undone.")
    assert "apps up to 0.3.0" in held["warnings"][1], "its lines carry no salt"
    purge = f"/api/people/{MARIA}/purge"
    assert of_one_site.post(purge, json={"tag": held["tag"], "name": "Maria Quintanilla"}).status_code == 403
    assert lead.post(purge, json={"tag": held["tag"], "name": "Maria"}).status_code == 400
    assert lead.post(purge, json={"tag": "0" * 32, "name": "Maria Quintanilla"}).status_code == 409
    assert programme.db().conn.execute("SELECT count(*) FROM purged").fetchone() == (0,)
    done = lead.post(purge, json={"tag": held["tag"], "name": " maria  quintanilla"})
    assert (done.status_code, done.json["initials"], done.json["is_clean"]) == (200, "M. Q.", True)
    assert programme.db().conn.execute("SELECT DISTINCT display_name FROM person").fetchall() == [("M. Q.",)]
    again = lead.get(f"/api/people/{AGAIN}/held").json
    assert again["is_forgotten"]
    assert lead.post(purge, json={"tag": again["tag"], "name": "M. Q."}).status_code == 409
