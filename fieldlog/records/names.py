"""
Names of records that say of which site they are.

A phone's new name is a UUID of version 8 (RFC 9562, section 5.8) whose last 32 bits are a check over its site, so that a record's
site is settled by its name before anything of it arrives. Names of older apps (versions 5 and 7) say nothing of a site.
"""

from __future__ import annotations

import hashlib

CHECK_DIGITS = 8


def site_check(site_id: str | None, rest: str) -> str:
    """The last eight hex digits of a name whose first 24 hex digits are `rest`; site None is the whole programme."""
    return hashlib.sha256(f"{site_id or ''}|{rest}".encode()).hexdigest()[:CHECK_DIGITS]


def name_fits(record_id: str, site_id: str | None) -> bool:
    """Whether a record of this name may be of this site."""
    digits = record_id.replace("-", "")
    if len(digits) != 32 or digits[12] != "8":
        return True
    return digits[-CHECK_DIGITS:] == site_check(site_id, digits[:-CHECK_DIGITS])


def name_for(site_id: str | None, seed: str) -> str:
    """The name of a record of a site that is the same for the same seed: version 8, of whose other bits SHA-256 over the seed decides."""
    digits = hashlib.sha256(seed.encode()).hexdigest()
    variant = f"{int(digits[16], 16) & 3 | 8:x}"
    rest = f"{digits[:12]}8{digits[13:16]}{variant}{digits[17:24]}"
    whole = rest + site_check(site_id, rest)
    return "-".join((whole[:8], whole[8:12], whole[12:16], whole[16:20], whole[20:]))


def same_low(visit_id: str) -> str:
    """What the two names of a visit in one window share, that of an older app (version 5) and that of a newer one (version 8)."""
    digits = visit_id.replace("-", "")
    return digits[:12] + digits[13:-CHECK_DIGITS] if len(digits) == 32 and digits[12] in "58" else visit_id
