"""Joining by a code: what lets in, what does not, and how often one may try."""

from __future__ import annotations

import re
import sqlite3

import pytest

from fieldlog.access import invitations
from fieldlog.access.devices import device_of_token
from fieldlog.errors import BadRequest, CodeRefused

NOW_MS = 1_795_586_400_000
HOUR_MS = 3_600_000


def invite(programme, role="crew", site_id=None, uses=1, hours=24):
    return invitations.invite(programme.db(), None, role, site_id, uses, hours, NOW_MS)


def test_a_code_is_eight_letters_of_which_none_is_taken_for_another(programme):
    assert len(invitations.ALPHABET) == len(set(invitations.ALPHABET)) == 32
    assert not set("01IO") & set(invitations.ALPHABET)
    codes = {invite(programme).code for _ in range(50)}
    assert len(codes) == 50
    assert all(re.fullmatch(rf"[{invitations.ALPHABET}]{{4}}-[{invitations.ALPHABET}]{{4}}", code) for code in codes)


def test_only_hashes_of_code_and_token_are_stored(programme):
    made = invite(programme)
    _, token = invitations.join(programme.db(), made.code, "a phone", NOW_MS)
    programme.db().conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    stored = programme.path.read_bytes()
    assert made.code.encode() not in stored
    assert made.code.replace("-", "").encode() not in stored
    assert token.encode() not in stored


def test_a_token_has_256_random_bits(programme):
    made = invite(programme, uses=20)
    tokens = {invitations.join(programme.db(), made.code, "a phone", NOW_MS)[1] for _ in range(20)}
    assert len(tokens) == 20
    assert all(len(token) == 43 for token in tokens)  # 32 bytes in base64 without padding


@pytest.mark.parametrize("write", [str.lower, lambda c: c.replace("-", ""), lambda c: f" {c[:2]} {c[2:]} "])
def test_case_spaces_and_dashes_of_a_code_do_not_count(programme, write):
    made = invite(programme)
    device, token = invitations.join(programme.db(), write(made.code), "a phone", NOW_MS)
    assert device_of_token(programme.db(), token) == device


def test_a_code_lets_in_as_many_as_it_says(programme):
    made = invite(programme, uses=2)
    for _ in range(2):
        invitations.join(programme.db(), made.code, "a phone", NOW_MS)
    with pytest.raises(CodeRefused):
        invitations.join(programme.db(), made.code, "a third phone", NOW_MS)


def test_unknown_expired_used_and_withdrawn_codes_are_refused_with_the_same_words(programme, client_of):
    expired, used, withdrawn = invite(programme), invite(programme), invite(programme)
    lead = device_of_token(programme.db(), invitations.join(programme.db(), invite(programme, "lead").code, "", NOW_MS)[1])
    invitations.join(programme.db(), used.code, "a phone", NOW_MS)
    invitations.withdraw(programme.db(), lead, withdrawn.invitation_id, NOW_MS)
    said = set()
    for code, at in (("2222-2222", NOW_MS), (expired.code, NOW_MS + 24 * HOUR_MS), (used.code, NOW_MS), (withdrawn.code, NOW_MS)):
        with pytest.raises(CodeRefused) as refused:
            invitations.join(programme.db(), code, "a phone", at)
        said.add(str(refused.value))
    assert len(said) == 1


def test_a_refused_join_takes_the_same_steps_whatever_is_wrong(programme):
    """Time follows from work: each refusal is one and the same statement, whose lookup is by a hash nobody can steer."""
    expired, used = invite(programme), invite(programme)
    invitations.join(programme.db(), used.code, "a phone", NOW_MS)
    steps = {}
    for name, code in (("unknown", "2222-2222"), ("expired", expired.code), ("used", used.code)):
        seen: list[str] = []
        programme.db().conn.set_trace_callback(lambda sql, seen=seen: seen.append(re.sub(r"'[^']*'|\d+", "?", sql)))
        with pytest.raises(CodeRefused):
            invitations.join(programme.db(), code, "a phone", NOW_MS + 25 * HOUR_MS)
        programme.db().conn.set_trace_callback(None)
        steps[name] = seen
    assert steps["unknown"] == steps["expired"] == steps["used"]


@pytest.mark.parametrize(
    ("role", "uses", "hours", "field"),
    [("boss", 1, 1, "role"), ("crew", 0, 1, "uses"), ("crew", 501, 1, "uses"), ("crew", True, 1, "uses"),
     ("crew", 1, 0, "hours"), ("crew", 1, 2.5, "hours"), (None, 1, 1, "role"), (["lead"], 1, 1, "role")],
)  # fmt: skip
def test_an_impossible_invitation_is_refused_by_name(programme, role, uses, hours, field):
    with pytest.raises(BadRequest) as refused:
        invite(programme, role, None, uses, hours)
    assert field in refused.value.fields


def test_an_invitation_to_a_site_that_does_not_exist_is_refused(programme):
    with pytest.raises(BadRequest, match="No site"):
        invite(programme, site_id="0190b0b0-0000-7000-8000-000000000001")


def test_joining_over_http_sets_a_cookie_that_scripts_and_other_sites_cannot_use(app, programme):
    answer = app.test_client().post("/api/join", json={"code": invite(programme).code, "device_name": "a phone"})
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("fieldlog=")
    for part in ("HttpOnly", "SameSite=Strict", "Path=/", f"Max-Age={400 * 86400}"):
        assert part in cookie
    assert answer.json["role"] == "crew"
    assert answer.json["sites"] is None
    assert answer.json["programme"] == "Skein Bay"


def test_over_https_the_cookie_is_bound_to_host_and_https(app, programme):
    client = app.test_client()
    body = {"code": invite(programme).code, "device_name": "a phone"}
    answer = client.post("/api/join", json=body, base_url="https://field.example")
    assert answer.headers["Set-Cookie"].startswith("__Host-fieldlog=")
    assert "Secure" in answer.headers["Set-Cookie"]
    assert "Domain" not in answer.headers["Set-Cookie"]


def test_opening_the_invitations_page_uses_none(app, programme):
    made = invite(programme)
    assert app.test_client().get("/", buffered=True).status_code == 200  # the code is behind the #, which no browser sends
    assert app.test_client().post("/api/join", json={"code": made.code, "device_name": "a phone"}).status_code == 200


NO_NAMES = ("", "  ", "\u200b", "\u2800", "\u3164", "\u202e", "\x9b", "a\x9b31m", "a\x7f", "a\nb", "phone \u202eenohp", "\u2066x\u2069")


def test_a_device_needs_a_name_that_shows_something_and_does_not_move_what_stands_beside_it(app, programme) -> None:
    body = {"code": invite(programme, uses=2).code}
    answers = {name: app.test_client().post("/api/join", json={**body, "device_name": name}) for name in NO_NAMES}
    assert {name: (answer.status_code, list(answer.json.get("fields", ()))) for name, answer in answers.items()} == dict.fromkeys(
        NO_NAMES, (400, ["device_name"])
    )
    assert app.test_client().post("/api/join", json={**body, "device_name": "Zoë\u200d 潮"}).status_code == 200


@pytest.mark.parametrize("body", [{}, {"code": 7, "device_name": "x"}, {"code": "2222-2222"}, {"code": "", "device_name": "x"}])
def test_a_join_without_code_or_name_is_a_sentence(app, body):
    answer = app.test_client().post("/api/join", json=body)
    assert answer.status_code == 400
    assert answer.json["word"] == "bad-request"
    assert answer.json["fields"]


def test_ten_failed_joins_a_minute_are_all_an_address_gets(app, programme):
    client = app.test_client()
    letters = invitations.ALPHABET
    for number in range(10):
        answer = client.post("/api/join", json={"code": f"ABCD-EFG{letters[number]}", "device_name": "x"})
        assert answer.status_code == 403
    made = invite(programme)
    answer = client.post("/api/join", json={"code": made.code, "device_name": "x"})
    assert answer.status_code == 429
    assert answer.mimetype == "application/problem+json"
    assert answer.json["word"] == "too-often"
    assert 1 <= int(answer.headers["Retry-After"]) <= 61
    elsewhere = client.post("/api/join", json={"code": made.code, "device_name": "x"}, environ_base={"REMOTE_ADDR": "192.0.2.7"})
    assert elsewhere.status_code == 200


def test_a_class_of_forty_behind_one_address_joins_at_once(app, programme):
    made = invite(programme, uses=40)
    for _ in range(40):
        answer = app.test_client().post("/api/join", json={"code": made.code, "device_name": "x"})
        assert answer.status_code == 200


MALFORMED = ({}, {"device_name": ""}, {"device_name": 7}, {"device_name": "x" * 81}, {"device_name": None})


def test_strangers_who_know_a_one_use_code_cannot_lock_it(app, programme):
    made = invite(programme)
    for number in range(50):
        body = {"code": made.code, **MALFORMED[number % len(MALFORMED)]}
        answer = app.test_client().post("/api/join", json=body, environ_base={"REMOTE_ADDR": f"192.0.2.{number}"})
        assert answer.status_code == 400
    honest = app.test_client().post("/api/join", json={"code": made.code, "device_name": "x"}, environ_base={"REMOTE_ADDR": "198.51.100.1"})
    assert honest.status_code == 200


def test_what_is_no_guess_is_not_counted_as_one(app, programme):
    """A class behind one address: whoever sends nonsense there keeps nobody out."""
    made = invite(programme)
    for number in range(50):
        assert app.test_client().post("/api/join", json=MALFORMED[number % len(MALFORMED)]).status_code == 400
    assert app.test_client().post("/api/join", json={"code": made.code, "device_name": "x"}).status_code == 200


def test_an_address_of_the_newer_kind_is_limited_with_its_whole_network(app, programme):
    """Whoever has one address of IPv6 has 2^64 of them."""
    letters = invitations.ALPHABET

    def attempt(number, address):
        body = {"code": f"ABCD-EFG{letters[number]}", "device_name": "x"}
        return app.test_client().post("/api/join", json=body, environ_base={"REMOTE_ADDR": address}).status_code

    assert [attempt(number, f"2001:db8:0:1::{number:x}") for number in range(11)] == [403] * 10 + [429]
    assert attempt(11, "2001:db8:0:2::1") == 403
    assert attempt(12, "no address") == 403


@pytest.mark.parametrize("site_id", [7, ["a"], {"a": 1}, "nowhere"])
def test_an_invitation_to_what_is_no_site_is_a_sentence(client_of, site_id):
    answer = client_of("lead").post("/api/invitations", json={"role": "crew", "site_id": site_id, "uses": 1, "hours": 1})
    assert (answer.status_code, answer.json["word"]) == (400, "bad-request")


def test_a_lead_invites_with_link_code_and_picture(client_of):
    made = client_of("lead").post("/api/invitations", json={"role": "crew", "site_id": None, "uses": 3, "hours": 2})
    assert made.status_code == 201
    assert made.json["link"] == f"/#join={made.json['code']}"
    assert made.json["qr_svg"].startswith("<svg")
    assert 'xmlns="http://www.w3.org/2000/svg"' in made.json["qr_svg"]
    assert "style=" not in made.json["qr_svg"]


def test_an_invitation_asked_for_under_an_endless_name_is_a_sentence(app, client_of):
    lead = client_of("lead")
    asked = {"role": "crew", "site_id": None, "uses": 3, "hours": 2}
    cookie = f"fieldlog={lead.get_cookie('fieldlog').value}"
    for host, status in ((f"{'a.' * 100}example", 201), (f"{'a.' * 2000}example", 400)):
        plain = app.test_client(use_cookies=False)
        answer = plain.post("/api/invitations", json=asked, headers={"Host": host, "Cookie": cookie})
        assert (answer.status_code, answer.mimetype) == (status, "application/json" if status == 201 else "application/problem+json")


def test_the_list_of_invitations_knows_no_codes(client_of, now):
    lead = client_of("lead")
    made = lead.post("/api/invitations", json={"role": "desk", "site_id": None, "uses": 3, "hours": 2}).json
    (listed,) = [row for row in lead.get("/api/invitations").json["invitations"] if row["role"] == "desk"]
    assert listed["invitation_id"] == made["invitation_id"]
    assert listed["uses_left"] == 3
    assert listed["expires_at"] == int(now().timestamp() * 1000) + 2 * HOUR_MS
    assert not {"code", "code_sha256"} & set(listed)


def test_a_withdrawn_invitation_lets_nobody_in(client_of, app):
    lead = client_of("lead")
    made = lead.post("/api/invitations", json={"role": "crew", "site_id": None, "uses": 3, "hours": 2}).json
    assert lead.delete(f"/api/invitations/{made['invitation_id']}").status_code == 204
    assert app.test_client().post("/api/join", json={"code": made["code"], "device_name": "x"}).status_code == 403
    assert lead.delete("/api/invitations/none").status_code == 404


@pytest.mark.parametrize("role", ["crew", "desk", "reader"])
def test_only_leads_invite_list_and_revoke(client_of, role):
    client = client_of(role)
    for method, path in (
        ("POST", "/api/invitations"), ("GET", "/api/invitations"), ("DELETE", "/api/invitations/x"), ("GET", "/api/devices"),
        ("DELETE", "/api/devices/x"), ("PATCH", "/api/devices/x"), ("GET", "/api/private/x"), ("GET", "/api/photos"),
    ):  # fmt: skip
        answer = client.open(path, method=method, json={})
        assert (answer.status_code, answer.json["word"]) == (403, "not-allowed"), path


def test_a_full_database_lets_nobody_in_and_says_so(programme):
    made = invite(programme)
    programme.db().conn.execute(f"PRAGMA max_page_count = {programme.db().conn.execute('PRAGMA page_count').fetchone()[0]}")
    with pytest.raises(Exception) as full:
        for _ in range(2000):
            invitations.invite(programme.db(), None, "crew", None, 1, 1, NOW_MS)
    assert getattr(full.value, "status", None) == 507
    assert not isinstance(full.value, sqlite3.Error)
    assert made.code
