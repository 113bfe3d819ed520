"""A browser page that imports the phone's modules straight from static/."""

from __future__ import annotations

import mimetypes
from pathlib import Path

import pytest

STATIC = Path(__file__).parents[2] / "static"
ORIGIN = "https://phone.invalid"


@pytest.fixture
def page(browser):
    """An empty page of its own origin; `import('/records/validate.js')` works in it."""
    page = browser.new_page()

    def answer(route) -> None:
        path = STATIC / route.request.url.removeprefix(f"{ORIGIN}/")
        if path.is_file():
            route.fulfill(body=path.read_bytes(), content_type=mimetypes.guess_type(path)[0])
        else:
            route.fulfill(body="<!doctype html><title>Empty</title>", content_type="text/html")

    page.route("**/*", answer)
    page.goto(f"{ORIGIN}/")
    yield page
    page.close()
