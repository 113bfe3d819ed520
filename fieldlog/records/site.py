"""
A restoration site: where it is, which tide it has, and the levels and minutes that a safe window is made
from.
"""

from __future__ import annotations

from fieldlog.records.fields import Choice, Number, Text, Whole, YesNo, Zone
from fieldlog.records.kind import Kind, Record
from fieldlog.records.places import east, latitude, level, longitude, north

VISIT_WEEKDAYS = {"any": "Any day", "weekend": "Saturday and Sunday", "weekday": "Monday to Friday"}


class Site(Record):
    name = Text("Site name", 80, required=True)
    lat_deg = latitude(required=True)
    lon_deg = longitude(required=True)
    zone = Zone("Time zone", required=True, description="IANA name, such as America/New_York")
    grid_azimuth_deg = Number(
        "Direction of the grid's north",
        unit="°",
        least=0,
        most=360,
        default=0,
        description="Clockwise from true north; 0 is north",
    )
    tide_station = Text("Reference port", 80, least=3, required=True, description="The tide station's id")
    level_datum = Text("Chart datum", 40, required=True, description="All levels of the site are above this")
    work_level_m = level(
        "Work level", required=True, description="Below it, crews can work on the units", merge="lower"
    )
    route_low_level_m = level(
        "Lowest point on the path", required=True, description="Below it, the path in and out is dry enough to walk",
        merge="lower",
    )  # fmt: skip
    allowance_m = Number(
        "Allowance for wind and surge", unit="m", least=0, most=5, plausible=(0.05, 1), default=0.2,
        description="Added to every predicted level", merge="higher",
    )  # fmt: skip
    allowance_basis = Text("Where the allowance comes from", 200)
    walk_out_min = Number(
        "Walk to firm ground", unit="min", least=0, most=600, plausible=(1, 120), required=True,
        description="From the far row to firm ground, the slowest person", merge="higher",
    )  # fmt: skip
    muster_min = Number(
        "Time to gather everyone", unit="min", least=0, most=600, plausible=(1, 120), required=True,
        description="To gather everyone and the tools before walking back", merge="higher",
    )  # fmt: skip
    latest_after_low_min = Number(
        "Latest turn-back after low tide", unit="min", least=0, most=720, merge="lower"
    )
    least_usable_min = Number(
        "Shortest usable time", unit="min", least=0, most=720, plausible=(10, 240), required=True
    )
    travel_min = Number(
        "Travel time to the shore", unit="min", least=0, most=1440, plausible=(5, 240), description="To the shore; the calendar shows when to leave",
    )  # fmt: skip
    visit_weekday = Choice("Days you can go out", VISIT_WEEKDAYS)
    access_east_m = east("Where the path reaches the site, east")
    access_north_m = north("Where the path reaches the site, north")
    check_every_days = Number("Check every", unit="d", least=1, most=3650, plausible=(7, 400))
    lean_look_deg = Number("Flag a lean of", unit="°", least=0, most=90, plausible=(5, 45), default=15)
    reading_repeat_mm = Number(
        "Height readings repeat within", unit="mm", least=0, most=500, plausible=(2, 50), default=10,
        description="Smaller changes in height are not shown; 10 mm is our suggestion",
    )  # fmt: skip
    least_shift_m = Number(
        "Smallest shift that matters", unit="m", least=0.01, most=10, plausible=(0.02, 1),
        description="A unit that moved less is not flagged. Empty: a quarter of its footprint",
    )  # fmt: skip
    emergency_card = Text(
        "Emergency card", 2000, description="Whom to call, where the way in is, the nearest first aid; readers see it too"
    )
    emergency_card_es = Text("Emergency card in Spanish", 2000, description="Your own words, for who reads the desk form in Spanish")
    people_per_leader = Whole(
        "People for each leader, at most", least=1, most=50, plausible=(2, 15), description="Empty: one leader for every six, which is our suggestion",
        merge="lower",
    )  # fmt: skip
    least_leaders = Whole("Leaders, at least", least=1, most=20, description="Empty: two, which is our suggestion", merge="higher")
    spanish_form = YesNo(
        "Desk form in Spanish too (not yet read by a native speaker)", description="The form, briefing and safety card"
    )


SITE = Kind(
    "site", "Site", Site, writers={"lead"}, site_bound=False,
    rules=[{"rule": "together", "fields": ["access_east_m", "access_north_m"]}],
)  # fmt: skip
