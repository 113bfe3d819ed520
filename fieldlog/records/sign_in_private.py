"""What a leader must know of someone's health on the day: written at the desk, read by leads."""

from __future__ import annotations

from fieldlog.records.fields import Ref, Text
from fieldlog.records.kind import Kind, Record


class SignInPrivate(Record):
    sign_in_id = Ref("Sign-in", "sign_in", required=True)
    medical_note = Text("Medical note", 2000)


SIGN_IN_PRIVATE = Kind(
    "sign_in_private", "Medical note", SignInPrivate, privacy="medical", writers={"lead", "desk"}, of_person="sign_in_id"
)
