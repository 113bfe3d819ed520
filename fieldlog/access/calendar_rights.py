"""When a calendar address ends: with its device's right to its site, or with the site."""

from __future__ import annotations

from sqlite_utils import Database

HAS_RIGHT = """EXISTS (SELECT 1 FROM device d WHERE d.device_id = calendar_address.device_id
    AND d.revoked_at IS NULL AND d.token_sha256 NOT LIKE 'left %'
    AND (d.sites IS NULL OR calendar_address.site_id IN (SELECT value FROM json_each(d.sites))))
    AND NOT EXISTS (SELECT 1 FROM site s WHERE s.record_id = calendar_address.site_id AND s.deleted = 1)"""

_TOLD = """CASE WHEN first_fetch_at IS NULL THEN '[]' ELSE
    (SELECT json_group_array(json_array(uid, sequence, json_extract(event, '$.lines[0]'), json_extract(event, '$.lines[1]')))
     FROM calendar_event e WHERE e.site_id = calendar_address.site_id) END"""


def end_addresses(db: Database, now_ms: int) -> None:
    """
    End every address whose device has no right to its site any more. Must be called inside a `write`.

    What it had told is kept with it, as uid, sequence and its lines DTSTART and DTEND: later events are none of its business.
    """
    db.conn.execute(
        f"UPDATE calendar_address SET ended_at = ?, secret = NULL, told = {_TOLD} WHERE ended_at IS NULL AND NOT ({HAS_RIGHT})",
        (now_ms,),
    )
