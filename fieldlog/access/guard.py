"""The guard: which device sends a request, what it may do, and whether our own page sent it."""

from __future__ import annotations

from typing import Any

from sqlite_utils import Database
from werkzeug.wrappers import Request, Response

from fieldlog.access.devices import Device, device_of_token
from fieldlog.errors import ForeignPage, NotAllowed, NotHere, NotJoined, Revoked, Unconfirmed
from fieldlog.questions.sites import site_of

COOKIE_DAYS = 400
"""Browsers keep no cookie for longer; it is set again at each sync."""

UNCONFIRMED = "The server was restored from a backup. A lead must confirm this phone; what it writes is kept until then."
"""The one sentence for a device that nobody has confirmed yet."""

_READS = ("GET", "HEAD", "OPTIONS")


def cookie_name(request: Request) -> str:
    """`__Host-` binds the cookie to this host and to https; plain http, on one's own machine only, cannot have it."""
    return "__Host-fieldlog" if request.is_secure else "fieldlog"


def current_device(request: Request, db: Database) -> Device:
    """
    The device whose token the request carries. It may have been revoked: a sync still takes its lines to the tray.

    Raises:
        NotJoined: there is no token, or it is unknown here.
    """
    token = request.cookies.get(cookie_name(request))
    device = device_of_token(db, token) if token else None
    if device is None:
        raise NotJoined("This phone has not joined, or its access ended. Join again with a code; nothing is lost.")
    return device


def require(device: Device, *roles: str) -> None:
    """
    Stop a device that may not do what it asks.

    Raises:
        Revoked: its access was ended.
        Unconfirmed: the server was restored, and nobody has confirmed the device since.
        NotAllowed: its role is none of `roles`.
    """
    if device.revoked:
        raise Revoked("A lead ended this phone's access. What it still sends is kept for a lead to read.")
    if device.unconfirmed:
        raise Unconfirmed(UNCONFIRMED)
    if device.role not in roles:
        raise NotAllowed(f"This is for the role {' or '.join(roles)}; yours is {device.role}. Ask a lead.")


def site_for(db: Database, device: Device, site_id: str) -> dict[str, Any]:
    """
    The row of a site that a device may see.

    Raises:
        NotAllowed: it is not one of the device's sites.
        NotHere: there is none.
    """
    if device.sites is not None and site_id not in device.sites:
        raise NotAllowed("This site is not one of yours. Ask the lead who invited you.")
    site = site_of(db, site_id)
    if site is None:
        raise NotHere("There is no such site here. Sync once, then open it again.")
    return site


def check_sender(request: Request) -> None:
    """
    Refuse a state-changing request that another site's page sent. Programs that are no browser send neither header.

    Raises:
        ForeignPage: `Sec-Fetch-Site` or, in older browsers, `Origin` names another place than this one.
    """
    if request.method in _READS:
        return
    site = request.headers.get("Sec-Fetch-Site")
    origin = request.headers.get("Origin")
    foreign = site not in ("same-origin", "none") if site else origin is not None and origin != request.host_url.rstrip("/")
    if foreign:
        raise ForeignPage(
            "This request came from another site's page, so nothing was done. Open the app itself. If the server is behind a proxy, set FIELDLOG_BEHIND_PROXY=1."
        )


def set_cookie(response: Response, request: Request, token: str | None = None) -> None:
    """Put a device's token on an answer: a new one, or the one it came with for another 400 days."""
    token = token or request.cookies[cookie_name(request)]
    response.set_cookie(
        cookie_name(request), token, max_age=COOKIE_DAYS * 86400, path="/", secure=request.is_secure, httponly=True,
        samesite="Strict",
    )  # fmt: skip


def drop_cookie(response: Response, request: Request) -> None:
    """Take the token off the browser."""
    response.delete_cookie(cookie_name(request), path="/", secure=request.is_secure, httponly=True, samesite="Strict")
