"""
The apps of 0.1.0 and 0.2.0 as they were shipped, for phones that are updated and for those that go back.

`app_0_2_0.zip` holds its static/store, static/sync and the vendored idb (`git archive d6c27f7`). `app_0_1_0.zip` has what was otherwise in the
last app before 0.2.0's work (f772db8): two modules of static/store, and static/tides, which they import; all else is letter for letter the same.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from zipfile import ZipFile

from tests.phone.phone_page import PhonePage

HERE = Path(__file__).parent
OLD_APP, OLDEST_APP = HERE / "app_0_2_0.zip", HERE / "app_0_1_0.zip"
MODULES = re.compile(r"/(store|sync|vendor|tides)/")


def old_phone(context: Any, url: str, path: str = "/healthz", *, is_oldest: bool = False) -> PhonePage:
    """A phone whose page loads the modules of 0.2.0, or of 0.1.0."""
    phone = PhonePage(context, url, path)
    packed = [ZipFile(OLDEST_APP)] if is_oldest else []
    files = {name: archive for archive in (ZipFile(OLD_APP), *packed) for name in archive.namelist()}

    def answer(route: Any) -> None:
        name = f"static{urlsplit(route.request.url).path}"
        if name in files:
            route.fulfill(body=files[name].read(name), content_type="text/javascript")
        else:
            assert name.startswith("static/tides/"), name
            route.continue_()

    phone.page.route(MODULES, answer)
    return phone
