"""What the line is doing, as far as its signals and its people tell.

Rule 1: a signal that is not good changes nothing: the last known state stands.
Rule 2: a load's dwell runs from the stored time of its entry, in line time; a restart of
        anything does not restart it.
Rule 3: what makes an alarm expected is worked out here, from these states alone, whenever one
        of them changes; see `expected`.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from linewatch.core.plan import LinePlan

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.plan import TagPlan

NS = 1_000_000_000
PRODUCING = "producing"
STATES = (PRODUCING, "heating-up", "planned-stop", "out-of-service")
STATE_OF_CODE = {0: "planned-stop", 1: PRODUCING, 2: "heating-up", 3: "out-of-service"}
"""What the values of a 'line-state' tag mean."""
TRANSFER_NS = 10 * NS
"""A load is on its way in or out for about this long: common practice."""
SUPPRESSIONS = ("no-load", "no-current", "heating-up", "line-rests", "planned-stop")
"""Every name that a condition's `suppress_when` may hold."""


@dataclass(slots=True)
class Visit:
    """A load in a position."""

    number: str
    since_utc_ns: int
    since_ns: int
    cathodic: dict[str, int] = field(default_factory=dict)
    """Cathodic charge of each rectifier when it entered [fine units]."""
    deposits: dict[str, int] = field(default_factory=dict)
    """Deposit charge of each rectifier into this tank when it entered [fine units]."""
    unmetered_ns: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class Positions:
    """States of the line, its tracks and its positions."""

    plan: LinePlan
    line: str = PRODUCING
    tracks: dict[str, str] = field(default_factory=dict)
    """State of a track where it is not the line's."""
    present: dict[str, bool] = field(default_factory=dict)
    """Whether a load is in a tank; a tank that does not tell is not in it."""
    changed_ns: dict[str, int] = field(default_factory=dict)
    """Line time of the last entry or exit."""
    number: dict[str, str] = field(default_factory=dict)
    """Load number that a tank tells."""
    visit: dict[str, Visit] = field(default_factory=dict)
    has_no_current: dict[str, bool] = field(default_factory=dict)
    """By rectifier."""
    track_names: frozenset[str] = field(init=False, repr=False)
    _track: dict[str, str] = field(init=False, repr=False)
    _feeding: dict[str, tuple[str, ...]] = field(init=False, repr=False)
    _feeds: dict[str, tuple[str, ...]] = field(init=False, repr=False)
    _tells_load: frozenset[str] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        plan = self.plan
        self._track = {tank.id: tank.track for tank in plan.tanks}
        self.track_names = frozenset(tank.track for tank in plan.tanks if tank.track)
        self._feeds = {r.id: tuple(tank for tank, _ in r.feeds) for r in plan.rectifiers}
        self._feeding = {
            tank.id: tuple(r for r, fed in self._feeds.items() if tank.id in fed)
            for tank in plan.tanks
        }
        self._tells_load = frozenset(
            tag.subject for tag in plan.tags.values() if tag.kind == "load-present"
        )

    def feeding(self, tank: str) -> tuple[str, ...]:
        """Return the rectifiers that feed a tank."""
        return self._feeding.get(tank, ())

    def of_track(self, track: str) -> str:
        """Return what a track is doing."""
        return self.tracks.get(track, self.line)

    def of_subject(self, subject: str) -> str:
        """Return what the track of a tank or rectifier is doing."""
        fed = self._feeds.get(subject)
        tank = fed[0] if fed else subject
        return self.of_track(self._track.get(tank, ""))

    def state(self, tank: str, now_ns: int) -> str:
        """Return a position's own state; '' where the line does not tell."""
        here = self.present.get(tank)
        if here is None:
            return ""
        is_moving = now_ns - self.changed_ns.get(tank, -TRANSFER_NS) < TRANSFER_NS
        if here:
            return "entering" if is_moving else "in"
        return "leaving" if is_moving else "empty"

    def set_state(self, state: str, track: str) -> bool:
        """Say what the line or a track is doing; say whether that is new."""
        if (self.of_track(track) if track else self.line) == state:
            return False
        if track:
            self.tracks[track] = state
        else:
            self.line = state
            self.tracks.clear()
        return True

    def affected(self, subject: str) -> set[str]:
        """Return every subject whose expectations depend on a tank or rectifier."""
        found = {subject}
        for tank in self._feeds.get(subject, ()):
            found.add(tank)
            found.update(self.feeding(tank))
        for rectifier in self.feeding(subject):
            found.add(rectifier)
            found.update(self._feeds[rectifier])
        return found

    def expected(self, subject: str, names: tuple[str, ...]) -> str:
        """Return the first of some suppressions that holds for a subject, '' if none does."""
        return next((name for name in names if self._holds(subject, name)), "")

    def _holds(self, subject: str, name: str) -> bool:
        match name:
            case "no-load":
                return self._has_no_load(subject)
            case "no-current":
                return self._is_without_current(subject)
            case "line-rests":
                return self.of_subject(subject) != PRODUCING
            case _:
                return self.of_subject(subject) == name

    def _has_no_load(self, subject: str) -> bool:
        tanks = self._feeds.get(subject, (subject,))
        telling = [tank for tank in tanks if tank in self._tells_load]
        if not telling:
            return self._is_without_current(subject)
        return all(self.present.get(tank) is False for tank in telling)

    def _is_without_current(self, subject: str) -> bool:
        sources = (subject,) if subject in self._feeds else self.feeding(subject)
        return bool(sources) and all(self.has_no_current.get(each, False) for each in sources)

    def remember(self) -> dict[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {
            "line": self.line,
            "tracks": self.tracks,
            "present": self.present,
            "changed_ns": self.changed_ns,
            "number": self.number,
            "visit": {tank: asdict(visit) for tank, visit in self.visit.items()},
            "has_no_current": self.has_no_current,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered."""
        self.line, self.tracks = kept["line"], dict(kept["tracks"])
        self.present, self.number = dict(kept["present"]), dict(kept["number"])
        self.changed_ns = dict(kept["changed_ns"])
        self.visit = {tank: Visit(**parts) for tank, parts in kept["visit"].items()}
        self.has_no_current = dict(kept["has_no_current"])


def load_number(tag: TagPlan, value: float) -> str:
    """Return a load's number as the line tells it; '' for none.

    Args:
        tag: The tag that tells it.
        value: Its value; 0 means that there is none.

    Returns:
        The number in decimal digits.
    """
    return str(round(value)) if value > tag.low else ""
