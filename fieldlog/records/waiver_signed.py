"""
A waiver that somebody signed on the phone, by name and finger: written at the desk, read by leads.

The signature is what the finger drew, each stroke as the text of an SVG path, never a photo. Who cannot draw signs by name alone, before
whoever is at the desk. Whether photos may be used is asked apart, and signing the waiver does not hang on it.
"""

from __future__ import annotations

from fieldlog.records.fields import Choice, Instant, Ref, Text, YesNo
from fieldlog.records.kind import Kind, Record
from fieldlog.records.listed import Listed

SIGNED_AS = {"self": "For themselves", "guardian": "As guardian of a minor"}


class WaiverSigned(Record):
    person_id = Ref("Person", "person", required=True, settled=True)
    waiver_id = Ref("Waiver", "waiver", required=True, settled=True)
    waiver_version = Text("Version", 40, settled=True)
    signed_as = Choice("Signed", SIGNED_AS, required=True, settled=True)
    signed_name = Text("Name as signed", 80, required=True, settled=True)
    signature = Listed("Signature, as paths of SVG", {"stroke": Text("Stroke", 2000, least=1)}, most=12, settled=True)
    by_name_only = YesNo("Signed by name alone", settled=True, description="Could not draw; somebody at the desk saw it")
    signed_at = Instant("Signed at", required=True)
    photos_allowed = YesNo("Photos may be used", description="Asked apart from the waiver. Empty: not answered")


WAIVER_SIGNED = Kind(
    "waiver_signed", "Signed waiver", WaiverSigned, privacy="leader", writers={"lead", "desk"}, plural="waivers_signed",
    of_person="person_id", kept_until=("waiver_id", "keep_until"),
)  # fmt: skip
