"""Pictures that the photo tests send, drawn here."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib
from typing import Any

import pillow_heif
from PIL import Image, ImageDraw

GPS_TAGS = {1: "N", 2: (42.0, 21.0, 0.0), 3: "W", 4: (71.0, 3.0, 0.0)}
GPS_IFD = 0x8825
ORIENTATION = 0x0112


def drawn(width: int = 640, height: int = 480) -> Image.Image:
    """Red above, blue below, a white mark in the left upper corner: upright or not is seen at once."""
    picture = Image.new("RGB", (width, height), "blue")
    pen = ImageDraw.Draw(picture)
    pen.rectangle((0, 0, width, height // 2), fill="red")
    pen.rectangle((0, 0, width // 8, height // 8), fill="white")
    return picture


def encoded(picture: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    """The picture's bytes as JPEG, PNG, WEBP or HEIF."""
    buffer = io.BytesIO()
    if kind == "HEIF":
        pillow_heif.from_pillow(picture).save(buffer, **options)
    else:
        picture.save(buffer, kind, **options)
    return buffer.getvalue()


def with_metadata(orientation: int = 1) -> bytes:
    """A JPEG that tells where, with what and when it was taken, as phones write it."""
    turns = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}
    stored = drawn().transpose(turns[orientation]) if orientation in turns else drawn()
    exif = Image.Exif()
    exif[0x010F] = "A maker of phones"
    exif[0x0132] = "2026:11:25 06:00:00"
    exif[ORIENTATION] = orientation
    exif[GPS_IFD] = GPS_TAGS
    return encoded(stored, exif=exif, comment=b"taken by Ines Calder")


def noisy(number: int, size: int) -> bytes:
    """A JPEG of just over `size` bytes, 2048 x 1536, different for each number."""
    picture = Image.effect_noise((256, 192), 60 + number % 50).resize((2048, 1536)).convert("RGB")
    ImageDraw.Draw(picture).text((20, 20), f"photo {number}")
    data = encoded(picture, quality=60)
    return data + b"\0" * max(0, size - len(data))


def bomb(side_px: int = 30_000) -> bytes:
    """A PNG of a few kilobytes that says it has side x side pixels."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", side_px, side_px, 1, 0, 0, 0, 0)
    rows = zlib.compress(b"\0" * (1_000_000), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def name_of(data: bytes) -> str:
    """A photo's name: the SHA-256 of its bytes."""
    return hashlib.sha256(data).hexdigest()
