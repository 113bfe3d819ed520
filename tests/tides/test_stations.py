"""The stations that come along: found by id, name and place, with their source; what is asked wrongly is told in a sentence."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from datetime import UTC, datetime, timedelta

import pytest

from fieldlog.errors import BadRequest, BadSpan, NameAmbiguous, StationUnknown
from fieldlog.stations import ATTRIBUTION, find, mirrored, near
from fieldlog.tides.predict import level_curve, tide_extremes
from fieldlog.tides.station import station_from, station_values
from fieldlog.tides.yearly import left_out

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)


def test_5843_stations_of_four_sources_are_here() -> None:
    everywhere = near(0, 0, 10_000)
    assert len(everywhere) == 5843
    of = [one.source for one in everywhere]
    kinds = [one.kind for one in everywhere if one.source == "NOAA"]
    assert (of.count("NOAA"), of.count("TICON-4"), of.count("Kartverket")) == (1246 + 2241, 2323, 33)
    assert kinds.count("harmonic") == 1246


def test_the_nearest_come_first_with_great_circle_distances() -> None:
    """Against the spherical law of cosines, a formula that the code does not use, on a sphere of 6371.0088 km (IUGG's mean radius)."""
    boston = find("noaa/8443970")
    found = near(boston.lat_deg, boston.lon_deg, 3000)
    assert found[0].id == "noaa/8443970"
    assert found[0].distance_km == 0
    assert [one.distance_km for one in found] == sorted(one.distance_km for one in found)
    eastport = next(one for one in found if one.id == "noaa/8410140")
    lat, other_lat, apart = (math.radians(deg) for deg in (boston.lat_deg, eastport.lat_deg, eastport.lon_deg - boston.lon_deg))
    angle = math.acos(math.sin(lat) * math.sin(other_lat) + math.cos(lat) * math.cos(other_lat) * math.cos(apart))
    assert eastport.distance_km == pytest.approx(6371.0088 * angle, abs=0.01)


def test_a_name_borne_once_finds_its_station() -> None:
    assert find("boston, ma").station_id == "noaa/8443970"


@pytest.mark.parametrize("asked", ["noaa/0000000", "Nowhere Sound", "", "'; DROP TABLE station; --"])
def test_an_unknown_station_is_told_with_what_to_do(asked: str) -> None:
    with pytest.raises(StationUnknown, match=r"No tide station .*(Did you mean|find one near)"):
        find(asked)


def test_a_name_borne_twice_asks_for_an_id() -> None:
    names = [one.name for one in near(0, 0, 10_000)]
    twice = next(name for name in names if names.count(name) > 1)
    with pytest.raises(NameAmbiguous, match="Give an id"):
        find(twice)


@pytest.mark.parametrize("place", [(91, 0), (0, 181), (float("nan"), 0)])
def test_a_place_off_the_earth_is_refused(place: tuple[float, float]) -> None:
    with pytest.raises(BadRequest, match="Latitude is between"):
        near(*place, 1)


def test_every_source_is_credited() -> None:
    told = " ".join(ATTRIBUTION)
    for one in ("NOAA", "TICON-4", "Kartverket", "CC BY 4.0", "doi 10.17882/109129"):
        assert one in told


def test_what_a_prediction_leaves_out_is_said_with_its_size() -> None:
    masirah = find("ticon/masirah-113-omn-uhslc_fd")
    for sentence in left_out(masirah):
        assert "cm" in sentence
        assert masirah.name in sentence
    assert left_out(find("noaa/8443970")) == ()


@pytest.mark.parametrize(
    ("start", "end", "said"),
    [
        (NOON, NOON, "give the earlier time first"),
        (NOON, NOON - timedelta(hours=1), "give the earlier time first"),
        (NOON, NOON + timedelta(days=4000), "at most ten years"),
        (datetime(1899, 1, 1, tzinfo=UTC), datetime(1899, 2, 1, tzinfo=UTC), "after 1900"),
        (datetime(2100, 1, 1, tzinfo=UTC), datetime(2100, 2, 1, tzinfo=UTC), "before 2100"),
    ],
)
def test_a_span_that_cannot_be_predicted_is_refused_with_a_sentence(start: datetime, end: datetime, said: str) -> None:
    with pytest.raises(BadSpan, match=said):
        tide_extremes(find("noaa/8443970"), start, end)


def test_a_list_of_levels_has_a_longest_length_and_a_shortest_step() -> None:
    station = find("noaa/8443970")
    with pytest.raises(BadSpan, match="too short"):
        level_curve(station, NOON, NOON + timedelta(hours=1), timedelta(milliseconds=1))
    with pytest.raises(BadSpan, match="600,000"):
        level_curve(station, NOON, NOON + timedelta(days=20), timedelta(seconds=1))


@pytest.mark.parametrize("station_id", ["noaa/8518974", "noaa/8443970"], ids=["by offsets", "harmonic"])
def test_a_station_kept_as_json_predicts_what_it_did(station_id: str) -> None:
    """A site's tide is kept so in the programme: one by offsets with its reference inside."""
    station = find(station_id)
    kept = station_from(json.loads(json.dumps(station_values(station))))
    assert asdict(kept) == asdict(station)
    assert tide_extremes(kept, NOON, NOON + timedelta(days=2)) == tide_extremes(station, NOON, NOON + timedelta(days=2))
    if station.reference:
        assert tide_extremes(kept, NOON, NOON + timedelta(days=2)) != tide_extremes(station.reference, NOON, NOON + timedelta(days=2))


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "is_likely_wrong"),
    [
        (44.63, -124.04, False), (44.63, 124.04, True), (32.03, 80.92, True),
        # A shore of the other half of the earth, one near Greenwich, and the middle of an ocean on both sides.
        (1.29, 103.85, False), (51.5, 0.7, False), (51.5, -0.7, False), (-45, 120, False), (0, 0, False),
    ],
)  # fmt: skip
def test_a_longitude_is_likely_of_the_wrong_sign_where_only_its_mirror_has_a_station(lat_deg: float, lon_deg: float, is_likely_wrong: bool) -> None:
    assert (mirrored(lat_deg, lon_deg) is not None) == is_likely_wrong
