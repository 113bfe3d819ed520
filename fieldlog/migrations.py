"""
Numbered changes of the tables that are not derived from the log, and of the derived ones with a fixed shape.

Record tables follow the catalogue (`sync/tables.py`). A migration that has been released is never edited.
"""

from __future__ import annotations

import hashlib

from sqlite_utils import Database, Migrations

migrations = Migrations("fieldlog")


@migrations()
def m001_log_and_lanes(db: Database) -> None:
    """The log, the tray of held lines, and who may write them."""
    for statement in (
        """CREATE TABLE log(seq INTEGER PRIMARY KEY, entry_id TEXT NOT NULL UNIQUE, lane_id TEXT NOT NULL,
           number INTEGER NOT NULL, eff TEXT NOT NULL, line BLOB NOT NULL, kind TEXT NOT NULL, record_id TEXT NOT NULL,
           site_id TEXT, visit_id TEXT, made_by TEXT, privacy TEXT NOT NULL, h TEXT NOT NULL, ch TEXT NOT NULL,
           received_at INTEGER NOT NULL, UNIQUE(lane_id, number))""",
        "CREATE INDEX log_eff ON log(eff)",
        "CREATE INDEX log_record ON log(kind, record_id)",
        """CREATE TABLE tray(lane_id TEXT NOT NULL, number INTEGER NOT NULL, entry_id TEXT NOT NULL, line BLOB NOT NULL,
           why TEXT NOT NULL, sentence TEXT NOT NULL, ch TEXT NOT NULL, received_at INTEGER NOT NULL,
           resolved_by TEXT, PRIMARY KEY(lane_id, number))""",
        "CREATE INDEX tray_entry ON tray(entry_id)",
        """CREATE TABLE lane(lane_id TEXT PRIMARY KEY, device_id TEXT NOT NULL, top INTEGER NOT NULL,
           top_id TEXT NOT NULL, durable INTEGER NOT NULL DEFAULT 0)""",
        """CREATE TABLE device(device_id TEXT PRIMARY KEY, token_sha256 TEXT NOT NULL UNIQUE, role TEXT NOT NULL,
           sites TEXT, person_id TEXT, name TEXT NOT NULL, skew_ms INTEGER, seen_at INTEGER, app TEXT, unsent INTEGER,
           made_at INTEGER NOT NULL, revoked_at INTEGER)""",
        """CREATE TABLE invitation(invitation_id TEXT PRIMARY KEY, code_sha256 TEXT NOT NULL UNIQUE, role TEXT NOT NULL,
           site_id TEXT, expires_at INTEGER NOT NULL, uses_left INTEGER NOT NULL, made_by TEXT, made_at INTEGER NOT NULL,
           revoked_at INTEGER)""",
        """CREATE TABLE photo_file(sha256 TEXT PRIMARY KEY, bytes INTEGER NOT NULL, received_bytes INTEGER NOT NULL,
           complete_at INTEGER, media_type TEXT, width_px INTEGER, height_px INTEGER, served_at INTEGER, fault TEXT)""",
        "CREATE TABLE setting(name TEXT PRIMARY KEY, value TEXT NOT NULL)",
    ):
        db.execute(statement)


@migrations()
def m002_derived(db: Database) -> None:
    """What the log says now: merge states, open disagreements. Replay rebuilds them."""
    for statement in (
        """CREATE TABLE record_state(kind TEXT NOT NULL, record_id TEXT NOT NULL, state TEXT NOT NULL,
           PRIMARY KEY(kind, record_id)) WITHOUT ROWID""",
        """CREATE TABLE disagreement(kind TEXT NOT NULL, record_id TEXT NOT NULL, field TEXT NOT NULL, site_id TEXT,
           winner_id TEXT NOT NULL, entry_ids TEXT NOT NULL, values_json TEXT NOT NULL,
           PRIMARY KEY(kind, record_id, field)) WITHOUT ROWID""",
    ):
        db.execute(statement)


@migrations()
def m003_flags(db: Database) -> None:
    """What someone should look at; derived too."""
    for statement in (
        """CREATE TABLE flag(flag_id TEXT PRIMARY KEY, rule TEXT NOT NULL, severity TEXT NOT NULL,
           subject_kind TEXT NOT NULL, subject_id TEXT NOT NULL, site_id TEXT, sentence TEXT NOT NULL,
           evidence TEXT NOT NULL, raised_at TEXT NOT NULL, raised_by_record TEXT, state TEXT NOT NULL, settled_at TEXT,
           settled_by TEXT, settled_reason TEXT) WITHOUT ROWID""",
        "CREATE INDEX flag_subject ON flag(subject_kind, subject_id)",
        "CREATE INDEX flag_place ON flag(site_id, state)",
    ):
        db.execute(statement)


@migrations()
def m004_own_tides(db: Database) -> None:
    """Water-level records of sites, as they came, and the stations made from them; calendar events as they were last told."""
    for statement in (
        """CREATE TABLE water_record(water_id TEXT PRIMARY KEY, site_id TEXT NOT NULL, name TEXT NOT NULL, made_at INTEGER NOT NULL,
           job BLOB NOT NULL, state TEXT NOT NULL, step TEXT, fault TEXT, result TEXT) WITHOUT ROWID""",
        "CREATE INDEX water_record_site ON water_record(site_id)",
        """CREATE TABLE own_station(station_id TEXT PRIMARY KEY, site_id TEXT NOT NULL, water_id TEXT NOT NULL,
           station TEXT NOT NULL) WITHOUT ROWID""",
        """CREATE TABLE calendar_event(site_id TEXT NOT NULL, uid TEXT NOT NULL, low_at INTEGER NOT NULL,
           sequence INTEGER NOT NULL, changed_at INTEGER NOT NULL, event TEXT NOT NULL, PRIMARY KEY(site_id, uid)) WITHOUT ROWID""",
    ):
        db.execute(statement)


@migrations()
def m005_who_waits_for_whom(db: Database) -> None:
    """
    Devices that showed a lane which is not theirs; and what a held line waits for: a person who wrote it, or the first
    entry of its record, as "kind|record id".
    """
    for statement in (
        """CREATE TABLE incident(device_id TEXT NOT NULL, lane_id TEXT NOT NULL, what TEXT NOT NULL, first_at INTEGER NOT NULL,
           last_at INTEGER NOT NULL, times INTEGER NOT NULL, PRIMARY KEY(device_id, lane_id, what)) WITHOUT ROWID""",
        "ALTER TABLE tray ADD COLUMN waits_for TEXT",
        "UPDATE tray SET waits_for = 'person|' || json_extract(CAST(line AS TEXT), '$.u') WHERE why = 'unknown-person'",
        "CREATE INDEX tray_waits_for ON tray(waits_for) WHERE waits_for IS NOT NULL",
        "CREATE INDEX tray_why ON tray(why)",
    ):
        db.execute(statement)


@migrations()
def m006_confirmation(db: Database) -> None:
    """Devices and invitations of a restored backup that someone must confirm: what was decided since it was made is not known."""
    for table in ("device", "invitation"):
        db.execute(f"ALTER TABLE {table} ADD COLUMN unconfirmed INTEGER NOT NULL DEFAULT 0")


@migrations()
def m008_no_state_for_a_record_of_few_entries(db: Database) -> None:
    """
    Merge states of records with many entries only; others are folded from the log. Stored states of all were 72 % of the file,
    most of it empty: a row of a table without rowid keeps about 1,000 bytes in place and the rest on a page of its own.
    """
    for statement in (
        "DROP TABLE record_state",
        "CREATE TABLE record_state(kind TEXT NOT NULL, record_id TEXT NOT NULL, state TEXT NOT NULL, PRIMARY KEY(kind, record_id))",
        "CREATE INDEX flag_orphan ON flag(json_extract(evidence, '$.parent_id')) WHERE rule = 'orphan'",
    ):
        db.execute(statement)


@migrations()
def m011_pack_marks(db: Database) -> None:
    """Whether what a pack is made of changed; triggers keep it (`pack/marks.py`). Flags and held lines are read by seek."""
    for statement in (
        "CREATE TABLE pack_mark(part TEXT PRIMARY KEY, mark TEXT NOT NULL) WITHOUT ROWID",
        "CREATE INDEX tray_open ON tray(received_at DESC, lane_id, number DESC) WHERE resolved_by IS NULL",
        "DROP INDEX flag_place",
        """CREATE INDEX flag_place ON flag(site_id, state, CASE severity WHEN 'act' THEN 0 WHEN 'look' THEN 1 ELSE 2 END,
           raised_at DESC)""",
        "CREATE INDEX flag_settled ON flag(site_id, settled_at DESC) WHERE settled_at IS NOT NULL",
    ):
        db.execute(statement)


@migrations()
def m013_pulls(db: Database) -> None:
    """A phone reads the log of its site, forwards and from its end, without all others'."""
    db.execute("CREATE INDEX log_site ON log(site_id, seq)")


@migrations()
def m014_calendar_addresses(db: Database) -> None:
    """
    One calendar address a device and a site. The older ones, one a site, become addresses of no device, which end when the
    programme is next opened; they are taken to have been asked for.
    """
    db.execute(
        """CREATE TABLE calendar_address(secret_sha256 TEXT PRIMARY KEY, site_id TEXT NOT NULL, device_id TEXT, secret TEXT,
           first_fetch_at INTEGER, ended_at INTEGER, told TEXT) WITHOUT ROWID"""
    )
    db.execute("CREATE UNIQUE INDEX calendar_address_live ON calendar_address(device_id, site_id) WHERE ended_at IS NULL")
    prefix = "calendar_secret:"
    older = db.execute("SELECT name, value FROM setting WHERE substr(name, 1, ?) = ?", [len(prefix), prefix]).fetchall()
    for name, secret in older:
        db.execute(
            "INSERT INTO calendar_address(secret_sha256, site_id, first_fetch_at) VALUES (?, ?, 0)",
            [hashlib.sha256(secret.encode()).hexdigest(), name.removeprefix(prefix)],
        )
        db.execute("DELETE FROM setting WHERE name = ?", [name])


@migrations()
def m015_authors_of_devices(db: Database) -> None:
    """How many entries were taken from a device's lanes, by author; counted once from the log, from then on as lines are taken."""
    db.execute(
        """CREATE TABLE device_author(device_id TEXT NOT NULL, person_id TEXT NOT NULL, entries INTEGER NOT NULL, last_at INTEGER NOT NULL,
           PRIMARY KEY(device_id, person_id)) WITHOUT ROWID"""
    )
    db.execute(
        """INSERT INTO device_author SELECT device_id, made_by, count(*), max(received_at) FROM log JOIN lane USING (lane_id)
           WHERE made_by IS NOT NULL GROUP BY device_id, made_by"""
    )


@migrations()
def m016_lanes_of_a_device(db: Database) -> None:
    """A lead's list of devices asks for the lanes of each."""
    db.execute("CREATE INDEX lane_device ON lane(device_id)")


@migrations()
def m018_parts_of_lanes_by_files(db: Database) -> None:
    """
    Which lines a file brought into an older phone's lane: they never have the rights of the device that holds it. What is held until
    a device is confirmed waits with its lane, so that it is released some lines at a time.
    """
    db.execute(
        """CREATE TABLE file_part(lane_id TEXT NOT NULL, first INTEGER NOT NULL, last INTEGER NOT NULL, device_id TEXT NOT NULL,
           PRIMARY KEY(lane_id, first)) WITHOUT ROWID"""
    )
    db.execute("UPDATE tray SET waits_for = 'lane|' || lane_id WHERE why = 'unconfirmed'")


@migrations()
def m019_lost_photos(db: Database) -> None:
    """Since when a photo's file is known to be gone or spoilt, milliseconds since 1970; what is lost is few, and found at each sync."""
    db.execute("ALTER TABLE photo_file ADD COLUMN lost_at INTEGER")
    db.execute("CREATE INDEX photo_file_lost ON photo_file(sha256) WHERE lost_at IS NOT NULL")


@migrations()
def m020_surveys(db: Database) -> None:
    """What each survey says of the units that it compared; made anew from the log with the record tables."""
    db.execute(
        """CREATE TABLE survey(site_id TEXT NOT NULL, survey TEXT NOT NULL, ended_at TEXT NOT NULL, doubted_mark TEXT, told_marks TEXT NOT NULL,
           measured INTEGER NOT NULL, of_units INTEGER NOT NULL, is_over INTEGER NOT NULL, tape_factor REAL NOT NULL, tape_dof INTEGER,
           tapes INTEGER NOT NULL, PRIMARY KEY(site_id, survey)) WITHOUT ROWID"""
    )
    db.execute("CREATE INDEX survey_time ON survey(site_id, ended_at)")
    db.execute(
        """CREATE TABLE survey_verdict(unit_id TEXT NOT NULL, site_id TEXT NOT NULL, survey TEXT NOT NULL, at TEXT NOT NULL,
           verdict TEXT NOT NULL, east_m REAL NOT NULL, north_m REAL NOT NULL, p REAL NOT NULL, t2 REAL NOT NULL, shows_m REAL NOT NULL,
           least_shift_m REAL NOT NULL, misread TEXT, doubts TEXT NOT NULL, by_marks INTEGER NOT NULL, method TEXT NOT NULL,
           zero_method TEXT NOT NULL, zero_at TEXT NOT NULL, zero_id TEXT NOT NULL, fixed_at TEXT NOT NULL, fix_id TEXT NOT NULL,
           PRIMARY KEY(site_id, survey, unit_id)) WITHOUT ROWID"""
    )
    db.execute("CREATE INDEX survey_verdict_unit ON survey_verdict(unit_id, site_id, verdict, at)")


@migrations()
def m021_tapes_of_sites(db: Database) -> None:
    """How sure each site's tapes are by its newest readings, which phones are told; and the small movements of a site, by seek."""
    db.execute("CREATE TABLE site_tapes(site_id TEXT PRIMARY KEY, factor REAL NOT NULL, dof INTEGER, tapes INTEGER NOT NULL) WITHOUT ROWID")
    db.execute("CREATE INDEX survey_verdict_small ON survey_verdict(site_id, unit_id, at) WHERE verdict = 'small'")


@migrations()
def m022_doubted_marks(db: Database) -> None:
    """Which surveys doubt a mark, by seek."""
    db.execute("CREATE INDEX survey_doubted ON survey(doubted_mark, ended_at) WHERE doubted_mark IS NOT NULL")


@migrations()
def m023_imports(db: Database) -> None:
    """Imports whose records are still to follow them, and how sheets are read, kept by name at a site; '' is the whole programme."""
    db.execute("CREATE TABLE import_turn(import_id TEXT PRIMARY KEY) WITHOUT ROWID")
    db.execute("CREATE TABLE import_mapping(site_id TEXT, name TEXT, kind TEXT NOT NULL, mapping TEXT NOT NULL, kept_at INTEGER NOT NULL, PRIMARY KEY(site_id, name)) WITHOUT ROWID")


@migrations()
def m024_purged(db: Database) -> None:
    """
    Of which records all that was written is gone, as the log's purges say: up to which effective stamp, null for ever, and the one
    entry that stays.
    """
    db.execute("CREATE TABLE purged(kind TEXT NOT NULL, record_id TEXT NOT NULL, until TEXT, keeps TEXT, PRIMARY KEY(kind, record_id)) WITHOUT ROWID")
