"""
A rule that fails takes nothing with it: the entry is taken, and a flag "could not be judged" stands where the rule's own would.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from fieldlog.flags.flag import LOOK, About, Found, Rule, read_rule

NOT_JUDGED = "not_judged"
"""The rule that this flag goes by; `doctor` counts them."""

log = logging.getLogger("fieldlog")


@dataclass(frozen=True, slots=True)
class Failed:
    """A rule that stopped, and the kind of fault that stopped it. Its text may hold private values and is not kept."""

    rule: str
    fault: str

    def found(self, whose: str, raised_at: str, record_id: str) -> Found:
        """The flag that stands in the rule's place; `whose` is what the crew calls the subject."""
        said = f"{whose}: could not be judged for \u201c{self.rule.replace('_', ' ')}\u201d. What was recorded is kept; tell whoever looks after the server."
        return Found(LOOK, said, {"rule": self.rule, "fault": self.fault}, raised_at, record_id, part=self.rule)


read_rule(NOT_JUDGED, About("Could not be judged", "look", "a version of the server whose rule does not fail"))(Failed.found)


def tried(rule: str, call: Callable[..., Any], *given: Any) -> Any:
    """What a rule's function returns, or `Failed`."""
    try:
        return call(*given)
    # A rule is the part of the server that most hands write. Whatever is wrong with one, a crew's entries must not wait at
    # the door until it is mended, and no list of faults can be complete: so this one place catches them all.
    except Exception as fault:  # noqa: BLE001
        log.error("The flag rule %s failed with %s at %s.", rule, type(fault).__name__, _where(fault))
        return Failed(rule, type(fault).__name__)


def all_tried(rules: Sequence[Rule], given: Any) -> list[tuple[Rule, list[Found] | Failed]]:
    """
    What each of these rules finds in this, of those that find anything. Of a million records nearly all raise nothing, so the rules are
    asked in one go, and one by one where that fails.
    """
    together: list[tuple[Rule, list[Found] | Failed]] | Failed = tried("of all together", _all, rules, given)
    if not isinstance(together, Failed):
        return together
    return [(rule, tried(rule.name, _one, rule, given)) for rule in rules]


def _one(rule: Rule, given: Any) -> list[Found]:
    return list(rule.find(given))


def _all(rules: Sequence[Rule], given: Any) -> list[tuple[Rule, list[Found]]]:
    return [(rule, told) for rule in rules if (told := _one(rule, given))]


def _where(fault: BaseException) -> str:
    """File and line, never values."""
    trace = fault.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    return "an unknown place" if trace is None else f"{trace.tb_frame.f_code.co_filename}:{trace.tb_lineno}"
