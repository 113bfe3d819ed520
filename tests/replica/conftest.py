"""The same small programme as in the tests of backups."""

from tests.backup.conftest import call, full, phone, refused

__all__ = ["call", "full", "phone", "refused"]
