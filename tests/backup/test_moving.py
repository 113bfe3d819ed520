"""A programme moves to another machine by backup, copy and restore; phones sync on under the same address, and nobody is let in again."""

from __future__ import annotations

import json
import shutil
from contextlib import closing
from pathlib import Path

import pytest

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme
from fieldlog.sync.opening import open_programme
from tests.live_server import LiveServer, serving
from tests.phone.phone_page import PhonePage

pytestmark = pytest.mark.browser


def wrote(phone: PhonePage, *names: str) -> None:
    phone.do("for (const name of told) await phone.write('species', null, { scientific_name: name }, { siteId: null });", list(names))


def joined(browser, live: LiveServer) -> PhonePage:
    phone = PhonePage(browser.new_context(), live.url)
    phone.join(live.join_link("lead").split("=")[1])
    return phone


def names_in(programme: Programme) -> list[str]:
    lines = (json.loads(row[0]) for row in programme.db().conn.execute("SELECT line FROM log ORDER BY seq"))
    return sorted(line["f"]["scientific_name"] for line in lines)


def test_phones_sync_on_after_a_move_and_nothing_is_lost_doubled_or_let_in_again(browser, programme, call, tmp_path: Path, now) -> None:
    with serving(programme, now) as old:
        staying, away, gone = (joined(browser, old) for _ in range(3))
        port = int(old.url.rpartition(":")[2])
        wrote(staying, "Crab")
        wrote(away, "Whelk", "Limpet")
        wrote(gone, "Mussel")
        assert [phone.sync() for phone in (staying, away, gone)] == [True] * 3
        staying.do("await phone.api('DELETE', `/api/devices/${told}`);", gone.do("return phone.me.device_id;"))
        wrote(away, "Barnacle")
    programme.close()
    wrote(staying, "Periwinkle")
    assert staying.sync() is False, "no server is there"
    backup = tmp_path / "kept" / "move.zip"
    backup.parent.mkdir()
    assert call("backup", backup, data=programme.folder).status == 0
    shutil.rmtree(programme.folder)
    other = tmp_path / "other machine"
    other.mkdir()
    copied = shutil.copy(backup, other / "move.zip")
    said = call("restore", copied, data=other / "programme")
    assert "Devices waiting to be confirmed: 2." in said.out
    assert "fieldlog confirm --all" in said.out
    assert call("confirm", "--all", data=other / "programme").out.startswith("Confirmed: 2 devices, 3 invitations.")
    with closing(open_programme(other / "programme", CATALOGUE, int(now().timestamp() * 1000))) as moved, serving(moved, now, port) as new:
        assert new.url == old.url
        for phone in (staying, away, staying):
            assert phone.sync() is True
        assert names_in(moved) == ["Barnacle", "Crab", "Limpet", "Mussel", "Periwinkle", "Whelk"]
        for phone in (staying, away):
            assert set(phone.states()) == {"taken"}
        assert sorted(staying.do("return (await phone.rows('species')).map((row) => row.scientific_name);")) == names_in(moved)
        wrote(gone, "Slipper shell")
        gone.sync()
        assert gone.state["revoked"] is True
        assert "Slipper shell" not in names_in(moved)
        assert call("confirm", data=moved.folder).out.strip() == "Every device is confirmed."
    for phone in (staying, away, gone):
        phone.page.context.close()
