"""Which name stands for joined visits and which visit is shown: phone and server say the same, and nobody's visit vanishes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fieldlog.flags.joined import last_joined, root_of, shown_visits
from tests.flags.shore import SITE, Shore
from tests.sync.lines import record_id

CASES = json.loads((Path(__file__).parents[1] / "vectors" / "visits_joined.json").read_text("utf-8"))["cases"]

SAID = """async (cases) => {
  const { groupsOf } = await import('/records/joined.js');
  return cases.map(({ visits, roots }) => {
    const groups = groupsOf(visits);
    return { roots: Object.fromEntries(Object.keys(roots).map((id) => [id, groups.rootOf(id)])),
      shown: Object.fromEntries(groups.all.map((one) => [groups.rootOf(one.record_id), one.record_id])),
      by: Object.keys(roots).map((id) => groups.shown(id)?.record_id) };
  });
}"""


@pytest.mark.parametrize("case", CASES, ids=[case["says"] for case in CASES])
def test_the_server_shows_each_visit_once(case: dict[str, Any]) -> None:
    to = {visit["record_id"]: visit["joined_to"] for visit in case["visits"]}
    assert {visit: last_joined(visit, lambda at: to.get(at) or None) for visit in case["roots"]} == case["roots"]
    assert {root: visit["record_id"] for root, visit in shown_visits(case["visits"]).items()} == case["shown"]


@pytest.mark.browser
def test_the_phone_shows_the_same(modules_page) -> None:
    for case, said in zip(CASES, modules_page.evaluate(SAID, CASES), strict=True):
        assert (said["roots"], said["shown"]) == (case["roots"], case["shown"]), case["says"]
        assert said["by"] == [case["shown"][root] for root in case["roots"].values()], case["says"]


def test_two_leads_who_join_two_visits_to_each_other_make_one(shore: Shore) -> None:
    one, other = sorted((record_id("first visit"), record_id("second visit")))
    for visit, to in ((one, other), (other, one)):
        shore.write("visit", visit, purpose="monitoring", started_at="2026-07-01T10:00:00.000Z", joined_to=to)
    assert {root_of(shore.db, visit, SITE) for visit in (one, other)} == {one}
