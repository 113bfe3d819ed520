"""
Draw the app's PNG icons: one plain block above a line of water, the same shapes as icon.svg.

Run it after a change of the shapes: ``python tests/pictures/draw_icons.py``. The PNG files are committed.
"""

import math
from pathlib import Path

from PIL import Image, ImageDraw

SEA = "#0a4a63"
LARGER = 4  # drawn larger and scaled down, which is how Pillow gets smooth edges
BLOCK = ((22, 14), (42, 14), (49, 39), (15, 39))


def water_line() -> list[tuple[float, float]]:
    """Points of the wave in the 64-unit square of icon.svg: three half periods of 16 units, 3.75 high."""
    return [(8 + step / 4, 48 - 3.75 * math.sin(math.pi * step / 64)) for step in range(193)]


def draw_icon(size_px: int, corner: float, shrink: float) -> Image.Image:
    """
    Draw one square icon.

    Args:
        size_px: Width and height.
        corner: Radius of the corners as a share of the width; 0 fills the square.
        shrink: Scale of the shapes about the middle; 0.8 keeps them inside a maskable icon's safe zone.
    """
    wide = size_px * LARGER
    image = Image.new("RGBA", (wide, wide), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    pen.rounded_rectangle((0, 0, wide - 1, wide - 1), radius=corner * wide, fill=SEA)

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return tuple(wide * (0.5 + shrink * (value - 32) / 64) for value in point)

    pen.polygon([at(point) for point in BLOCK], fill="white")
    radius = wide * shrink * 2.5 / 64
    for x, y in map(at, water_line()):
        pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill="white")
    return image.resize((size_px, size_px), Image.Resampling.LANCZOS)


def main() -> None:
    """Write the three PNG files beside icon.svg."""
    folder = Path(__file__).parents[2] / "static" / "icons"
    for name, size_px, corner, shrink in (
        ("icon-192.png", 192, 0.22, 1.0),
        ("icon-512.png", 512, 0.22, 1.0),
        ("icon-maskable-512.png", 512, 0.0, 0.8),
    ):
        draw_icon(size_px, corner, shrink).quantize(32).save(folder / name, optimize=True)


if __name__ == "__main__":
    main()
