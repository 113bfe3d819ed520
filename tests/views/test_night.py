"""At night nothing shines: what is filled is dark, little of a light colour is blue, and all can still be read (WCAG 2)."""

from __future__ import annotations

import re

import pytest

from views.stage_server import STATIC

STYLE = (STATIC / "style.css").read_text("utf-8")
NIGHT = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", STYLE.split('[data-theme="night"] {')[1].split("\n}")[0]))
MOST_OF_AN_AREA, MOST_OF_A_BAR, MOST_BLUE_OF_RED = 0.02, 0.12, 0.65
BARS = {"dry"}
LIGHT = 0.1
"""From this relative luminance on a colour counts as a light one."""


def rgb(colour: str) -> list[int]:
    return [int(colour[at : at + 2], 16) for at in (1, 3, 5)]


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1, of an sRGB colour (WCAG 2)."""
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in (one / 255 for one in rgb(colour))]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("name", sorted(set(re.findall(r"background: var\(--([\w-]+)\)", STYLE)) - {"line"}))
def test_a_filled_area_is_dark(name: str) -> None:
    assert luminance(NIGHT[name]) <= MOST_OF_AN_AREA


@pytest.mark.parametrize("name", sorted(set(re.findall(r"\.(?:use|here|stay|dry)[^{}]*\{ fill: var\(--([\w-]+)\)", STYLE.split('[data-theme="night"] .draw')[1])) | BARS))
def test_a_bar_is_dim(name: str) -> None:
    assert luminance(NIGHT[name]) <= MOST_OF_A_BAR


@pytest.mark.parametrize("name", [name for name, colour in NIGHT.items() if luminance(colour) > LIGHT])
def test_a_light_colour_has_little_blue(name: str) -> None:
    red, _, blue = rgb(NIGHT[name])
    assert blue <= MOST_BLUE_OF_RED * red


@pytest.mark.parametrize(
    ("text", "on", "least"),
    [
        *[(ink, on, 7) for ink in ("ink", "ink-2") for on in ("paper", "sheet", "sea-wash")], ("sea", "paper", 7),
        ("on-board", "board", 7), ("on-do", "do", 7), ("look", "look-wash", 7), ("stop", "stop-wash", 7), ("on-stop", "stop-board", 7),
        ("on-dry", "dry", 4.5), ("line", "paper", 3), ("dry", "paper", 3),
    ],
)  # fmt: skip
def test_what_is_written_and_drawn_is_seen(text: str, on: str, least: float) -> None:
    assert contrast(NIGHT[text], NIGHT[on]) >= least
