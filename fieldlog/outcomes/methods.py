"""Every computation of this room by its name, so that what was kept with a name and a version can be asked whether it is still worked out so."""

from __future__ import annotations

from fieldlog.outcomes import (
    agreement,
    before_after,
    cover,
    criteria,
    density,
    diversity,
    flooding,
    horizons,
    joining,
    leveling,
    more_visits,
    profiles,
    shoreline,
    sizes,
    stakes,
    tables,
    trends,
)
from fieldlog.outcomes.results import Method

MODULES = (
    agreement, before_after, cover, criteria, density, diversity, flooding, horizons, joining, leveling, more_visits, profiles, shoreline, sizes, stakes,
    tables, trends,
)  # fmt: skip

METHODS: dict[str, Method] = {method.name: method for module in MODULES for method in vars(module).values() if isinstance(method, Method)}


def is_worked_out_so(name: str, computed_as: str) -> bool:
    """Whether a number that was kept with this name and version would come out the same from the same readings."""
    return name in METHODS and METHODS[name].computed_as == computed_as
