"""Leaving takes the token off the browser as it was put there, and the token lets nobody in again."""

from __future__ import annotations


def test_leaving_takes_the_token_away_and_it_is_worth_nothing_afterwards(client_of) -> None:
    client = client_of("crew")
    token = client.get_cookie("fieldlog").value
    answer = client.post("/api/leave")
    assert answer.status_code == 204
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("fieldlog=;")
    for part in ("Max-Age=0", "Path=/", "HttpOnly", "SameSite=Strict"):
        assert part in cookie
    client.set_cookie("fieldlog", token)
    assert client.post("/api/sync", data=b"").status_code == 401


def test_over_https_the_bound_token_is_the_one_that_goes(client_of) -> None:
    client = client_of("crew")
    client.set_cookie("__Host-fieldlog", client.get_cookie("fieldlog").value, secure=True)
    answer = client.post("/api/leave", base_url="https://localhost")
    assert answer.status_code == 204
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("__Host-fieldlog=;")
    assert "Secure" in cookie
    assert "HttpOnly" in cookie
