"""Sending a photo of a site, and looking at it."""

from __future__ import annotations

import io
import uuid

from PIL import Image

from a_phone import Phone
from some_pictures import name_of

SITE_1, SITE_2 = str(uuid.uuid4()), str(uuid.uuid4())


def send(lane: Phone, data: bytes, site_id: str = SITE_1, kind: str = "photo") -> str:
    """Sync a photo's record, then send its bytes. Returns its name."""
    name = name_of(data)
    lane.note(kind, str(uuid.uuid4()), site_id, of_kind="unit", of_id=str(uuid.uuid4()), sha256=name,
               taken_at="2026-11-25T05:00:00Z")  # fmt: skip
    assert {ack[2] for ack in lane.sync().json["acks"]} == {"ok"}
    for offset in range(0, len(data), 512 * 1024):
        part = data[offset : offset + 512 * 1024]
        headers = {"Upload-Offset": str(offset), "Upload-Length": str(len(data))}
        answer = lane.client.patch(f"/api/photos/{name}", data=part, headers=headers)
    assert answer.status_code == 201, answer.json
    return name


def shown(client, name: str) -> Image.Image:
    answer = client.get(f"/api/photos/{name}", buffered=True)
    assert answer.status_code == 200, answer.json
    return Image.open(io.BytesIO(answer.data))
