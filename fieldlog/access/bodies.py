"""Request bodies, never more than their limit, packed or unpacked."""

from __future__ import annotations

import zlib
from typing import Any

from werkzeug.exceptions import RequestEntityTooLarge
from werkzeug.wrappers import Request

from fieldlog.errors import BadRequest, TooLarge
from fieldlog.json_text import read

KILOBYTE = 1024
MAX_SYNC_BYTES = 8 * 1024 * KILOBYTE
MAX_CHUNK_BYTES = 512 * KILOBYTE
MAX_BODY_BYTES = 64 * KILOBYTE
MAX_RECORD_BYTES = 16 * 1024 * KILOBYTE
"""A logger's file with its barometer's: five years at six minutes are about 12 MB."""


def body_of(request: Request, limit: int) -> bytes:
    """
    A request's body.

    Raises:
        TooLarge: it has more than `limit` bytes.
    """
    request.max_content_length = limit
    try:
        return request.get_data(cache=False)
    except RequestEntityTooLarge:
        raise too_large(limit) from None


def json_body(request: Request, limit: int = MAX_BODY_BYTES) -> dict[str, Any]:
    """
    A request's body as a JSON object.

    Raises:
        TooLarge: over 64 KB, or over another limit.
        BadRequest: it is no JSON object, or not one that a browser reads alike (json_text.py).
    """
    try:
        said = read(body_of(request, limit))
    except ValueError as fault:
        raise BadRequest(f"The request cannot be read as JSON: {fault}. Reload the page. If that does not help, update the app.") from None
    if not isinstance(said, dict):
        raise BadRequest("The request is not a JSON object. Reload the page. If that does not help, update the app.")
    return said


def long_json_body(request: Request) -> dict[str, Any]:
    """A request's body that holds the text of whole files, 16 MB at most; faults as in json_body."""
    return json_body(request, MAX_RECORD_BYTES)


def sync_body(request: Request) -> bytes:
    """
    A sync request's body, unpacked where it came as gzip.

    Raises:
        TooLarge: over 8 MB, packed or unpacked; the phone halves what it sends.
        BadRequest: it claims to be gzip and is not, or in another packing.
    """
    body = body_of(request, MAX_SYNC_BYTES)
    packing = request.headers.get("Content-Encoding", "identity").strip().lower()
    if packing == "identity":
        return body
    if packing != "gzip":
        raise BadRequest(f"The body is compressed as {packing!r}. This server reads gzip only: send it uncompressed.")
    return gunzip(body, MAX_SYNC_BYTES)


def gunzip(packed: bytes, limit: int) -> bytes:
    """
    Unpack gzip, stopping one byte past `limit`. A cut end is given as far as it goes, like any cut upload.

    Raises:
        TooLarge: it unpacks to more than `limit` bytes.
        BadRequest: it is no gzip.
    """
    unpacker = zlib.decompressobj(wbits=zlib.MAX_WBITS | 16)
    try:
        body = unpacker.decompress(packed, limit + 1)
    except zlib.error:
        raise BadRequest("The body says it is gzip but is not. Send it again; nothing is lost.") from None
    if len(body) > limit:
        raise too_large(limit)
    return body


def too_large(limit: int) -> TooLarge:
    """The one sentence for a body beyond its limit."""
    size = f"{limit // (1024 * KILOBYTE)} MB" if limit >= 1024 * KILOBYTE else f"{limit // KILOBYTE} KB"
    return TooLarge(f"The request is larger than {size}, the limit for one request. Send it in smaller parts.")
