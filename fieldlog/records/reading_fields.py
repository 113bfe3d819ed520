"""What every reading at a fixed place says in the same words: which place, when, what a lead's own fields held, and a note."""

from __future__ import annotations

from fieldlog.records.fields import Instant, Number, Ref, Text
from fieldlog.records.listed import Listed

MOST_OWN = 30


def plot_ref() -> Ref:
    """The place that was read."""
    return Ref("Plot", "plot", required=True)


def read_at() -> Instant:
    """When it was read."""
    return Instant("Read at", required=True)


def own_values() -> Listed:
    """Values of fields that a lead added for a site (`own_field.py`); judged by no limits here, since the field may arrive after them."""
    return Listed(
        "Own fields",
        {
            "own_field_id": Ref("Field", "own_field", required=True),
            "number": Number("Number", least=-1e12, most=1e12),
            "word": Text("Word", 120),
        },
        most=MOST_OWN,
    )


def note() -> Text:
    """What else is worth knowing of the reading."""
    return Text("Note", 2000)
