"""The demo's photos, drawn: a step block on a mud flat, from the unit's row, slot and day. No two are alike."""

from __future__ import annotations

import io
import random

from PIL import Image, ImageDraw, ImageFilter

WIDTH_PX, HEIGHT_PX = 1024, 768
SKIES = ((198, 208, 214), (176, 192, 204), (216, 208, 196), (158, 170, 182))
MUDS = ((116, 102, 84), (104, 96, 82), (128, 112, 90))


def draw_photo(row: str, slot: int, day: int) -> bytes:
    """A JPEG of 1024 x 768 pixels."""
    dice = random.Random(f"{row}{slot}{day}")
    picture = Image.new("RGB", (WIDTH_PX, HEIGHT_PX), dice.choice(SKIES))
    pen = ImageDraw.Draw(picture)
    mud = dice.choice(MUDS)
    horizon = dice.randint(230, 290)
    pen.rectangle((0, horizon, WIDTH_PX, horizon + 60), fill=(96, 116, 124))
    pen.rectangle((0, horizon + 60, WIDTH_PX, HEIGHT_PX), fill=mud)
    _ripples(pen, dice, mud, horizon + 70)
    _block(pen, dice, WIDTH_PX // 2 + dice.randint(-90, 90), 610, 1.0 if row in "AB" else 0.8)
    half = (WIDTH_PX // 2, HEIGHT_PX // 2)
    # Drawn from the same dice as the rest: Pillow's own noise differs at each run.
    grain = Image.frombytes("L", half, dice.randbytes(half[0] * half[1])).resize((WIDTH_PX, HEIGHT_PX)).convert("RGB")
    picture = Image.blend(picture, grain, 0.03).filter(ImageFilter.GaussianBlur(0.8))
    written = io.BytesIO()
    picture.save(written, "JPEG", quality=72)
    return written.getvalue()


def _ripples(pen: ImageDraw.ImageDraw, dice: random.Random, mud: tuple[int, int, int], top: int) -> None:
    for _ in range(160):
        x, y = dice.randint(-60, WIDTH_PX), dice.randint(top, HEIGHT_PX)
        length = dice.randint(20, 160) * y // HEIGHT_PX
        shade = dice.randint(-18, 14)
        colour = tuple(max(0, min(255, part + shade)) for part in mud)
        pen.line((x, y, x + length, y + dice.randint(-3, 3)), fill=colour, width=dice.randint(1, 4))


def _block(pen: ImageDraw.ImageDraw, dice: random.Random, x: int, base: int, size: float) -> None:
    """Three steps, each a box seen from the front with its top side, and growth on the lower ones."""
    grey = dice.randint(138, 168)
    top = base
    for step, width in enumerate((400, 290, 180)):
        half, high, deep = int(width * size / 2), int(88 * size), int(34 * size)
        shade = grey + 10 * step
        pen.rectangle((x - half, top - high, x + half, top), fill=(shade, shade - 4, shade - 14))
        pen.polygon(
            ((x - half, top - high), (x - half + deep, top - high - deep), (x + half + deep, top - high - deep), (x + half, top - high)),
            fill=(shade + 26, shade + 22, shade + 12),
        )
        pen.polygon(
            ((x + half, top), (x + half, top - high), (x + half + deep, top - high - deep), (x + half + deep, top - deep)),
            fill=(shade - 34, shade - 38, shade - 44),
        )
        for _ in range(60 - 24 * step):
            spot_x, spot_y = dice.randint(x - half, x + half), dice.randint(top - high, top)
            radius = dice.randint(3, 9)
            pen.ellipse((spot_x - radius, spot_y - radius, spot_x + radius, spot_y + radius), fill=(92, 96, 74))
        top -= high
