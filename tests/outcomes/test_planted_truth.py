"""
The demo's planted truth, read by the product's own functions: its seed shows it, and over many seeds the intervals hold it as often as they say.
"""

from __future__ import annotations

import numpy as np
import pytest

from fieldlog.demo.planted import EDGE_M_Y, FACE_MEANS, GAIN_MM_Y, SEED, PlantedSite, planted_site
from fieldlog.outcomes.criteria import no_change
from fieldlog.outcomes.density import density, faces_ratio
from fieldlog.outcomes.shoreline import reach_rate
from fieldlog.outcomes.stake_readings import StakeReadings
from fieldlog.outcomes.stakes import bed_rate_less_control
from tests.outcomes.cases import YEAR_DAYS
from tests.outcomes.covering import Ends, Row, held

NAMES = [f"S{place}" for place in range(1, 11)]


def bed(site: PlantedSite):
    zones = [StakeReadings(zone, NAMES, site.years * YEAR_DAYS, site.exposed_mm[zone]) for zone in ("reef", "control")]
    return bed_rate_less_control(*zones)


def edge(site: PlantedSite):
    return reach_rate(site.years * YEAR_DAYS, site.edge_m["reef"])


def faces(site: PlantedSite):
    return {face: density(list(site.animals[face]), 1.0) for face in FACE_MEANS}


def holds_all(seed: int) -> bool:
    """The rule by which the demo's seed is picked."""
    for visits in (9, 5):
        site = planted_site(seed, visits)
        rate, moved = bed(site), edge(site)
        if not (0 < rate.low_mm_y <= GAIN_MM_Y <= rate.high_mm_y and 0 < moved.low_m_y <= EDGE_M_Y <= moved.high_m_y):
            return False
        if any(not found.low_per_m2 <= FACE_MEANS[face] <= found.high_per_m2 for face, found in faces(site).items()):
            return False
    still = planted_site(seed, 9, 0, 0)
    rate, moved = bed(still), edge(still)
    return bool(rate.low_mm_y <= 0 <= rate.high_mm_y and moved.low_m_y <= 0 <= moved.high_m_y)


def test_the_demos_seed_is_the_first_that_shows_what_was_planted() -> None:
    assert [seed for seed in range(SEED + 1) if holds_all(seed)] == [SEED]


def test_the_same_seed_gives_the_same_readings() -> None:
    one, other = planted_site(), planted_site()
    assert all(np.array_equal(one.exposed_mm[zone], other.exposed_mm[zone], equal_nan=True) for zone in one.exposed_mm)
    assert np.isnan(one.exposed_mm["reef"]).any() or np.isnan(one.exposed_mm["control"]).any()
    assert one.years[0] == 0
    assert (np.diff(one.years) > 0).all()


def test_where_nothing_happens_the_sentence_is_no_change_larger_than_or_cannot_tell() -> None:
    found = bed(planted_site(SEED, 9, 0, 0))
    said = no_change(found.rate_mm_y, found.se_mm_y, found.df, within=9)
    assert said is not None
    assert said.is_within
    assert 2 < said.larger_than < 9


def rates(visits: int, gain: float, _random: object, sites: int) -> Ends:
    found = [bed(planted_site(seed, visits, gain)) for seed in range(sites)]
    return [one.low_mm_y for one in found], [one.high_mm_y for one in found], gain


def edges(visits: int, out: float, _random: object, sites: int) -> Ends:
    found = [edge(planted_site(seed, visits, edge_m_y=out)) for seed in range(sites)]
    return [one.low_m_y for one in found], [one.high_m_y for one in found], out


def on_face(face: str, _random: object, sites: int) -> Ends:
    found = [density(list(planted_site(seed).animals[face]), 1.0) for seed in range(sites)]
    return [one.low_per_m2 for one in found], [one.high_per_m2 for one in found], FACE_MEANS[face]


def of_faces(_random: object, sites: int) -> Ends:
    made = [planted_site(seed).animals for seed in range(sites)]
    found = [faces_ratio(list(one["inside"]), list(one["seaward"])) for one in made]
    return [one.low for one in found], [one.high for one in found], FACE_MEANS["inside"] / FACE_MEANS["seaward"]


ROWS = [
    *(Row(f"planted bed, {visits} visits, {gain} mm/y", (93, 97), lambda random, sites, v=visits, g=gain: rates(v, g, random, sites)) for visits, gain in ((5, 9), (9, 9), (13, 9), (9, 0))),
    *(Row(f"planted edge, {visits} visits, {out} m/y", (93, 97), lambda random, sites, v=visits, o=out: edges(v, o, random, sites)) for visits, out in ((5, 0.4), (9, 0.4), (9, 0))),
    *(Row(f"planted {face}", (92, 97), lambda random, sites, f=face: on_face(f, random, sites)) for face in FACE_MEANS),
    Row("planted inside over seaward", (92, 97), of_faces),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_over_many_seeds_the_planted_truth_is_held_as_often_as_it_says(row: Row) -> None:
    held(row)


def test_a_gain_is_seen_and_none_is_not_seen_where_there_is_none() -> None:
    low, _, _ = rates(9, 9, None, 100)
    assert np.mean(np.array(low) > 0) >= 0.95
    low, _, _ = rates(9, 0, None, 100)
    assert np.mean(np.array(low) > 0) <= 0.08
