"""
Our field types: JSON's own types only, limits inclusive, all that a form or a document needs in the metadata.

"280" is no number, 2.7 is not whole, true is not 1. A whole-valued 3.0 is whole: JavaScript cannot tell it
from 3. Texts are counted in code points on both sides. `judge` is the one check of a value; marshmallow's own
loading and the catalogue use it, and the phone (`static/records/validate.js`) comes to the same verdict with
the same words.
"""

from __future__ import annotations

import re
from typing import Any, ClassVar, NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from marshmallow import ValidationError, fields

from fieldlog.records import moments, sentences
from fieldlog.records.empty import is_empty
from fieldlog.records.tags import check_tag

ASK, LOWER, HIGHER, EARLIEST, LATEST, EITHER = "ask", "lower", "higher", "earliest", "latest", "either"
"""What becomes of values that phones wrote without knowing of each other; see `Declared`."""


class Verdict(NamedTuple):
    """
    Why a value is not simply right: a fixed word, a sentence, and whether the entry must be held for it.
    """

    word: str
    sentence: str
    hard: bool


class Declared(fields.Field[Any]):
    """
    A field with a title, a type word of ours and a SQLite type; its metadata are the words of JSON Schema and
    x-*.

    `crew` says what crew may change of it once its record stands: "on" (to yes only) or "never"; None is anything. Of "leads" not even at first.
    `settled`: nobody gives it another value than its first.

    `merge` says what stands where phones wrote different values without knowing of each other. "ask": the latest, and people are
    asked. "lower" and "higher": they are asked too, and until they settle it the careful value stands (yes is higher than no).
    "earliest", "latest" and "either" settle it by themselves and ask nobody: the earliest time; the latest time, where a time that
    was left open is later than any; yes where one says yes.

    `since`: the field of the same record that begins what this one ends. What was begun again, by a write that came later and says
    a later time, has no end yet, whatever the phone that wrote it knew.
    """

    type_word: ClassVar[str]
    sqlite_type: ClassVar[str] = "TEXT"
    merges: ClassVar[tuple[str, ...]] = (ASK,)

    def __init__(
        self,
        title: str,
        *,
        required: bool = False,
        description: str | None = None,
        last: bool = False,
        crew: str | None = None,
        settled: bool = False,
        merge: str = ASK,
        since: str | None = None,
        **says: Any,
    ) -> None:
        if merge not in self.merges:
            raise ValueError(f"{title} cannot merge as {merge!r}. Offered: {', '.join(self.merges)}.")
        said = {
            "title": title,
            "description": description,
            "x-type": self.type_word,
            "x-last": last or None,
            "x-crew": crew,
            "x-settled": settled or None,
            "x-merge": None if merge == ASK else merge,
            "x-since": since,
            # Apps up to 0.3.0 read the careful values of safety figures here.
            "x-cautious": merge if merge in (LOWER, HIGHER) else None,
            **says,
        }
        metadata = {name: value for name, value in said.items() if value is not None}
        super().__init__(required=required, allow_none=True, metadata=metadata)
        self.title = title
        self.merge = merge
        self.since = since

    def judge(self, value: Any) -> Verdict | None:
        """What is wrong with a value that is not null, or None."""
        raise NotImplementedError

    def _serialize(self, value: Any, *_where: Any, **_kwargs: Any) -> Any:
        return value

    def _deserialize(self, value: Any, *_where: Any, **_kwargs: Any) -> Any:
        verdict = self.judge(value)
        if verdict is not None and verdict.hard:
            raise ValidationError(verdict.sentence)
        return value

    def _bad_type(self, wanted: str, value: Any) -> Verdict:
        return Verdict("bad-type", sentences.not_a(self.title, wanted, value), hard=True)


class Measured(Declared):
    """
    A number with hard limits, both inclusive, and perhaps narrower ones outside which it is doubted.
    """

    wanted: ClassVar[str]
    whole: ClassVar[bool]
    merges = (ASK, LOWER, HIGHER)

    def __init__(
        self, title: str, *, least: float, most: float, unit: str | None = None,
        plausible: tuple[float, float] | None = None, **says: Any,
    ) -> None:  # fmt: skip
        self.least, self.most, self.unit, self.plausible = least, most, unit, plausible
        limits = None if plausible is None else list(plausible)
        own: dict[str, Any] = {"x-unit": unit, "x-plausible": limits}
        super().__init__(title, minimum=least, maximum=most, **own, **says)

    def _is_one(self, value: Any) -> bool:
        raise NotImplementedError

    def judge(self, value: Any) -> Verdict | None:
        if not self._is_one(value):
            return self._bad_type(sentences.in_unit(self.wanted, self.unit), value)
        if not self.least <= value <= self.most:
            said = sentences.outside(self.title, value, self.least, self.most, self.unit, whole=self.whole)
            return Verdict("beyond-limit", said, hard=True)
        if self.plausible is not None and not self.plausible[0] <= value <= self.plausible[1]:
            return Verdict(
                "implausible", sentences.unlikely(self.title, value, *self.plausible, self.unit), hard=False
            )
        return None


class Number(Measured, fields.Float):
    """A number: JSON's, so neither text nor true."""

    type_word = "number"
    sqlite_type = "REAL"
    wanted = "a number"
    whole = False

    def _is_one(self, value: Any) -> bool:
        return type(value) is float or type(value) is int


class Whole(Measured, fields.Integer):
    """A whole number; `labels` name its values where they are grades."""

    type_word = "whole"
    sqlite_type = "INTEGER"
    wanted = "a whole number"
    whole = True

    def __init__(self, title: str, *, labels: dict[str, str] | None = None, **says: Any) -> None:
        own: dict[str, Any] = {"x-labels": labels}
        super().__init__(title, **own, **says)

    def _is_one(self, value: Any) -> bool:
        return type(value) is int or (type(value) is float and value.is_integer())


class YesNo(Declared, fields.Boolean):
    """True or false."""

    type_word = "yesno"
    sqlite_type = "INTEGER"
    merges = (ASK, LOWER, HIGHER, EITHER)

    def judge(self, value: Any) -> Verdict | None:
        return None if isinstance(value, bool) else self._bad_type("yes or no", value)


class Choice(Declared, fields.String):
    """One word out of a few, each with the label that people read."""

    type_word = "choice"

    def __init__(self, title: str, labels: dict[str, str], **says: Any) -> None:
        self.labels = labels
        own: dict[str, Any] = {"x-labels": labels}
        super().__init__(title, enum=[*labels, None], **own, **says)

    def judge(self, value: Any) -> Verdict | None:
        if not isinstance(value, str):
            return self._bad_type("one of the choices", value)
        if value not in self.labels:
            said = sentences.not_offered(self.title, value, list(self.labels.values()))
            return Verdict("beyond-limit", said, hard=True)
        return None


class Text(Declared, fields.String):
    """Words, with a greatest length in code points; where they are required, they show something."""

    type_word = "text"

    def __init__(self, title: str, most: int, *, least: int = 0, **says: Any) -> None:
        self.least, self.most = least, most
        super().__init__(title, minLength=least or None, maxLength=most, **says)

    def judge(self, value: Any) -> Verdict | None:
        if not isinstance(value, str):
            return self._bad_type("text", value)
        if self.required and is_empty(value):
            return Verdict("missing", sentences.missing(self.title), hard=True)
        if not self.least <= len(value) <= self.most:
            said = sentences.length(self.title, len(value), self.least, self.most)
            return Verdict("beyond-limit", said, hard=True)
        return None


class Patterned(Declared, fields.String):
    """
    A text of a fixed form. The pattern means the same in Python and in JavaScript: no classes but plain
    ranges.
    """

    pattern: ClassVar[str]
    wanted: ClassVar[str]

    def __init__(self, title: str, **says: Any) -> None:
        super().__init__(title, pattern=f"^{self.pattern}$", **says)

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        cls._compiled = re.compile(cls.pattern)

    _compiled: ClassVar[re.Pattern[str]]

    def _is_one(self, value: str) -> bool:
        return self._compiled.fullmatch(value) is not None

    def judge(self, value: Any) -> Verdict | None:
        return None if isinstance(value, str) and self._is_one(value) else self._bad_type(self.wanted, value)


class Instant(Patterned):
    """
    A moment in UTC, as text: 2026-11-25T06:12:00Z, perhaps with milliseconds.

    `may_lie_ahead`: what is planned for it, not seen at it, so a moment to come is right.
    """

    type_word = "instant"
    merges = (ASK, EARLIEST, LATEST)
    pattern = moments.INSTANT_PATTERN
    wanted = "a moment in UTC such as 2026-11-25T06:12:00Z"

    def __init__(self, title: str, *, may_lie_ahead: bool = False, **says: Any) -> None:
        super().__init__(title, format="date-time", **{"x-ahead": may_lie_ahead or None}, **says)
        self.may_lie_ahead = may_lie_ahead

    def _is_one(self, value: str) -> bool:
        return moments.is_instant(value)


class Date(Patterned):
    """A day of the calendar, as text: 2026-11-25."""

    type_word = "date"
    pattern = moments.DATE_PATTERN
    wanted = "a date such as 2026-11-25"

    def __init__(self, title: str, **says: Any) -> None:
        super().__init__(title, format="date", **says)

    def _is_one(self, value: str) -> bool:
        return moments.is_date(value)


class Ref(Patterned):
    """
    Another record's id. `to` is the kind it belongs to, or the field of the same record that names the kind.

    `across`: it may name a record of another site; only a lead of both sites writes it.
    """

    type_word = "ref"
    pattern = "[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"
    wanted = "a record's id"

    def __init__(self, title: str, to: str, *, across: bool = False, **says: Any) -> None:
        own: dict[str, Any] = {"x-ref": to, "x-across": across or None}
        super().__init__(title, format="uuid", **own, **says)


class Sha256(Patterned):
    """The SHA-256 of a file's bytes, 64 hex digits."""

    type_word = "sha256"
    pattern = "[0-9a-f]{64}"
    wanted = "64 hex digits"


class FlagId(Patterned):
    """The id of a flag, 32 hex digits."""

    type_word = "flag_id"
    pattern = "[0-9a-f]{32}"
    wanted = "32 hex digits"


class Zone(Patterned):
    """A time zone by its IANA name; one that the machine's time zone data knows."""

    type_word = "zone"
    pattern = "[A-Z][A-Za-z0-9_+-]*(?:/[A-Z][A-Za-z0-9_+-]*)*"
    wanted = "a time zone such as Europe/Oslo"

    def _is_one(self, value: str) -> bool:
        if len(value) > 64 or not super()._is_one(value):
            return False
        try:
            ZoneInfo(value)
        except (ZoneInfoNotFoundError, OSError, ValueError):
            return False
        return True


class Tag(Text):
    """
    A unit's tag. One that does not fit its check digit is doubted, not turned down: a site may have tags of
    its own.

    `made_here`: the field of the same record that says whether the tag is one of ours; unless it says yes, the tag is not doubted.
    """

    type_word = "tag"

    def __init__(self, title: str, most: int, *, made_here: str | None = None, **says: Any) -> None:
        own: dict[str, Any] = {"x-made-here": made_here}
        super().__init__(title, most, **own, **says)

    def judge(self, value: Any) -> Verdict | None:
        verdict = super().judge(value)
        if verdict is not None:
            return verdict
        doubt = check_tag(value)
        return None if doubt is None else Verdict("implausible", doubt, hard=False)
