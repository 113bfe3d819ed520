"""What the phone loads: libraries as they were released, nothing from elsewhere, text in the size its reader chose."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from fieldlog.shell import served

STATIC = Path(__file__).resolve().parents[2] / "static"


def test_vendored_files_are_the_released_ones() -> None:
    rows = re.findall(r"^\| (\S+?)(?: \([^)]*\))? \| \S+ \| \S+ \| \S+ \| ([0-9a-f]{64}) \|$",
                      (STATIC / "vendor/ORIGIN.md").read_text("utf-8"), re.MULTILINE)  # fmt: skip
    here = {path.relative_to(STATIC / "vendor").as_posix() for path in (STATIC / "vendor").rglob("*") if path.is_file()}
    assert {name for name, _ in rows} == here - {"ORIGIN.md"}
    for name, digest in rows:
        assert hashlib.sha256((STATIC / "vendor" / name).read_bytes()).hexdigest() == digest, name


def test_nothing_comes_from_another_site() -> None:
    for path in STATIC.rglob("*.js"):
        if "vendor" not in path.parts:
            foreign = [url for url in re.findall(r"https?://[^\s'\"`)]+", path.read_text("utf-8")) if "www.w3.org" not in url]
            assert foreign == [], path.name


def test_text_follows_the_size_that_its_reader_chose() -> None:
    """Sizes in rem, but in drawings and where the width of the screen sets it."""
    css = (STATIC / "style.css").read_text("utf-8")
    fixed = re.findall(r"([^{}]*)\{[^{}]*?font(?:-size)?:[^;{}]*?\d+px[^{}]*\}", css)
    assert [rule.strip() for rule in fixed if not re.search(r"text\s*$|\.arm \.figure\s*$", rule)] == []


def test_the_style_travels_without_its_comments_and_with_every_rule() -> None:
    written, travels = (STATIC / "style.css").read_text("utf-8"), served(STATIC, "style.css").decode()
    assert "/*" not in travels and "*/" not in travels
    assert re.findall(r"""["'][^"'\n]*/\*|url\(""", written) == [], "a text or an address with a comment's signs would be cut"
    assert (travels.count("{"), travels.count("}")) == (written.count("{"), written.count("}"))
