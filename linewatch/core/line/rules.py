"""Looks by every rule that the plan has an alarm for.

Rule 1: a verdict counts when as many looks in a row as the rule asks for have told the same;
        looks that could tell nothing neither count nor break the row.
Rule 2: only the numbers that rules ask to keep are remembered, place by place.
Rule 3: a reading of which something says that it is not what it looks like is no reading;
        what says so itself, and what warns of danger to people, looks at it all the same.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import isfinite
from typing import TYPE_CHECKING, Any

from linewatch.core.alarms.causes import suspect
from linewatch.core.line.study import Study
from linewatch.core.plan import RectifierPlan
from linewatch.core.rules.library import rule_of
from linewatch.core.rules.movement import heard
from linewatch.core.rules.rule import Kept, Rule, Seen, Told

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan
    from linewatch.core.readings import Moment

NS = 1_000_000_000


@dataclass(slots=True)
class _Place:
    """One rule at one position."""

    alarm: int
    rule: Rule
    limit: float
    key: str
    kept: Kept = ()
    is_there: bool = False
    row: int = 0
    """Verdicts in a row that have told the other state."""


@dataclass(slots=True)
class _Subject:
    """One position, and all rules that watch it."""

    name: str
    tanks: tuple[str, ...]
    rectifier: RectifierPlan | None
    tags: tuple[tuple[str, str], ...]
    """(kind with suffix, tag)."""
    seen: Seen
    places: list[_Place] = field(default_factory=list)


class Rules(Study):
    """Looks by every rule that the plan has an alarm for.

    Args:
        plan: The line as it is configured.
    """

    NAME = "rules"

    def __init__(self, plan: LinePlan) -> None:
        super().__init__(plan)
        self._subjects: dict[str, _Subject] = {}
        self._by_alarm: dict[int, tuple[_Subject, _Place]] = {}
        for number, condition in enumerate(plan.conditions):
            name, rule = condition.tag.partition(".")[0], rule_of(condition)
            if rule is None:
                continue
            subject = self._subjects.get(name)
            if subject is None:
                subject = self._subjects[name] = _subject(plan, name)
            place = _Place(number, rule, condition.limit, condition.id)
            subject.places.append(place)
            if rule.judge is not heard:
                # What happens tells it, not a look: it begins anew where it is told.
                self._by_alarm[number] = (subject, place)

    @property
    def period_ns(self) -> int:
        """Line time between two looks [ns]; 0 without a position to look at."""
        return self.PERIOD_NS if self._subjects else 0

    def look(self, line: Line, at: Moment) -> list[Event]:
        """Look at every position that a rule watches."""
        events: list[Event] = []
        for subject in self._subjects.values():
            clear = _see(line, subject, at)
            blind = self._blinded(line, subject.name, clear)
            for place in subject.places:
                told = _judged(place, clear, blind)
                if told is not None and not told.is_suspected:
                    events += _count(line, place, told, at)
                # What a look cannot tell is not suspected either.
                seems = told is not None and (place.row > 0 or told.is_suspected)
                is_suspected = seems and not place.is_there
                events += suspect(line.alarms, place.alarm, at, is_suspected=is_suspected)
        return events

    def _blinded(self, line: Line, subject: str, clear: Seen) -> Seen:
        """Return what is seen without the readings that something doubts."""
        blind = line.doubted.blind(line, subject)
        clear.doubted = blind
        if not blind:
            return clear
        return replace(clear, value={**clear.value, **dict.fromkeys(blind)})

    def suspects(self, line: Line, alarm: int, at: Moment) -> bool:
        """Say whether a look now would tell a rule that is not told yet; count it as a look."""
        if alarm not in self._by_alarm:
            return False
        subject, place = self._by_alarm[alarm]
        clear = _see(line, subject, at)
        seen = _seen_by(place, clear, self._blinded(line, subject.name, clear))
        told, _ = place.rule.judge(seen, place.kept)
        if told is None or place.is_there or not (told.is_there or told.is_suspected):
            return False
        if told.is_there:
            place.row = max(place.row, 1)
        return True

    def begin_again(self, alarm: int) -> bool:
        """Forget that a rule has told; it must tell anew."""
        if alarm not in self._by_alarm:
            return False
        _, place = self._by_alarm[alarm]
        place.is_there, place.row = False, 0
        return True

    def at(self, subject: str, rule: str) -> tuple[Kept, bool, float]:
        """Return what a rule keeps of a position, whether it tells, and its limit there."""
        known = self._subjects.get(subject)
        for place in known.places if known is not None else ():
            if place.rule.name == rule:
                return place.kept, place.is_there, place.limit
        return (), False, 0.0

    def remember(self) -> Mapping[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {
            place.key: [place.is_there, place.row, *place.kept]
            for subject in self._subjects.values()
            for place in subject.places
            if place.kept or place.is_there or place.row
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered, but for what the plan no longer has."""
        for subject in self._subjects.values():
            for place in subject.places:
                row = kept.get(place.key)
                if row is not None:
                    place.is_there, place.row, place.kept = row[0], row[1], tuple(row[2:])


def _seen_by(place: _Place, clear: Seen, blind: Seen) -> Seen:
    """Return what a rule looks at: all there is, or what nothing doubts."""
    seen = clear if place.rule.doubts or place.rule.is_safety else blind
    seen.limit = place.limit
    return seen


def _judged(place: _Place, clear: Seen, blind: Seen) -> Told | None:
    told, place.kept = place.rule.judge(_seen_by(place, clear, blind), place.kept)
    return told


def _count(line: Line, place: _Place, told: Told, at: Moment) -> list[Event]:
    """Count a verdict; turn the rule's alarm if there were enough of them."""
    place.row = place.row + 1 if told.is_there != place.is_there else 0
    if place.row < place.rule.looks:
        return []
    place.is_there, place.row = told.is_there, 0
    return line.alarms.turned(place.alarm, at, told.value, active=place.is_there)


def _subject(plan: LinePlan, name: str) -> _Subject:
    rectifier = next((each for each in plan.rectifiers if each.id == name), None)
    tanks = tuple(tank for tank, _ in rectifier.feeds) if rectifier is not None else (name,)
    own = {tag.id.split(".", 1)[1]: tag for tag in plan.tags_of(name)}
    seen = Seen(window={kind: tag.window for kind, tag in own.items()})
    if rectifier is not None:
        seen.rated_a, seen.rated_v = rectifier.rated_current_a, rectifier.rated_voltage_v
        seen.nothing_a = rectifier.zero_cutoff_a
        seen.is_anodic = rectifier.polarity == "anodic"
    tags = tuple((kind, tag.id) for kind, tag in own.items())
    return _Subject(name, tanks, rectifier, tags, seen)


def _see(line: Line, subject: _Subject, at: Moment) -> Seen:
    seen, positions = subject.seen, line.positions
    seen.now_s = at.mono_ns / NS
    seen.value = {kind: line.good(tag) for kind, tag in subject.tags}
    told = [positions.present.get(tank) for tank in subject.tanks]
    known = [each for each in told if each is not None]
    seen.work = any(known) if known else None
    changed = [positions.changed_ns.get(tank, 0) for tank in subject.tanks]
    seen.since_s = (at.mono_ns - max(changed)) / NS
    if subject.rectifier is not None:
        spread = line.rectifiers[subject.name].ledger.steadiness.spread_ratio(line.now_ns)
        seen.spread = spread if isfinite(spread) else None
    return seen
