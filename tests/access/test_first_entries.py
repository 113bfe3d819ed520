"""Who made a record, when and on which visit: said by what began it, not by a later entry that claims to be older."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, write
from fieldlog.sync.replay import replay
from tests.sync.lines import REQUIRED, Lane, keyed_lane, record_id
from tests.sync.model_phone import fold

HERE = record_id("Alder Spit")
INES, ADA, SEEN = record_id("Ines"), record_id("Ada"), record_id("what Ines saw")
VISIT, OTHER_VISIT = record_id("the visit"), record_id("another visit")
OLD = "0" * 15 + "1"
WHOLE = {"display_name": "Sam Petrel", "minor": False}
SAM = record_id("Sam")


def send(client: FlaskClient, lane: Lane, first: int = 1) -> list[str]:
    answer = client.post("/api/sync", data=lane.body(first))
    assert answer.status_code == 200, answer.json
    return ["taken" if ack[2] == "ok" else ack[4] for ack in answer.json["acks"]]


def row(programme: Programme, kind: str, record: str, *columns: str) -> tuple[Any, ...]:
    found = programme.db().execute(f"SELECT {', '.join(columns)} FROM {kind} WHERE record_id = ?", [record]).fetchone()
    return tuple(found)


@pytest.fixture(autouse=True)
def site(client_of: Callable[..., FlaskClient]) -> None:
    lane = keyed_lane("lead", HERE)
    lane.write("site", HERE, REQUIRED["site"])
    assert send(client_of("lead"), lane) == ["taken"]


@pytest.fixture
def ines(client_of: Callable[..., FlaskClient]) -> tuple[FlaskClient, Lane]:
    """A crew with two people, and what one of them saw on a visit."""
    client, lane = client_of("crew", HERE), keyed_lane("the phone of Ines", HERE, INES)
    lane.write("person", INES, {"display_name": "Ines Calder"})
    lane.write("person", ADA, {"display_name": "Ada Merrow"})
    lane.write("sighting", SEEN, REQUIRED["sighting"], y=VISIT)
    assert send(client, lane) == ["taken"] * 3
    return client, lane


@pytest.mark.parametrize("stamp", [OLD, "the same"])
def test_a_later_entry_that_claims_to_be_older_takes_over_neither_maker_nor_time_nor_visit(
    client_of: Callable[..., FlaskClient], ines: tuple[FlaskClient, Lane], programme: Programme, stamp: str
) -> None:
    made = row(programme, "sighting", SEEN, "created_by", "created_eff", "visit_id")
    assert (made[0], made[2]) == (INES, VISIT)
    forger = keyed_lane("forger", HERE, ADA)
    for note in ("forged", "forged again"):
        forger.write("sighting", SEEN, {"note": note}, y=OTHER_VISIT, s=OLD if stamp == OLD else made[1])
    assert send(client_of("crew", HERE), forger) == ["taken"] * 2
    assert row(programme, "sighting", SEEN, "created_by", "created_eff", "visit_id") == made
    with write(programme.db()):
        replay(programme.db(), CATALOGUE)
    assert row(programme, "sighting", SEEN, "created_by", "created_eff", "visit_id") == made


def test_an_older_value_that_comes_late_still_does_not_win(
    client_of: Callable[..., FlaskClient], ines: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    lane = ines[1]
    lane.write("sighting", SEEN, {"note": "three of them"})
    send(ines[0], lane, 4)
    late = keyed_lane("late", HERE)
    late.write("sighting", SEEN, {"note": "one"}, s=OLD)
    assert send(client_of("crew", HERE), late) == ["taken"]
    assert row(programme, "sighting", SEEN, "note") == ("three of them",)


def test_what_a_restored_server_hears_of_last_made_the_record_all_the_same(
    client_of: Callable[..., FlaskClient], programme: Programme
) -> None:
    """Whoever changed it sends first; what they follow is what made it."""
    maker, between, changer = (keyed_lane(name, HERE) for name in ("maker", "between", "changer"))
    made = maker.write("sighting", SEEN, REQUIRED["sighting"], y=VISIT)
    noted = between.write("sighting", SEEN, {"found": "seen", "note": "a shell"}, b={"found": [made]}, s=f"{between.now_ms + 5000:012x}0000")
    changer.write("sighting", SEEN, REQUIRED["sighting"], b={"found": [noted], "seen_at": [made]}, s=f"{between.now_ms + 9000:012x}0000", y=OTHER_VISIT)
    assert [send(client_of("crew", HERE), lane) for lane in (changer, between, maker)] == [["taken"]] * 3
    assert row(programme, "sighting", SEEN, "visit_id", "created_eff", "note") == (VISIT, json.loads(maker.texts[0])["s"], "a shell")
    assert programme.db().execute("SELECT count(*) FROM log WHERE substr(eff, 13, 1) >= '8'").fetchone() == (0,)


def copy_of(lane: Lane, name: str, number: int = 1) -> Lane:
    """The entry at a number, written anew in another lane, as a phone does that finds its lane taken by its own copy."""
    said = json.loads(lane.texts[number - 1])
    other = keyed_lane(name, HERE)
    other.write(said["t"], said["r"], said["f"], s=said["s"], was=record_id("its former name").replace("-", ""))
    return other


def test_a_copy_of_what_made_a_person_is_taken_and_changes_nothing(
    client_of: Callable[..., FlaskClient], ines: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    maker = keyed_lane("maker", HERE)
    made = maker.write("person", SAM, WHOLE)
    maker.write("person", SAM, {"display_name": "Samuel"}, b={"display_name": [made]})
    assert send(client_of("crew", HERE), maker) == ["taken"] * 2
    assert send(client_of("crew", HERE), copy_of(maker, "its copy")) == ["taken"]
    assert row(programme, "person", SAM, "display_name", "minor") == ("Samuel", 0)


@pytest.mark.parametrize("whose", ["its own phone", "another phone"])
def test_what_made_a_person_counts_though_its_lane_was_lost_and_a_change_came_first(
    client_of: Callable[..., FlaskClient], ines: tuple[FlaskClient, Lane], programme: Programme, whose: str
) -> None:
    """An older lane was taken by a copy: its rest is written anew behind what the phone had written since."""
    lost, lane = keyed_lane("lost", HERE), keyed_lane("goes on", HERE)
    made = lost.write("person", SAM, WHOLE)
    lane.write("person", SAM, {"display_name": "Samuel"}, b={"display_name": [made]})
    client = client_of("crew", HERE)
    assert send(client, lane) == ["taken"]
    if whose == "its own phone":
        lane.write("person", SAM, WHOLE, s=json.loads(lost.texts[0])["s"], was=made)
        assert send(client, lane, 2) == ["taken"]
        assert row(programme, "person", SAM, "display_name", "minor") == ("Samuel", 0)
    else:
        other = keyed_lane("other", HERE)
        other.write("person", SAM, WHOLE, was=made)
        assert send(client_of("crew", HERE), other) == ["not-permitted"]
        assert row(programme, "person", SAM, "display_name", "minor") == ("Samuel", None)


@pytest.mark.parametrize("says", [{"minor": True, "waiver_valid": False}, {"minor": None, "waiver_valid": None}], ids=["under 18", "not known"])
def test_a_copy_of_what_made_a_person_never_undoes_what_was_said_since(
    client_of: Callable[..., FlaskClient], ines: tuple[FlaskClient, Lane], programme: Programme, says: dict[str, Any]
) -> None:
    maker, desk = keyed_lane("maker", HERE), keyed_lane("desk", HERE)
    made = maker.write("person", SAM, {**WHOLE, "waiver_valid": True})
    send(client_of("crew", HERE), maker)
    desk.write("person", SAM, says, b={"minor": [made], "waiver_valid": [made]})
    assert send(client_of("desk", HERE), desk) == ["taken"]
    copied = copy_of(maker, "hostile")
    for stamp in (OLD, f"{maker.now_ms + 10**7:012x}0000"):
        copied.write("person", SAM, {**WHOLE, "waiver_valid": True}, s=stamp)
    assert send(client_of("crew", HERE), copied) == ["taken"] * 3
    assert row(programme, "person", SAM, "minor", "waiver_valid") == ((1, 0) if says["minor"] else (None, None))


@pytest.mark.parametrize("dressed", ["whole, and follows the desk", "whole, and one field follows", "not whole", "not whole, and follows the desk"])
def test_what_a_person_was_made_with_is_said_again_by_a_copy_alone(
    client_of: Callable[..., FlaskClient], programme: Programme, dressed: str
) -> None:
    """Whoever follows what the desk wrote since replaces it, though it says no more than what made the person."""
    maker, desk, crew = keyed_lane("maker", HERE), keyed_lane("desk", HERE), keyed_lane("crew", HERE)
    made = maker.write("person", SAM, WHOLE)
    send(client_of("crew", HERE), maker)
    said = desk.write("person", SAM, {"minor": True}, b={"minor": [made]})
    assert send(client_of("desk", HERE), desk) == ["taken"]
    fields = {"minor": False} if dressed.startswith("not") else WHOLE
    bases = {"display_name": [made], "minor": []} if "one field" in dressed else {"minor": [said]} if "the desk" in dressed else {}
    crew.write("person", SAM, fields, b=bases)
    assert send(client_of("crew", HERE), crew) == ["not-permitted"]
    assert row(programme, "person", SAM, "minor") == (1,)


def test_a_copy_of_what_made_a_person_is_taken_too_where_a_change_of_them_came_first(
    client_of: Callable[..., FlaskClient], programme: Programme
) -> None:
    """The change says nothing of what the copy says; what it follows does."""
    maker, changer = keyed_lane("maker", HERE), keyed_lane("changer", HERE)
    made = maker.write("person", SAM, WHOLE)
    changer.write("person", SAM, {"display_name": "Samuel"}, b={"display_name": [made]}, s=f"{maker.now_ms + 5000:012x}0000")
    for lane in (changer, maker, copy_of(maker, "its copy")):
        assert send(client_of("crew", HERE), lane) == ["taken"]
    assert row(programme, "person", SAM, "display_name", "minor") == ("Samuel", 0)


def test_what_made_a_person_is_taken_after_somebodys_change_of_them(
    client_of: Callable[..., FlaskClient], programme: Programme
) -> None:
    """After a restore, whoever changed a person may send first."""
    maker, changer = keyed_lane("maker", HERE), keyed_lane("changer", HERE)
    made = maker.write("person", SAM, WHOLE)
    changer.write("person", SAM, {"display_name": "Samuel"}, b={"display_name": [made]})
    assert send(client_of("crew", HERE), changer) == ["taken"]
    assert send(client_of("crew", HERE), maker) == ["taken"]
    assert row(programme, "person", SAM, "display_name", "minor") == ("Samuel", 0)


@pytest.mark.parametrize(
    "fields",
    [{"minor": False}, WHOLE, {**WHOLE, "waiver_valid": True}, {"display_name": "Sam", "minor": None}, {"display_name": "Sam", "waiver_valid": True}],
    ids=lambda fields: ", ".join(f"{name} {value}" for name, value in fields.items()),
)
@pytest.mark.parametrize("named", ["nothing", "what made them", "what is to come"])
@pytest.mark.parametrize("stood", [{}, {"minor": True}], ids=["not said", "under 18"])
def test_crew_says_of_nobody_who_stands_that_they_are_no_minor_however_the_entry_is_dressed(
    client_of: Callable[..., FlaskClient], programme: Programme, fields: dict[str, Any], named: str, stood: dict[str, Any]
) -> None:
    maker, forger = keyed_lane("maker", HERE), keyed_lane("forger", HERE)
    made = maker.write("person", SAM, {"display_name": "Sam Petrel", **stood})
    send(client_of("crew", HERE), maker)
    bases = {"nothing": [], "what made them": [made], "what is to come": ["0f" * 16]}[named]
    forger.write("person", SAM, {"display_name": "Sam"}, b={"display_name": ["0f" * 16]}, s=OLD)
    forger.write("person", SAM, fields, b=dict.fromkeys(fields, bases), s=OLD)
    assert send(client_of("crew", HERE), forger) == ["taken", "not-permitted"]
    assert row(programme, "person", SAM, "minor", "waiver_valid") == (1 if stood else None, None)


def test_server_and_model_fold_alike_with_what_is_backdated(
    client_of: Callable[..., FlaskClient], ines: tuple[FlaskClient, Lane], programme: Programme
) -> None:
    rnd, lane = random.Random(5), keyed_lane("many", HERE)
    for number in range(40):
        lane.write("sighting", SEEN, {"note": str(number)}, s=f"{rnd.randrange(1, lane.now_ms):012x}0000")
    send(client_of("crew", HERE), lane)
    rows = programme.db().execute("SELECT entry_id, eff, line FROM log WHERE kind = 'sighting'").fetchall()
    entries = [(entry_id, eff, json.loads(line)) for entry_id, eff, line in rows]
    assert fold(entries)["sighting", SEEN, "note"][0] == row(programme, "sighting", SEEN, "note")[0]
