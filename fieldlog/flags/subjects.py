"""Whose flags may change with some records: what the rules about records and those about units are asked again of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from sqlite_utils import Database

from fieldlog.flags.changes import Change
from fieldlog.flags.flag import Rule
from fieldlog.flags.joined import visits_of
from fieldlog.flags.verdicts import columns_of_rule, kept_rules
from fieldlog.questions.checks import QUIET, units_missed_on, units_of_checks
from fieldlog.questions.flags import Subject, flagged_by_time, subjects_of, waiting_for
from fieldlog.questions.records import referring
from fieldlog.questions.units import units_of_designs, units_of_sites
from fieldlog.records.catalogue import CATALOGUE
from fieldlog.records.people_photo import PHOTO_KINDS

OF_A_SITE = ("site_id", "lean_look_deg", "zone", "grid_azimuth_deg", "lat_deg", "lon_deg")
OF_A_DESIGN = ("site_id", "height_mm", "footprint_mm")
"""What the rules about units read of these; a change of anything else there changes no flag of a unit."""


@dataclass
class Touched:
    """
    Records; units whose checks count anew (`looked_at`); units whose positions do (`placed`); and units of which no more is new
    than checks (`checked`), each with the names of the rules to which one of these says more than that all is well, and the time of
    the earliest (`first_checked`; "" where one has none).
    """

    records: set[Subject] = field(default_factory=set)
    looked_at: set[str] = field(default_factory=set)
    placed: set[str] = field(default_factory=set)
    checked: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    first_checked: dict[str, str] = field(default_factory=dict)

    @property
    def units(self) -> set[str]:
        """Every unit that some rule about units is asked of."""
        return self.looked_at | self.placed | self.checked.keys()

    def asks(self, rule: Rule, unit_id: str, has_flag: bool) -> bool:
        """
        Whether a rule about units is asked again of a unit; `has_flag` where it has one that a check may still settle.

        A new check that does not raise may settle a flag, and where there is none it changes nothing.
        """
        if not rule.reads_checks:
            return unit_id in self.placed
        if unit_id not in self.checked or unit_id in self.looked_at:
            return unit_id in self.looked_at
        return rule.says is None or has_flag or rule.name in self.checked[unit_id]

    def whole(self, subject: Subject) -> None:
        """All that is said of one subject."""
        self.records.add(subject)
        if subject[0] == "unit":
            self.looked_at.add(subject[1])
            self.placed.add(subject[1])


def touched_by(db: Database, changes: Sequence[Change]) -> Touched:
    """The subjects of these changes: their own records, their units, and those of what waited for or refers to them."""
    touched = Touched({(change.kind, change.record_id) for change in changes if change.kind in CATALOGUE.kinds})
    for change in changes:
        _units_of(db, change, touched)
    new = [change.record_id for change in changes if change.before is None]
    touched.records |= set(waiting_for(db, new))
    moved = {(change.kind, change.record_id) for change in changes if change.before is not None and change.differs_in("site_id")}
    # A flag of a record begins with the tag of its unit.
    tagged = {("unit", change.record_id) for change in changes if change.kind == "unit" and change.before is not None and change.differs_in("tag")}
    touched.records |= set(_naming(db, tagged - moved))
    touched.records |= set(_naming(db, moved))
    touched.records |= set(waiting_for(db, [record_id for _, record_id in moved]))
    touched.records |= set(flagged_by_time(db, [change.record_id for change in changes if change.kind == "site" and change.differs_in("zone")]))
    for subject in subjects_of(db, [flag_id for change in changes if change.kind == "flag_decision" for flag_id in change.values("flag_id")]):
        touched.whole(subject)
    return touched


def _units_of(db: Database, change: Change, touched: Touched) -> None:
    kind = change.kind
    if kind == "unit_check" and change.before is None:
        for unit_id in change.values("unit_id"):
            at = change.after.get("checked_at") or ""
            touched.first_checked[unit_id] = min(at, touched.first_checked.get(unit_id, at))
            touched.checked[unit_id].update(
                rule.name for rule in kept_rules() if any(change.after.get(column) not in (None, QUIET) for column in columns_of_rule(rule))
            )
    elif kind == "unit_check":
        touched.looked_at.update(change.values("unit_id"))
    elif kind in PHOTO_KINDS:
        touched.looked_at.update(units_of_checks(db, list(change.values("of_id"))))
    elif kind == "visit" and any(change.values("joined_to")) and change.differs_in("joined_to", "site_id", "deleted"):
        touched.looked_at.update(_searched_on(db, change))
    elif kind not in ("position_fix", "control_mark", "visit"):
        for unit_id in _units_wholly(db, change):
            touched.looked_at.add(unit_id)
            touched.placed.add(unit_id)


def _searched_on(db: Database, change: Change) -> Iterator[str]:
    """The units that were searched for in vain on a visit, or on one that was joined to it."""
    for site_id in set(change.values("site_id")):
        for visit_id in visits_of(db, change.record_id):
            yield from units_missed_on(db, site_id, visit_id)


def _units_wholly(db: Database, change: Change) -> Iterator[str]:
    kind = change.kind
    if kind == "unit":
        yield change.record_id
    elif kind == "unit_event":
        yield from change.values("unit_id")
    elif kind == "unit_design" and change.differs_in(*OF_A_DESIGN):
        yield from units_of_designs(db, [change.record_id])
    elif kind == "site" and change.differs_in(*OF_A_SITE):
        yield from units_of_sites(db, [change.record_id])


def _naming(db: Database, moved: set[Subject]) -> Iterator[Subject]:
    """The records that refer to one of these."""
    for of_kind, record_id in moved:
        for kind in CATALOGUE.kinds.values():
            for name, to in kind.refs.items():
                if to == of_kind or to in kind.fields:
                    yield from ((kind.name, named_by) for named_by in referring(db, kind.name, name, record_id))
