"""The OpenAPI document is valid, and its schemas come to the catalogue's verdicts."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator, FormatChecker
from openapi_spec_validator import OpenAPIV31SpecValidator

from fieldlog.openapi.document import document
from fieldlog.records.catalogue import Catalogue
from tests.records.made_up import BARREL
from tests.service_document import service_document

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "records_values.json").read_text("utf-8"))
DOCUMENT = service_document()
LINE = {
    "v": 1, "d": "0123456789abcdef0123456789abcdef", "n": 1, "s": "0199c0ffee000000", "u": None, "t": "unit_check",
    "r": "0190a0a0-1234-7abc-8def-0123456789ab", "g": None, "y": None, "f": {"exposed_height_mm": 280, "note": None},
    "b": {}, "o": [-300, "America/New_York", 0],
}  # fmt: skip


def validator(root: dict, name: str) -> Draft202012Validator:
    return Draft202012Validator(
        {**root, "$ref": f"#/components/schemas/{name}"}, format_checker=FormatChecker()
    )


def test_the_document_is_valid_openapi() -> None:
    OpenAPIV31SpecValidator(DOCUMENT).validate()


def test_it_names_every_path_of_the_service() -> None:
    assert sorted(DOCUMENT["paths"]) == [
        "/api/devices", "/api/devices/{device_id}", "/api/devices/{device_id}/confirm", "/api/exports",
        "/api/exports/{ticket}", "/api/exports/{ticket}/file",
        "/api/hours", "/api/hours/awards/{award_id}/sheet.{form}", "/api/hours/people/{person_id}", "/api/hours/people/{person_id}/letter",
        "/api/import-mappings", "/api/import-mappings/{name}", "/api/imports", "/api/imports/{upload_id}", "/api/imports/{upload_id}/look",
        "/api/imports/{upload_id}/take", "/api/imports/{upload_id}/to-fix.csv", "/api/imports/{upload_id}/try", "/api/incidents", "/api/invitations", "/api/invitations/{invitation_id}",
        "/api/invitations/{invitation_id}/confirm", "/api/join",
        "/api/leave", "/api/openapi.json", "/api/pack", "/api/pack/forms", "/api/pack/index", "/api/pack/sites/{site_id}/state",
        "/api/pack/sites/{site_id}/units/{unit_id}/flags", "/api/pack/sites/{site_id}/visits", "/api/pack/sites/{site_id}/windows", "/api/pack/tray", "/api/people/{person_id}/held", "/api/people/{person_id}/purge", "/api/photos", "/api/photos/{sha256}", "/api/private/{person_id}",
        "/api/sites/{site_id}/open-matters", "/api/sites/{site_id}/plan", "/api/sites/{site_id}/roster", "/api/sites/{site_id}/sheet", "/api/sites/{site_id}/successors", "/api/sites/{site_id}/water-records", "/api/sites/{site_id}/water-records/look", "/api/stations", "/api/sync",
        "/calendar/{secret}.ics", "/healthz", "/readyz",
    ]  # fmt: skip


def test_every_answer_that_is_no_success_is_named_and_is_a_problem_in_a_sentence() -> None:
    for path, operations in DOCUMENT["paths"].items():
        for verb, operation in operations.items():
            assert "default" not in operation["responses"]
            refusals = {status: said for status, said in operation["responses"].items() if status >= "400"}
            assert "503" in refusals
            for status, said in refusals.items():
                assert "application/problem+json" in said.get("content", {}) or (verb, status) == ("head", "404"), (path, verb, status)


def test_only_what_changes_something_can_meet_a_full_disk() -> None:
    verbs = {verb for operations in DOCUMENT["paths"].values() for verb, said in operations.items() if "507" in said["responses"]}
    assert verbs == {"post", "patch", "delete"}


@pytest.mark.parametrize(
    "change", [{}, {"u": "0190a0a0-1234-7abc-8def-0123456789ac"}, {"f": {"_deleted": True}}]
)
def test_a_line_as_phones_write_it_fits_the_schema(change: dict) -> None:
    assert validator(DOCUMENT, "line").is_valid({**LINE, **change})


@pytest.mark.parametrize(
    "change",
    [
        {"t": "gull"},
        {"f": {"exposed_height_mm": "280"}},
        {"f": {"colour": "red"}},
        {"f": {}},
        {"s": 7},
        {"t": "person_private"},
    ],
)
def test_a_line_that_would_be_held_does_not_fit_the_schema(change: dict) -> None:
    assert not validator(DOCUMENT, "line").is_valid({**LINE, **change})


@pytest.mark.parametrize(
    "case",
    [case for case in VECTORS["values"] if case["field"] not in ("zone", "filled_at", "made_on") and case["word"] != "missing"],
    ids=lambda case: f"{case['field']}={case['value']!r:.40}",
)
def test_json_schema_alone_comes_to_the_same_verdict(case: dict) -> None:
    """Left out: time zones and days that no month has, which JSON Schema cannot tell, and which signs show nothing, which the document does not say."""
    fits = validator(document(Catalogue([BARREL]), {}), "barrel_fields").is_valid({case["field"]: case["value"]})
    assert fits == (case["word"] in (None, "implausible"))
