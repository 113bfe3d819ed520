"""Where the limits of each grade come from, in the words of `fieldlog/survey/grades.py`."""

from __future__ import annotations

_OURS = "Our suggestion."

SOURCES = {
    "body": "Cracks of 0.3 and 1.3 mm: AASHTO Manual for Bridge Element Inspection, 2nd ed. 2019 (0.012 and 0.05 in). Chips of 25 and 150 mm: the same,"
    " from memory. Scaling of 5 and 10 mm: ACI 201.1R, from memory. Lost volume: our suggestion.",
    "stance": _OURS, "toe": _OURS, "cover": _OURS, "place": _OURS,
}  # fmt: skip
"""By axis."""
