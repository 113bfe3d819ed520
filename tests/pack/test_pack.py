"""The pack: what a phone needs for weeks without a network, small, and sent only when it changed."""

from __future__ import annotations

import gzip
from datetime import UTC, datetime

import pytest

from fieldlog import create_app
from fieldlog.commands.windows import site_windows
from tests.conftest import DEMO_DAY
from tests.live_server import code_for

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)
MOST_BYTES = 80 * 1024


@pytest.fixture
def demo_client(demo_programme):
    """demo_client(role): a client of the demo that joined."""
    app = create_app(demo_programme.folder, lambda: NOON)

    def joined(role: str):
        client = app.test_client()
        code = code_for(demo_programme, role, None, int(NOON.timestamp() * 1000))
        assert client.post("/api/join", json={"code": code, "device_name": "a phone"}).status_code == 200
        return client

    yield joined
    app.extensions["photo_copies"].close()
    app.extensions["programme"].close()


def test_the_demos_pack_is_small(demo_client) -> None:
    answer = demo_client("crew").get("/api/pack")
    assert answer.status_code == 200
    assert len(gzip.compress(answer.data, 6)) <= MOST_BYTES


def test_a_pack_that_did_not_change_is_not_sent_again(demo_client) -> None:
    client = demo_client("crew")
    first = client.get("/api/pack")
    again = client.get("/api/pack", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert client.get("/api/pack", headers={"If-None-Match": '"other"'}).status_code == 200


def test_each_role_gets_its_own(demo_client) -> None:
    packs = {role: demo_client(role).get("/api/pack") for role in ("lead", "crew", "reader")}
    assert len({answer.headers["ETag"] for answer in packs.values()}) == 3
    flags = {role: [flag for site in answer.json["sites"].values() for flag in site["flags"]] for role, answer in packs.items()}
    assert flags["lead"]


def test_nobody_gets_one_without_joining(demo_client, demo_programme) -> None:
    app = demo_client("crew").application
    assert app.test_client().get("/api/pack").status_code == 401


@pytest.mark.browser
def test_the_phone_unpacks_the_windows_that_the_server_computed(demo_client, demo_programme, modules_page) -> None:
    (site,) = demo_programme.db().query("SELECT * FROM site")
    sent = demo_client("crew").get("/api/pack").json
    (part,) = sent["sites"].values()
    told = modules_page.evaluate(
        """async ([part, site]) => {
          const { unpackWindows } = await import('/store/packed.js');
          return unpackWindows(part.windows, 'site', site);
        }""",
        [part, {**site}],
    )
    expected, _ = site_windows(demo_programme.db(), site, DEMO_DAY, 40, rows=False)
    by_low = {round(window["lowMs"] / 60_000): window for window in told}
    for window in expected[2:]:
        low = round(datetime.fromisoformat(window["low_at"]).timestamp() / 60)
        one = by_low.get(low) or by_low.get(low - 1) or by_low[low + 1]
        assert one["safe"] == window["safe"]
        assert one["lowM"] == pytest.approx(window["low_level_m"], abs=0.006)
        if window["opens_at"]:
            assert one["opensMs"] / 1000 == pytest.approx(datetime.fromisoformat(window["opens_at"]).timestamp(), abs=60)
    assert len(told) > 500
