"""
Builds the demo programme: eighteen months of visits that end a few days before today.

Every entry goes through `sync.receive`, with `now` set to the visit's evening; visits lie on safe windows of the station's
real tide, each the nearest to the script's day.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.access.devices import add_device
from fieldlog.demo.pen import Heads, Pen
from fieldlog.demo.pictures import HEIGHT_PX, WIDTH_PX, draw_photo
from fieldlog.demo.script import Evening, Scene, Written, device_id, evenings, noon, record_id
from fieldlog.package_data import packaged
from fieldlog.questions.flags import flag_id_of
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.tags import tag_for
from fieldlog.stations import station_of
from fieldlog.store import create_programme, set_setting, write
from fieldlog.sync.opening import open_programme
from fieldlog.sync.photos import PhotoShelf, Sender
from fieldlog.tides.curve import Curve
from fieldlog.windows.access import Window
from fieldlog.windows.rules import site_rules
from fieldlog.windows.season import season

PROGRAMME = "Skein Bay living shorelines"
AFTER_LOW = timedelta(hours=5)
"""From a visit's low to the evening when its phones find a network."""

CLOCKS_MS = {"amara": 3 * 60_000}
"""How far a phone's clock is ahead."""


@dataclass
class Stage:
    """The demo as far as it was played."""

    db: Database
    shelf: PhotoShelf
    site: dict[str, Any]
    anchor: date
    windows: list[Window]
    curve: Curve
    last: datetime
    pens: dict[str, Pen] = field(default_factory=dict)
    heads: Heads = field(default_factory=dict)


def build_demo(folder: Path, today: date) -> int:
    """
    Build the demo programme in `folder`, which must not hold one; nothing is there until all of it is.

    Returns:
        How many entries were taken.
    """
    parts = folder.with_name(folder.name + ".building")
    shutil.rmtree(parts, ignore_errors=True)
    script = list(evenings(packaged("demo_db")))
    first = noon(today + timedelta(days=script[0].day), "UTC")
    create_programme(parts, PROGRAMME).close()
    programme = open_programme(parts, CATALOGUE, _ms(first))
    stage = _stage(programme.db(), PhotoShelf(programme), script, today)
    for evening in script:
        _play(stage, evening)
    set_setting(stage.db, "demo_today", today.isoformat())
    (count,) = stage.db.conn.execute("SELECT count(*) FROM log").fetchone()
    programme.close()
    folder.parent.mkdir(parents=True, exist_ok=True)
    if folder.exists():
        folder.rmdir()
    parts.rename(folder)
    return int(count)


def _stage(db: Database, shelf: PhotoShelf, script: Sequence[Evening], anchor: date) -> Stage:
    site = next(entry.fields for entry in script[0].entries if entry.kind == "site")
    station = station_of(db, site)
    rules = site_rules(site | {"record_id": record_id("site")}, station.chart_datum)
    start = noon(anchor + timedelta(days=script[0].day), site["zone"])
    span = season(station, rules, start, noon(anchor, site["zone"]))
    return Stage(db, shelf, site, anchor, [window for window in span.windows() if window.safe], span.curve, start)


def _play(stage: Stage, evening: Evening) -> None:
    window = None if evening.visit is None else _window_for(stage, evening)
    if window is None or window.usable_from is None:
        starts_at = noon(stage.anchor + timedelta(days=evening.day), stage.site["zone"])
        now = starts_at + AFTER_LOW
    else:
        starts_at, now = window.usable_from, window.low_at + AFTER_LOW
    scene = Scene(
        CATALOGUE, stage.site, stage.anchor, starts_at, evening.visit, window, stage.curve.level_at,
        lambda rule, subject_id: _flag_id(stage.db, rule, subject_id),
    )  # fmt: skip
    for written in evening.entries:
        _write(stage, scene, evening.day, written)
    for pen in stage.pens.values():
        if pen.unsent:
            pen.sync(stage.db, CATALOGUE, _ms(now))
    stage.last = now


def _window_for(stage: Stage, evening: Evening) -> Window:
    """The safe window nearest to the evening's day that is long enough and after the evening before."""
    wanted = noon(stage.anchor + timedelta(days=evening.day), stage.site["zone"])
    length_min = max(written.minute for written in evening.entries)
    fit = [window for window in stage.windows if window.low_at > stage.last and window.usable_min >= length_min]
    return min(fit, key=lambda window: abs(window.low_at - wanted))


def _write(stage: Stage, scene: Scene, day: int, written: Written) -> None:
    at = scene.at(written.minute)
    pen = stage.pens.get(written.phone) or _new_pen(stage, written.phone, at)
    said = dict(written.fields)
    picture = said.pop("picture", None)
    fields = scene.fields(written.kind, said, written.minute)
    if picture is not None:
        row, slot = picture["row"], picture["slot"]
        # The script calls a unit by row and slot; people read its tag.
        fields["shows"] = fields["shows"].replace(f"{row}{slot:02d}", str(tag_for(row, slot)))
        fields |= _take_photo(stage.shelf, row, slot, day, at)
    kind = CATALOGUE.kinds[written.kind]
    of_record = scene.record_id(written.kind, written.name)
    site_id = scene.site_id if kind.site_bound or written.kind in ("site", "person") else None
    local = at.astimezone(ZoneInfo(stage.site["zone"]))
    offset = local.utcoffset() or timedelta()
    seen = {} if written.is_unseen else stage.heads
    entry_id = pen.write(
        CATALOGUE, written.kind, of_record, fields, seen, _ms(at), (offset // timedelta(minutes=1), stage.site["zone"]),
        site_id, scene.visit_id,
    )  # fmt: skip
    for name in fields:
        key = (written.kind, of_record, name)
        stage.heads[key] = [*stage.heads.get(key, []), entry_id] if written.is_unseen else [entry_id]


def _new_pen(stage: Stage, phone: str, at: datetime) -> Pen:
    is_lead = not stage.pens
    with write(stage.db):
        device, _ = add_device(
            stage.db, "lead" if is_lead else "crew", None if is_lead else frozenset([record_id("site")]),
            f"{phone.capitalize()}'s {'laptop' if is_lead else 'phone'}", _ms(at),
        )  # fmt: skip
        # Records name devices, and two builds hold the same.
        stage.db.conn.execute(
            "UPDATE device SET person_id = ?, device_id = ? WHERE device_id = ?", (record_id(phone), device_id(phone), device.device_id)
        )
    lane_id = hashlib.sha256(f"demo lane {phone}".encode()).hexdigest()[:32]
    pen = Pen(replace(device, device_id=device_id(phone)), record_id(phone), lane_id, CLOCKS_MS.get(phone, 0))
    stage.pens[phone] = pen
    return pen


def _take_photo(shelf: PhotoShelf, row: str, slot: int, day: int, at: datetime) -> dict[str, Any]:
    photo = draw_photo(row, slot, day)
    sha256 = hashlib.sha256(photo).hexdigest()
    shelf.take(sha256, Sender("demo", may_know=True), 0, len(photo), photo, _ms(at + AFTER_LOW))
    return {
        "sha256": sha256, "bytes": len(photo), "media_type": "image/jpeg", "width_px": WIDTH_PX, "height_px": HEIGHT_PX,
    }  # fmt: skip


def _flag_id(db: Database, rule: str, subject_id: str) -> str:
    found = flag_id_of(db, rule, subject_id)
    if found is None:
        raise ValueError(f"The demo decides on a flag {rule} of {subject_id}, which was not raised.")
    return found


def _ms(at: datetime) -> int:
    return int(at.timestamp() * 1000)
