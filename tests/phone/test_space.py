"""A full phone: text still saves out of the space kept for it, photos stop with a sentence."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.phone.phone_page import SPECIES, PhonePage

pytestmark = pytest.mark.browser
DISK = "150m"
FILL = 4 * 1024 * 1024
ADD_PHOTO = """
const { keepWhileRoom } = await import('/store/photos.js');
const bytes = new Uint8Array(told);
for (let start = 0; start < told; start += 65536) crypto.getRandomValues(bytes.subarray(start, start + 65536));
return tell(() => keepWhileRoom(phone, { bytes: bytes.buffer, type: 'image/jpeg' }));
"""


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path | None]:
    """A folder on a disk of its own, None where this machine lets nobody mount one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={DISK}", "tmpfs", str(disk)]
    is_mounted = os.geteuid() == 0 and subprocess.run(mount, capture_output=True, check=False).returncode == 0
    yield disk if is_mounted else None
    if is_mounted:
        subprocess.run(["umount", "-l", str(disk)], check=True)


def stub_quota(phone: PhonePage) -> None:
    """A database that takes no more than it has, but for what the ballast gives back."""
    phone.do("""
      const put = IDBObjectStore.prototype.put;
      const clear = IDBObjectStore.prototype.clear;
      globalThis.room = 0;
      IDBObjectStore.prototype.clear = function () { if (this.name === 'ballast') globalThis.room = 1e6; return clear.call(this); };
      IDBObjectStore.prototype.put = function (value, key) {
        const bytes = value.byteLength ?? JSON.stringify(value).length;
        if (this.name !== 'meta' && bytes > globalThis.room) throw new DOMException('full', 'QuotaExceededError');
        return key === undefined ? put.call(this, value) : put.call(this, value, key);
      };""")


def test_a_full_disk_stops_photos_and_text_still_saves(playwright, chromium_options, bench_url, tmp_path, small_disk) -> None:
    profile = (small_disk or tmp_path) / "profile"
    context = playwright.chromium.launch_persistent_context(profile, **chromium_options)
    phone = PhonePage(context, bench_url, "/blank")
    phone.do("await phone.keepReserve();")
    assert phone.do("return [phone.isFull, await phone.store.run(['ballast'], 'readonly', (tx) => tx.store.count())];") == [False, 8]
    phone.write()
    if small_disk is None:
        stub_quota(phone)
    said = ""
    for _ in range(60):
        said = phone.do(ADD_PHOTO, FILL)
        if len(said) != 64:
            break
    assert said.startswith("NOT SAVED. This phone has no space left for photos. Text is still saved."), said
    assert phone.do("return phone.isFull;") is True
    # The reserve stands again where it finds room; a photo for which there is none does not get it.
    assert phone.do(ADD_PHOTO.replace("keepWhileRoom(phone, { bytes: bytes.buffer, type: 'image/jpeg' })",
                                      "phone.addPhoto(new Blob([bytes]), { of_kind: 'visit', of_id: 'v', people: false })"), FILL) == said
    assert phone.do("return phone.isFull;") is True
    assert phone.do("return phone.store.run(['ballast'], 'readonly', (tx) => tx.store.count());") == 0
    for _ in range(20):
        assert phone.do(f"return tell(async () => {{ await {SPECIES}; return 'saved'; }});") == "saved"
    assert phone.numbers() == list(range(1, 22))
    context.close()


def test_without_any_space_the_entry_is_not_said_to_be_saved(lead) -> None:
    stub_quota(lead)
    lead.do("IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError'); };")
    said = lead.do(f"return tell(() => {SPECIES});")
    assert said == "NOT SAVED. This phone has no space left. Free some space (photos, videos, other apps), then save again."
    assert lead.do("return faults;") == [said]
    assert lead.numbers() == []


def test_photos_are_taken_again_once_there_is_space_for_the_reserve(lead) -> None:
    lead.do("await phone.keepMeta({ full: true }); await phone.readMeta(); await phone.keepReserve();")
    assert lead.do("return phone.isFull;") is False
    full = "await phone.keepMeta({ full: true }); await phone.readMeta();"
    lead.do(full)
    assert lead.sync()
    assert lead.do("return phone.isFull;") is False, "photos may have left"
    lead.do(full)
    assert lead.do("return tell(async () => { await phone.addPhoto(new Blob(['x']), { of_kind: 'visit', of_id: 'v', people: false }); return 'taken'; });") == "taken"


PARTS = "(await phone.store.run(['ballast'], 'readonly', (tx) => tx.store.count()))"
HELD_IDLE = """
globalThis.idle = [];
globalThis.requestIdleCallback = (go) => { idle.push(go); };
globalThis.laying = phone.keepReserve();
globalThis.settle = () => new Promise((done) => setTimeout(done));
"""


def test_the_reserve_is_laid_while_nothing_else_is_to_be_done_and_an_entry_does_not_wait_for_it(lead) -> None:
    lead.do(HELD_IDLE)
    assert lead.do(f"return [await tell(async () => {{ await {SPECIES}; return 'saved'; }}), {PARTS}];") == ["saved", 0]
    assert lead.do(f"let over = false; laying.then(() => {{ over = true; }}); while (!over) {{ idle.shift()?.(); await settle(); }} return {PARTS};") == 8


def test_space_that_an_entry_took_while_the_reserve_was_laid_is_not_taken_back(lead) -> None:
    lead.do(HELD_IDLE)
    lead.do(f"while ({PARTS} < 2) {{ idle.shift()?.(); await settle(); }} await phone.store.dropBallast();")
    assert lead.do("let over = false; laying.then(() => { over = true; }); while (!over) { idle.shift()?.(); await settle(); } return phone.isFull;") is True
    assert lead.do(f"return {PARTS};") == 0
