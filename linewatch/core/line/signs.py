"""Looks for signs at every look, and turns the alarms that the plan has for them.

Rule 1: a sign counts when as many looks in a row as it asks for have told the same; looks that
        could tell nothing neither count nor break the row.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace
from math import isfinite
from typing import TYPE_CHECKING, Any

from linewatch.core.line.study import Study
from linewatch.core.plan import RectifierPlan
from linewatch.core.signs.sign import LOOKS, Seen, Sign
from linewatch.core.signs.table import BY_NAME

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

DECIMALS = 6
"""Of what is remembered: a step far below any instrument's."""


@dataclass(slots=True)
class _Place:
    """One sign at one tank or rectifier."""

    alarm: int
    sign: Sign
    subject: str
    target: float | None
    is_there: bool = False
    row: int = 0
    """Looks in a row that have told the other state."""


@dataclass(slots=True)
class _Subject:
    """What is kept of one tank or rectifier."""

    kinds: tuple[str, ...]
    rectifier: RectifierPlan | None
    past: dict[str, deque[float | None]] = field(default_factory=dict)


class Signs(Study):
    """Looks for every sign that the plan has an alarm for.

    Args:
        plan: The line as it is configured.
    """

    NAME = "signs"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        rectifiers = {each.id: each for each in plan.rectifiers}
        self._places: list[_Place] = []
        self._subjects: dict[str, _Subject] = {}
        for number, condition in enumerate(plan.conditions):
            subject, _, name = condition.tag.partition(".")
            sign = BY_NAME.get(name)
            if condition.kind != "found" or sign is None:
                continue
            tag = plan.tags.get(f"{subject}.{sign.needs[0]}")
            target = tag.window.target if tag is not None else None
            self._places.append(_Place(number, sign, subject, target))
            known = self._subjects.get(subject)
            kinds = (*(known.kinds if known is not None else ()), *sign.needs, *sign.also)
            self._subjects[subject] = _Subject(
                tuple(dict.fromkeys(kinds)), rectifiers.get(subject)
            )

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]; 0 without a place to look at."""
        return self.PERIOD_NS if self._places else 0

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Look at every position that a sign may stand at."""
        seen = {name: self._see(line, name, each) for name, each in self._subjects.items()}
        events: list[Event] = []
        for place in self._places:
            found = place.sign.look(replace(seen[place.subject], target=place.target))
            if found is None:
                continue
            place.row = place.row + 1 if found.is_there != place.is_there else 0
            if place.row >= place.sign.looks:
                place.is_there, place.row = found.is_there, 0
                events += line.alarms.turned(
                    place.alarm, at, found.value, active=place.is_there
                )
        return events

    def begin_again(self, alarm: int) -> bool:
        """Forget that a sign was told; it must be told anew."""
        for place in self._places:
            if place.alarm == alarm:
                place.is_there, place.row = False, 0
                return True
        return False

    def _see(self, line: Line, name: str, subject: _Subject) -> Seen:
        blind = line.doubted.blind(line, name)
        for kind in subject.kinds:
            self._keep(subject, kind, None if kind in blind else line.good(f"{name}.{kind}"))
        plan = subject.rectifier
        if plan is None:
            return Seen(past=_as_lists(subject))
        counted = line.rectifiers[name]
        swing = counted.ledger.steadiness.swing_ratio(line.now_ns)
        self._keep(subject, "swing", swing if isfinite(swing) else None)
        told = [line.positions.present.get(tank) for tank, _ in plan.feeds]
        work = None if None in told else float(any(told))
        self._keep(subject, "work", work)
        return Seen(
            past=_as_lists(subject),
            rated_a=plan.rated_current_a,
            rated_v=plan.rated_voltage_v,
            nothing_a=plan.zero_cutoff_a,
        )

    def _keep(self, subject: _Subject, kind: str, value: float | None) -> None:
        past = subject.past.setdefault(kind, deque(maxlen=LOOKS))
        past.append(None if value is None else round(value, DECIMALS))

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {
            "past": {
                name: {kind: list(past) for kind, past in each.past.items()}
                for name, each in self._subjects.items()
            },
            "places": {
                f"{each.subject}.{each.sign.name}": [each.is_there, each.row]
                for each in self._places
            },
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for what the plan no longer has."""
        for name, pasts in kept["past"].items():
            if name in self._subjects:
                self._subjects[name].past = {
                    kind: deque(past, maxlen=LOOKS) for kind, past in pasts.items()
                }
        for place in self._places:
            name = f"{place.subject}.{place.sign.name}"
            if name in kept["places"]:
                place.is_there, place.row = kept["places"][name]


def _as_lists(subject: _Subject) -> dict[str, list[float | None]]:
    return {kind: list(past) for kind, past in subject.past.items()}
