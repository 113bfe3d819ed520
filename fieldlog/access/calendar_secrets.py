"""The secret in a site's calendar address: 256 random bits, since calendar programs send no cookie."""

from __future__ import annotations

import hmac
import secrets

from sqlite_utils import Database

from fieldlog.store import set_setting, setting, write

_PREFIX = "calendar_secret:"


def calendar_path(db: Database, site_id: str) -> str:
    """The path of a site's calendar feed; its secret is made when it is first asked for."""
    secret = setting(db, _PREFIX + site_id)
    if secret is None:
        with write(db):
            secret = setting(db, _PREFIX + site_id) or secrets.token_urlsafe(32)
            set_setting(db, _PREFIX + site_id, secret)
    return f"/calendar/{secret}.ics"


def site_of_secret(db: Database, secret: str) -> str | None:
    """The site of a calendar secret, or None. All secrets are compared in full, so the time tells nothing."""
    found = None
    rows = db.conn.execute("SELECT name, value FROM setting WHERE substr(name, 1, ?) = ?", (len(_PREFIX), _PREFIX))
    for name, value in rows.fetchall():
        if hmac.compare_digest(value.encode(), secret.encode()):
            found = name.removeprefix(_PREFIX)
    return found
