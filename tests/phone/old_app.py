"""
The app of 0.2.0 as it was shipped, for phones that are updated and for those that go back.

`app_0_2_0.zip` holds its static/store, static/sync and the vendored idb (`git archive d6c27f7`).
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from zipfile import ZipFile

from tests.phone.phone_page import PhonePage

OLD_APP = Path(__file__).with_name("app_0_2_0.zip")
MODULES = re.compile(r"/(store|sync|vendor)/")


def old_phone(context: Any, url: str, path: str = "/healthz") -> PhonePage:
    """A phone whose page loads the modules of 0.2.0."""
    phone = PhonePage(context, url, path)
    files = ZipFile(OLD_APP)

    def answer(route: Any) -> None:
        name = f"static{urlsplit(route.request.url).path}"
        route.fulfill(body=files.read(name), content_type="text/javascript")

    phone.page.route(MODULES, answer)
    return phone
