"""
The answers of every operation that are no success: all that the server can say, so that nothing else is to be expected.

Which of them an operation has follows from what it is: who may ask, whether it has a body or names in its path, whether it
changes anything. `tests/web/test_openapi_requests.py` sends what the document allows and holds the answers to it.
"""

from __future__ import annotations

from fieldlog.openapi.shapes import Shape, ref

PROBLEMS = {
    "400": "The request cannot be read, or a value is out of its bounds; `fields` names it",
    "401": "No token came along, or one that is unknown here",
    "403": "This role, site or page may not do that",
    "404": "There is nothing of that name among what the device may see",
    "409": "It does not fit what is here now",
    "410": "It was here and has ended for good",
    "413": "The body is larger than this address accepts",
    "416": "The range is outside the picture",
    "422": "What came is readable and still cannot be used",
    "429": "Too much or too often; nothing from the request was stored",
    "503": "Not now: another writer is at work, or the database cannot be read; nothing was changed",
    "507": "The server's disk is full; nothing was changed",
}
WITH_A_WAIT = ("429", "503")
RETRY_AFTER: Shape = {"Retry-After": {"description": "Seconds to wait, where it is known", "schema": {"type": "integer"}}}


def problem(status: str) -> Shape:
    """The answer of a status in problem details (RFC 9457)."""
    headers = {"headers": RETRY_AFTER} if status in WITH_A_WAIT else {}
    return {
        "description": PROBLEMS[status], "content": {"application/problem+json": {"schema": ref("problem")}}, **headers
    }  # fmt: skip


def with_problems(path: str, operations: Shape) -> Shape:
    """A path's operations with every problem that each can be answered with; those that they name themselves stay."""
    return {verb: {**said, "responses": _answers(path, verb, said)} for verb, said in operations.items()}


def _answers(path: str, verb: str, said: Shape) -> Shape:
    named = {status: problem(status) for status in said.get("x-refuses", ())}
    changes = verb not in ("get", "head")
    statuses = ["503"]
    if said["security"]:
        statuses += ["401", "403"]
    if changes:
        statuses += ["403", "507"]
    if "requestBody" in said:
        statuses += ["400", "413"]
    if any(part["in"] in ("header", "query") and part["required"] for part in said.get("parameters", ())):
        statuses.append("400")
    if "{" in path:
        statuses.append("404")
    derived = {status: problem(status) for status in statuses}
    return dict(sorted({**derived, **named, **said["responses"]}.items()))
