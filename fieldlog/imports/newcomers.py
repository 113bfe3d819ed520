"""Records that rows name and that are not here: those that a lead lets be made, out of their names alone."""

from __future__ import annotations

from typing import Any

from fieldlog.imports.known import Known, folded, name_fields
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.names import name_for
from fieldlog.records.tags import check_tag

Key = tuple[str, str, str | None]


class Newcomers:
    """
    The records to be made beside a sheet's own.

    Args:
        seed: what their names are made of.
    """

    def __init__(self, catalogue: Catalogue, known: Known, seed: str) -> None:
        self._catalogue, self._known, self._seed = catalogue, known, seed
        self.made: dict[Key, tuple[str, dict[str, Any]]] = {}
        """By kind, folded name and site: the record's name and its fields."""

    def id_for(self, kind: str, text: str, site_id: str | None) -> str | None:
        """The name of the record that a text stands for, made now where it is the first time; None where a name is not enough."""
        key = (kind, folded(text), site_id)
        if key not in self.made:
            fields = self.fields_of(kind, text, site_id)
            if fields is None:
                return None
            self.made[key] = (name_for(site_id, f"{self._seed}|{kind}|{key[1]}"), fields)
        return self.made[key][0]

    def fields_of(self, kind: str, text: str, site_id: str | None) -> dict[str, Any] | None:
        """The fields of a record of this name; None where its kind asks for more than that."""
        declared = self._catalogue.kinds.get(kind)
        names = name_fields(declared) if declared is not None else []
        if declared is None or not names:
            return None
        fields = self._unit(text, site_id) if kind == "unit" else {names[0]: text}
        if fields is None or declared.complete(fields) or any(fault.hard for fault in declared.check(fields)):
            return None
        return fields

    def _unit(self, text: str, site_id: str | None) -> dict[str, Any] | None:
        """A unit's tag says its row and slot, where it is one of ours or a row's letter with a slot."""
        tag = text.strip().upper()
        letter, digits = tag[:1], tag[1:].lstrip("- ")
        if not letter.isalpha() or not digits.isdigit() or len(digits) > 4:
            return None
        is_ours = check_tag(tag) is None
        slot = int(digits[:-1] if is_ours else digits)
        rows = self._known.called("row", letter, site_id) or self._known.called("row", f"Row {letter}", site_id)
        if len(rows) != 1 or slot > 999:
            return None
        return {"tag": tag if is_ours else text.strip(), "tag_made_here": is_ours, "row_id": rows[0], "slot_number": slot}
