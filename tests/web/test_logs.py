"""What the server writes about its work, and that nothing private is in it."""

from __future__ import annotations

import io
import json
import logging
import sqlite3
import threading

from tests.live_server import code_for

PRIVATE = {
    "a person's name": "Marigold Quillfeather", "a note": "found beside the lilac kayak", "a telephone": "+1 555 0142 777",
    "a medical note": "allergic to horseshoe-crab dust", "a device's name": "Quillfeather's own phone",
    "a file's text": "time,level m\n2026-11-25 06:12,1.5\nmidnight-heron",
}  # fmt: skip


def lines_of(written: io.StringIO) -> list[dict]:
    return [json.loads(line) for line in written.getvalue().splitlines()]


def test_a_request_is_one_json_line_that_tells_its_route(app, written):
    app.test_client().get("/calendar/some-secret.ics")
    (line,) = [line for line in lines_of(written) if line["from"] == "fieldlog.requests"]
    assert line["route"] == "/calendar/<secret>.ics"
    assert line["says"] == "GET /calendar/<secret>.ics"
    assert line["status"] == 404
    assert line["ms"] >= 0
    assert line["at"].endswith("Z")


def test_a_whole_session_leaves_nothing_private_in_the_log(app, programme, now, written):
    client = app.test_client()
    code = code_for(programme, "lead", None, int(now().timestamp() * 1000))
    client.post("/api/join", json={"code": code, "device_name": PRIVATE["a device's name"]})
    token = client.get_cookie("fieldlog").value
    header = {"p": 1, "rid": "r", "d": "log-lane-0001", "from": 1, "prev": "", "mine": 3, "cursor": None, "want": 9, "now": 1}
    fields = (
        ("person", {"name": PRIVATE["a person's name"]}), ("sighting", {"note": PRIVATE["a note"]}),
        ("person_private", {"telephone": PRIVATE["a telephone"], "medical": PRIVATE["a medical note"]}),
    )  # fmt: skip
    body = "".join(
        json.dumps({"v": 1, "d": "log-lane-0001", "n": n, "s": "0199c0ffee000000", "t": kind, "r": f"r-{n}", "f": said, "b": {}}) + "\n"
        for n, (kind, said) in enumerate(fields, 1)
    )
    assert client.post("/api/sync", data=json.dumps(header) + "\n" + body).status_code == 200
    invited = client.post("/api/invitations", json={"role": "crew", "site_id": None, "uses": 1, "hours": 1}).json
    client.post("/api/join", json={"code": "WXYZ-2345", "device_name": PRIVATE["a device's name"]})
    client.post("/api/sites/none/water-records", json={"text": PRIVATE["a file's text"], "name": PRIVATE["a note"]})
    client.get("/api/private/r-1")
    client.get("/calendar/a-secret-of-a-calendar.ics")
    client.get(f"/{PRIVATE['a note']}?q={PRIVATE['a telephone']}")
    client.open("/api/join", method=PRIVATE["a note"].upper().replace(" ", "-"))
    text = written.getvalue()
    assert len(lines_of(written)) >= 9
    secrets = [*PRIVATE.values(), token, code, code.replace("-", ""), invited["code"], "WXYZ", "a-secret-of-a-calendar", "lilac"]
    assert [secret for secret in secrets if secret.casefold() in text.casefold()] == []


def test_a_fault_is_told_by_its_kind_and_place_without_what_it_met(app, written):
    def faulty(name: str) -> None:
        raise KeyError(PRIVATE["a person's name"], name)

    app.add_url_rule("/api/faulty/<name>", "faulty", faulty)
    app.config["PROPAGATE_EXCEPTIONS"] = False
    assert app.test_client().get(f"/api/faulty/{PRIVATE['a telephone']}").status_code == 500
    (line,) = [line for line in lines_of(written) if line["level"] == "error"]
    assert line["fault"] == "KeyError"
    assert line["where"][-1].endswith(" faulty")
    assert line["says"] == "A request met a fault at /api/faulty/<name>"
    assert "Quillfeather" not in written.getvalue()
    assert "555" not in written.getvalue()


def test_a_thread_that_ends_by_a_fault_is_one_line(written, capfd):
    def faulty() -> None:
        raise KeyError(PRIVATE["a note"])

    ended = threading.Thread(target=faulty, name="packs")
    ended.start()
    ended.join()
    (line,) = lines_of(written)
    assert (line["level"], line["says"], line["fault"]) == ("error", "The thread packs ended by a fault", "KeyError")
    assert "kayak" not in written.getvalue()
    assert capfd.readouterr().err == ""


def test_a_database_that_is_gone_is_no_private_matter(app, written):
    def gone() -> None:
        raise sqlite3.OperationalError(PRIVATE["a note"])

    app.add_url_rule("/api/gone", "gone", gone)
    app.config["PROPAGATE_EXCEPTIONS"] = False
    app.test_client().get("/api/gone")
    assert PRIVATE["a note"] not in written.getvalue()


def test_a_visitor_who_leaves_in_the_middle_leaves_no_address_in_the_log(written):
    secret = "a-secret-of-a-calendar"
    logging.getLogger("waitress").info(f"Client disconnected while serving /calendar/{secret}.ics")
    (line,) = lines_of(written)
    assert line["from"] == "waitress"
    assert secret not in written.getvalue()
    assert line["says"].startswith("test_logs.py:")
