"""Headers that every answer carries; the worker's cached shell keeps them."""

from __future__ import annotations

from werkzeug.wrappers import Request, Response

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types lit-html fieldlog",
    )
)
OWN = ("camera", "geolocation", "screen-wake-lock")
NOBODY = (
    "accelerometer", "autoplay", "browsing-topics", "display-capture", "encrypted-media", "fullscreen", "gyroscope", "hid",
    "idle-detection", "local-fonts", "magnetometer", "microphone", "midi", "payment", "picture-in-picture",
    "publickey-credentials-get", "serial", "usb", "xr-spatial-tracking",
)  # fmt: skip
SECURITY = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "Permissions-Policy": ", ".join([f"{name}=(self)" for name in OWN] + [f"{name}=()" for name in NOBODY]),
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
YEAR_S = 365 * 24 * 3600


def add_headers(response: Response, request: Request) -> Response:
    """
    Put the security headers on an answer, and on one of the API that it is ours and not to be kept.

    A reply without `X-Fieldlog` is somebody else's (a captive portal's): the phone then waits.
    """
    response.headers.update(SECURITY)
    if request.is_secure:
        response.headers["Strict-Transport-Security"] = f"max-age={YEAR_S}"
    if request.path.startswith("/api/"):
        response.headers["X-Fieldlog"] = "1"
        response.headers["Cache-Control"] = "no-store"
    return response
