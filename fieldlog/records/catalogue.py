"""
Every kind of record this version knows, and the fingerprints by which stores and phones notice a change.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from fieldlog.records.award import AWARD
from fieldlog.records.award_hours import AWARD_HOURS
from fieldlog.records.casting_batch import CASTING_BATCH
from fieldlog.records.closure import CLOSURE
from fieldlog.records.contact_look import CONTACT_LOOK
from fieldlog.records.control_mark import CONTROL_MARK
from fieldlog.records.cover_reading import COVER_READING
from fieldlog.records.datum_offset import DATUM_OFFSET
from fieldlog.records.edge_reading import EDGE_READING
from fieldlog.records.flag_decision import FLAG_DECISION
from fieldlog.records.head_count import HEAD_COUNT
from fieldlog.records.horizon_reading import HORIZON_READING
from fieldlog.records.hours_signed import HOURS_SIGNED
from fieldlog.records.importing import IMPORT
from fieldlog.records.instrument import INSTRUMENT
from fieldlog.records.kind import Fault, Kind
from fieldlog.records.level_run import LEVEL_RUN
from fieldlog.records.level_word import LEVEL_WORD
from fieldlog.records.method_note import METHOD_NOTE
from fieldlog.records.mileage import MILEAGE
from fieldlog.records.own_field import OWN_FIELD
from fieldlog.records.people_photo import PEOPLE_PHOTO
from fieldlog.records.person import PERSON
from fieldlog.records.person_private import PERSON_PRIVATE
from fieldlog.records.photo import PHOTO
from fieldlog.records.plot import PLOT
from fieldlog.records.plot_event import PLOT_EVENT
from fieldlog.records.position_fix import POSITION_FIX
from fieldlog.records.preparation import PREPARATION
from fieldlog.records.rate import RATE
from fieldlog.records.rod_profile import ROD_PROFILE
from fieldlog.records.row import ROW
from fieldlog.records.season_closing import SEASON_CLOSING
from fieldlog.records.settlement_count import SETTLEMENT_COUNT
from fieldlog.records.sighting import SIGHTING
from fieldlog.records.sign_in import SIGN_IN
from fieldlog.records.sign_in_private import SIGN_IN_PRIVATE
from fieldlog.records.site import SITE
from fieldlog.records.species import SPECIES
from fieldlog.records.stake_reading import STAKE_READING
from fieldlog.records.table_reading import TABLE_READING
from fieldlog.records.unit import UNIT
from fieldlog.records.unit_check import UNIT_CHECK
from fieldlog.records.unit_design import UNIT_DESIGN
from fieldlog.records.unit_event import UNIT_EVENT
from fieldlog.records.visit import VISIT
from fieldlog.records.visit_part import VISIT_PART
from fieldlog.records.visit_plan import VISIT_PLAN
from fieldlog.records.waiver import WAIVER
from fieldlog.records.waiver_signed import WAIVER_SIGNED
from fieldlog.records.water_reading import WATER_READING

__all__ = ["CATALOGUE", "Catalogue", "Fault", "Kind"]


class Catalogue:
    """
    The kinds of record that a server or a test works with.

    `hash` changes with whatever tables or verdicts hang on; `version` also with titles, labels and other
    words, so that a phone fetches its forms again.
    """

    def __init__(self, kinds: Iterable[Kind]) -> None:
        self.kinds: dict[str, Kind] = {kind.name: kind for kind in kinds}
        self.hash = self._digest(with_words=False)
        self.version = self._digest(with_words=True)[:12]

    def _digest(self, *, with_words: bool) -> str:
        whole = "\n".join(self.kinds[name].declaration(with_words=with_words) for name in sorted(self.kinds))
        return hashlib.sha256(whole.encode("utf-8")).hexdigest()


CATALOGUE = Catalogue(
    [
        SITE, CLOSURE, DATUM_OFFSET, ROW, CONTROL_MARK, UNIT_DESIGN, CASTING_BATCH, UNIT, PLOT, SPECIES, PERSON, PERSON_PRIVATE,
        SIGN_IN_PRIVATE,
        VISIT, VISIT_PART, SIGN_IN, UNIT_CHECK, POSITION_FIX, UNIT_EVENT, SIGHTING, PHOTO, PEOPLE_PHOTO, FLAG_DECISION,
        LEVEL_WORD, VISIT_PLAN, IMPORT, METHOD_NOTE, SEASON_CLOSING,
        INSTRUMENT, OWN_FIELD, PLOT_EVENT, STAKE_READING, TABLE_READING, HORIZON_READING, LEVEL_RUN, ROD_PROFILE, COVER_READING, EDGE_READING,
        SETTLEMENT_COUNT, WATER_READING,
        PREPARATION, MILEAGE, AWARD, AWARD_HOURS, RATE, HOURS_SIGNED,
        WAIVER, WAIVER_SIGNED, HEAD_COUNT, CONTACT_LOOK,
    ]
)  # fmt: skip
