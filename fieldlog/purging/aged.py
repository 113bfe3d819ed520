"""Contacts and medical notes that were kept long enough, and signed papers whose day has passed."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from sqlite_utils import Database

from fieldlog.purging.held import ms_of
from fieldlog.questions.of_people import all_about_somebody, values_of_records
from fieldlog.records.catalogue import Catalogue, Kind

DAYS = 30
"""So long after the last visit contacts and medical notes are kept. Our own proposal."""


def aged_records(db: Database, catalogue: Catalogue, days: int, now: datetime) -> list[tuple[str, str]]:
    """
    The records, as kind and id, that are due to go: contacts when the person was last on the site `days` ago, medical notes when their visit was; of
    one who never came, the record's last change counts. What a lead said to keep until a day goes after it.
    """
    before = now - timedelta(days=days)
    found = []
    for kind in catalogue.kinds.values():
        if kind.of_person is not None and kind.kept_until is None:
            for record_id, _person_id, changed_eff, last_at in all_about_somebody(db, kind):
                at = datetime.fromisoformat(last_at) if last_at else datetime.fromtimestamp(ms_of(changed_eff) / 1000, UTC)
                if at < before:
                    found.append((kind.name, record_id))
        elif kind.of_person is not None:
            found += _past_their_day(db, kind, now.date())
    return found


def _past_their_day(db: Database, kind: Kind, today: date) -> list[tuple[str, str]]:
    assert kind.kept_until is not None
    by, column = kind.kept_until
    papers = dict(db.conn.execute(f'SELECT record_id, "{by}" FROM "{kind.name}"').fetchall())
    untils = values_of_records(db, kind.refs[by], column, {text for text in papers.values() if text})
    return [(kind.name, record_id) for record_id, text in papers.items() if (until := untils.get(text)) and until < today.isoformat()]
