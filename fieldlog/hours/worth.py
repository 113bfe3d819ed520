"""What hours and miles are worth at a lead's own rates. The program has none of its own."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from fieldlog.rounding import product

Row = Mapping[str, Any]
HOUR, MILE = "hour", "mile"


class Rates:
    """
    The table of rates.

    Args:
        rates: rows of the kind rate that were not removed.
    """

    def __init__(self, rates: Iterable[Row]) -> None:
        self._rates: dict[tuple[Any, ...], list[Row]] = defaultdict(list)
        for rate in rates:
            if rate["amount"] is not None and rate["currency"]:
                self._rates[(rate["site_id"], rate["rate_per"], rate["rate_year"])].append(rate)

    def of(self, site_id: str | None, per: str, year: int, role: str | None, task: str | None) -> list[Row]:
        """
        The rate for one role and task in a year: one that names the task goes before one that names the role, that before one that
        names neither.

        Returns:
            No rate where there is none; several where they say different amounts, and somebody must decide.
        """
        fitting = [
            (2 * bool(rate["task"]) + bool(rate["rate_role"]), rate) for rate in self._rates.get((site_id, per, year), ())
            if rate["task"] in (None, task) and rate["rate_role"] in (None, role)
        ]  # fmt: skip
        best = max((fits for fits, _ in fitting), default=0)
        found: dict[tuple[Any, Any], Row] = {}
        for fits, rate in sorted(fitting, key=lambda pair: pair[1]["record_id"]):
            if fits == best:
                found.setdefault((rate["amount"], rate["currency"]), rate)
        return list(found.values())


def value_of(quantity: float, amount: float) -> Decimal:
    """Printed hours, or miles, by a rate, to the hundredth: whoever multiplies the two printed numbers gets the printed value."""
    return Decimal(product(quantity, amount, 2))
