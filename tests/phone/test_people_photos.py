"""A photo that waits for whether people can be recognized is on the phone's disk already; nobody's silence loses or opens it."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser
OF = "0192f0c4-0000-7000-8000-000000000009"
TAKE = """
const { asked } = await phone.addPhoto(new Blob([told.bytes]), { of_kind: 'visit', of_id: told.of, people: told.people });
const rows = async (kind) => (await phone.rowsOf(kind, { kind: 'visit', id: told.of })).filter((row) => row.record_id === asked.recordId);
const waiting = async () => (await phone.askedPhotos()).filter((one) => one.recordId === asked.recordId).length;
"""


def test_it_has_no_record_until_it_is_answered(lead) -> None:
    said = lead.do(TAKE + """
      const before = [await waiting(), (await rows('photo')).length, (await rows('people_photo')).length];
      const kept = (await phone.photoUrl(asked.fields.sha256)).startsWith('blob:');
      await phone.recordPhoto(asked, true);
      const [row] = await rows('people_photo');
      return { before, kept, after: await waiting(), row: [row.recognizable, row.sha256 === asked.fields.sha256, row.consent ?? null] };
    """, {"of": OF, "bytes": "one"})  # fmt: skip
    assert said == {"before": [1, 0, 0], "kept": True, "after": 0, "row": [True, True, None]}


@pytest.mark.parametrize(("people", "kinds"), [(False, [1, 0]), (None, [0, 1])])
def test_an_answer_that_is_known_is_recorded_at_once(lead, people: bool | None, kinds: list[int]) -> None:
    said = lead.do(TAKE + "return [(await rows('photo')).length, (await rows('people_photo')).length];", {"of": OF, "bytes": f"known {people}", "people": people})
    assert said == kinds


def test_what_nobody_answers_becomes_a_photo_of_people_after_a_while_and_not_before(lead) -> None:
    said = lead.do(TAKE + """
      const { settleAsked } = await import('/store/photos.js');
      await settleAsked(phone);
      const soon = [await waiting(), (await rows('people_photo')).length];
      await phone.keepMeta({ [`asked|${asked.recordId}`]: { ...asked, at_ms: phone.now() - 600_001 } });
      await settleAsked(phone);
      const [row] = await rows('people_photo');
      return { soon, waiting: await waiting(), recognizable: row.recognizable ?? null };
    """, {"of": OF, "bytes": "silent"})  # fmt: skip
    assert said == {"soon": [1, 0], "waiting": 0, "recognizable": None}


def test_an_app_that_was_killed_between_record_and_note_writes_no_second_one(lead) -> None:
    said = lead.do(TAKE + """
      const { settleAsked } = await import('/store/photos.js');
      await phone.recordPhoto(asked, false);
      await phone.keepMeta({ [`asked|${asked.recordId}`]: { ...asked, at_ms: 0 } });
      await settleAsked(phone);
      return [await waiting(), (await rows('photo')).length, (await rows('people_photo')).length];
    """, {"of": OF, "bytes": "killed"})  # fmt: skip
    assert said == [0, 1, 0]
