"""
Reads pictures in a process of its own: JSON lines in, JSON lines out.

A decoder is given bytes that anyone may have made. Here a crash or a memory hog costs this process alone, and the
memory of a large picture is given back when it ends. It imports nothing of the server's.
"""

from __future__ import annotations

import errno
import io
import json
import os
import sys
from pathlib import Path
from typing import Any

import pillow_heif
from PIL import Image, ImageOps

MAX_PIXELS = 50_000_000
MAX_SIDE_PX = 2048
QUALITY = 82
STRIP_ROWS = 128
MEDIA_TYPES = {"JPEG": "image/jpeg", "MPO": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}


class Unfit(ValueError):
    """These bytes are no picture that is taken; the text is the sentence."""


def make_copy(source: Path, target: Path) -> dict[str, Any]:
    """
    Re-encode a picture: at most 2048 px a side, upright, without metadata. Decoding decides what it is, not its name.

    Returns:
        media_type, width_px and height_px of the picture as it came, upright.

    Raises:
        Unfit: no JPEG, PNG, WebP or HEIC, damaged, or of more than 50 megapixels.
        OSError: the copy cannot be written.
    """
    data = source.read_bytes()
    try:
        media_type, size, picture = _read_heif(data) if pillow_heif.is_supported(data[:64]) else _read(data)
    except Unfit:
        raise
    except (OSError, SyntaxError, ValueError, RuntimeError, EOFError, MemoryError) as fault:
        raise Unfit("This file is not a picture, or is damaged. The file is kept as it arrived.") from fault
    unfinished = target.with_suffix(".tmp")
    _opaque(picture).save(unfinished, "JPEG", quality=QUALITY)
    unfinished.rename(target)
    return {"media_type": media_type, "width_px": size[0], "height_px": size[1]}


def _read(data: bytes) -> tuple[str, tuple[int, int], Image.Image]:
    with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as picture:
        _check_pixels(picture.size)
        media_type = MEDIA_TYPES[picture.format or ""]
        width, height = picture.size
        picture.draft("RGB", (MAX_SIDE_PX, MAX_SIDE_PX))
        picture.thumbnail((MAX_SIDE_PX, MAX_SIDE_PX), reducing_gap=2.0)
        upright = ImageOps.exif_transpose(picture)
        turned = (upright.width > upright.height) != (width > height)
        return media_type, (height, width) if turned else (width, height), upright


def _read_heif(data: bytes) -> tuple[str, tuple[int, int], Image.Image]:
    """Strip by strip: Pillow's own copy of 48 megapixels would take another 190 MB. The decoder turns it upright."""
    heif = pillow_heif.open_heif(io.BytesIO(data))
    width, height = heif.size
    _check_pixels(heif.size)
    mode, stride = heif.mode, heif.stride
    pixels: Any = memoryview(heif.data)
    factor = max(1, max(width, height) // MAX_SIDE_PX)
    rows = STRIP_ROWS * factor
    picture = Image.new(mode, (-(-width // factor), -(-height // factor)))
    for top in range(0, height, rows):
        count = min(rows, height - top)
        strip = pixels[top * stride : (top + count) * stride]
        part = Image.frombuffer(mode, (width, count), strip, "raw", mode, stride, 1)
        picture.paste(part.reduce(factor), (0, top // factor))
    picture.thumbnail((MAX_SIDE_PX, MAX_SIDE_PX))
    return "image/heic", (width, height), picture


def _check_pixels(size: tuple[int, int]) -> None:
    if size[0] * size[1] > MAX_PIXELS:
        raise Unfit(
            f"This picture is {size[0]} x {size[1]} pixels ({round(size[0] * size[1] / 1e6, 1)} megapixels); the limit is {MAX_PIXELS // 1_000_000}. The file is kept as it arrived."
        )


def _opaque(picture: Image.Image) -> Image.Image:
    """The bare pixels on white: whatever else the file said stays behind."""
    if picture.mode in ("L", "RGB"):
        plain = Image.new(picture.mode, picture.size)
        plain.paste(picture)
        return plain
    layered = picture.convert("RGBA")
    plain = Image.new("RGB", picture.size, "white")
    plain.paste(layered, mask=layered.getchannel("A"))
    return plain


def answer(request: str) -> dict[str, Any]:
    """One request line, {"source", "target"}: what make_copy returns, or {"fault": sentence}, or {"later": reason}."""
    said = json.loads(request)
    try:
        return make_copy(Path(said["source"]), Path(said["target"]))
    except Unfit as fault:
        return {"fault": str(fault)}
    except OSError as fault:
        return {"later": errno.errorcode.get(fault.errno or 0, "unknown")}


def main() -> None:
    """Answer until the input ends."""
    Image.MAX_IMAGE_PIXELS = None  # the limit is _check_pixels
    os.nice(5)  # phones are answered first
    for request in sys.stdin:
        print(json.dumps(answer(request)), flush=True)


if __name__ == "__main__":
    main()
