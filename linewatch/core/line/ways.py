"""Where loads go on from each position, how long that takes, and which are on their way.

Rule 1: what is odd teaches no habit: a way that was told as hanging, a move from where none
        comes, one of which nobody saw both ends. Hung three times in a row it is the habit.
Rule 2: until a position has its own habit, twice the longest usual way of its track stands
        for it, or of the whole line while few are known there; and only where loads have gone
        on before, or must: it stands amid its track, and none is known to have ended there.
Rule 3: only time counts in which the load would have been seen to come in: while a station
        that it may come to is not read, its clock stands.
Rule 4: a load that was told to hang does so until it is seen, or a person says what became of
        it: that time goes by sets nothing down.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.integration.gaps import longest_gap_ns
from linewatch.core.loads.record import UNSEEN_S

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from linewatch.core.events import Event
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import TankPlan

NS: Final = 1_000_000_000
LEAVES_RATIO: Final = 0.3
"""Loads end their way at a position if more than this share of them was not seen again."""
LOST_NS: Final = 1800 * NS
"""A load that is out for longer is no more looked for, unless it was told to hang."""
HANGS_NS: Final = 86_400 * NS
"""One that was told to hang is looked for until it is found, at most for so long: after a day
nobody takes it off the bar as it was, and memory has an end. Common practice."""
OWN_LOADS: Final = 6
"""Loads that must have left a position before its own ways alone are its habit."""
POOL_WAYS: Final = 20
POOL_POSITIONS: Final = 5
"""Ways, and positions that they led on from, that tell what is usual on a track. This, its use
for positions that have no habit yet, and the numbers above are common practice."""
YOUNG_NS: Final = 1200 * NS
"""So long from the begin on a position from which no load was yet seen to go on has no usual
way: what moved first, all at once, says nothing of loads that wait for the next move."""
USUAL_TIMES: Final = 2
LAST_KINDS: Final = frozenset({"dry", "load"})
"""Where loads end their way as long as nothing else is known. Common practice."""
HUNG_IN_A_ROW: Final = 3


@dataclass(slots=True)
class Out:
    """A load on its way from a position to the next."""

    tank: str
    since_ns: int
    """Since when it is out, as far as somebody looked."""
    left_ns: int = -1
    """When it left."""
    hangs: bool = False
    """That it hangs in the air has been told."""

    def __post_init__(self) -> None:
        if self.left_ns < 0:
            self.left_ns = self.since_ns


@dataclass(slots=True)
class Went:
    """How loads went on from one position."""

    left: int = 0
    seen: int = 0
    """How many of them were seen again."""
    longest_ns: int = 0
    """The longest usual way of them."""
    hung: int = 0
    """How many of the last ones hung in the air, one after another."""


class Ways:
    """Keeps the ways of all loads that have a number.

    Args:
        tanks: The positions, in the order of the line.
        stations: Ids of those that tell whether a load is in.
    """

    def __init__(self, tanks: Sequence[TankPlan], stations: Collection[str]) -> None:
        self._track = {each.id: each.track for each in tanks}
        last = {each.track: each.id for each in tanks if each.id in stations}
        self._is_amid = {
            each.id
            for each in tanks
            if each.id in stations
            and each.kind not in LAST_KINDS
            and last[each.track] != each.id
        }
        self.out: dict[str, Out] = {}
        """Loads on their way, by number."""
        self.came: dict[str, dict[str, int]] = {}
        """By position: how many loads came from each other one."""
        self.went: dict[str, Went] = {}
        """By position."""
        self.unsure: list[str] = []
        """Loads that were out while nobody looked, tanks into which one came meanwhile."""
        self.dark_ns: dict[str, int] = {}
        """By position: when a look found its station unread last [ns]."""
        self.looked_ns: int = -1
        self.began_ns: int = -1
        """When the first look was [ns]; -1: there was none."""

    # What happens.

    def left(self, tank: str, number: str, now_ns: int, *, is_hidden: bool) -> None:
        """Take a load that left a position."""
        self.out[number] = Out(tank, now_ns)
        if is_hidden:
            self.lose_sight_of(number)
        self.went.setdefault(tank, Went()).left += 1

    def went_on(self, out: Out, tank: str, now_ns: int, *, is_usual: bool) -> None:
        """Take a load that came in, its way having been seen whole."""
        went = self.went.setdefault(out.tank, Went())
        went.seen += 1
        came = self.came.setdefault(tank, {})
        came[out.tank] = came.get(out.tank, 0) + 1
        went.hung = 0 if is_usual else went.hung + 1
        if is_usual or went.hung >= HUNG_IN_A_ROW:
            went.longest_ns = max(went.longest_ns, now_ns - out.since_ns)

    def went_on_unseen(self, before: str) -> None:
        """Take a load that came in, nobody knows how: its position does lead on."""
        self.went.setdefault(before, Went()).seen += 1

    def lose_sight_of(self, name: str) -> None:
        """Note that a load or tank was lost sight of."""
        if name not in self.unsure:
            self.unsure.append(name)

    def was_unsure(self, name: str) -> bool:
        """Say whether a load or tank was lost sight of; it is so once."""
        if name not in self.unsure:
            return False
        self.unsure.remove(name)
        return True

    def forget(self, number: str) -> None:
        """Look for a load no more."""
        del self.out[number]
        self.was_unsure(number)

    def hang_from(self, tank: str) -> bool:
        """Say whether a load hangs in the air that left a position."""
        return any(each.hangs and each.tank == tank for each in self.out.values())

    def pass_over(self, for_ns: int) -> None:
        """Leave out a time in which nobody looked [ns]."""
        for number, out in self.out.items():
            out.since_ns += for_ns
            self.lose_sight_of(number)

    def look(self, line: Line, now_ns: int) -> None:
        """Note which stations are not read; stop the clock of loads that may come there."""
        self.began_ns = now_ns if self.began_ns < 0 else self.began_ns
        passed_ns = now_ns - self.looked_ns if self.looked_ns >= 0 else 0
        dark = {tank for tank in self.came if is_unread(line, tank)}
        # What was dark at the last look and is not now was so for some of the time between.
        was_dark = {tank for tank, at_ns in self.dark_ns.items() if at_ns == self.looked_ns}
        self.looked_ns = now_ns
        self.dark_ns |= dict.fromkeys(sorted(dark), now_ns)
        for number, out in self.out.items():
            if (dark | was_dark).intersection(self.targets(out.tank)):
                out.since_ns += min(passed_ns, now_ns - out.since_ns)
                self.lose_sight_of(number)

    # What it tells.

    def has_hardly_begun(self, tank: str) -> bool:
        """Say whether the load that leaves now may have been in before all began."""
        went = self.went.get(tank)
        return went is None or went.left < 1

    def known(self, tank: str) -> int:
        """Return how many loads were seen to come into a position."""
        return sum(self.came.get(tank, {}).values())

    def targets(self, tank: str) -> list[str]:
        """Return where loads from a position have come in."""
        return [to for to, came in self.came.items() if tank in came]

    def leads_on(self, tank: str) -> bool:
        """Say whether loads that leave a position are known to be seen again."""
        went, settled = self.went.get(tank, Went()), self._settled(tank)
        if not settled and not went.seen:
            return tank in self._is_amid
        return went.seen > (1.0 - LEAVES_RATIO) * settled

    def ends(self, tank: str) -> bool:
        """Say whether loads that leave a position are known not to be seen again."""
        return self._settled(tank) > 0 and not self.leads_on(tank)

    def _settled(self, tank: str) -> int:
        """Return how many loads left a position; where few did, without those still out."""
        left = self.went.get(tank, Went()).left
        if left >= OWN_LOADS:
            return left
        return left - sum(1 for each in self.out.values() if each.tank == tank)

    def allowed_ns(self, line: Line, out: Out, limit_s: float | None) -> int | None:
        """Return how long a load may be out before it hangs in the air.

        Args:
            line: The line.
            out: The load.
            limit_s: The rule's limit where it left [s]; None: it is not watched there.

        Returns:
            Time [ns]; None where nothing is known of what is usual.
        """
        if limit_s is None or not self.leads_on(out.tank):
            return None
        went = self.went.get(out.tank, Went())
        usual_ns = went.longest_ns
        if not usual_ns and line.now_ns - self.began_ns < YOUNG_NS:
            return None
        if went.left < OWN_LOADS or not usual_ns:
            track = self._track.get(out.tank)
            pool_ns = self._pool_ns(track)
            if pool_ns is None:
                return None
            usual_ns = max(usual_ns, pool_ns)
        # It may have come in, and its station have not been read since.
        late_ns = max((_late_ns(line, tank) for tank in self.targets(out.tank)), default=0)
        return max(round(limit_s * NS), USUAL_TIMES * usual_ns) + late_ns

    def _pool_ns(self, track: str | None) -> int | None:
        """Return the longest usual way of a track, while it is young of the line [ns].

        A track is young until its positions have had `OWN_LOADS` each, on an average: what
        comes round with every fourth load has not been seen yet. None: too few are known.
        """
        own = [went for tank, went in self.went.items() if self._track.get(tank) == track]
        known = [each.seen for each in own if each.longest_ns]
        own_ns = _longest_ns(own)
        if own_ns is None or sum(known) < OWN_LOADS * len(known):
            return _longest_ns(self.went.values())
        return own_ns

    def may_have_passed_unseen(self, line: Line, tank: str, out: Out) -> bool:
        """Say whether a load may have been, unseen, where those that come here come from."""
        return any(
            self.dark_ns.get(before, -1) >= out.left_ns or is_unread(line, before)
            for before in self.came.get(tank, {})
        )

    # Memory.

    def remember(self) -> dict[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {
            "out": {number: asdict(each) for number, each in self.out.items()},
            "came": self.came,
            "went": {tank: asdict(each) for tank, each in self.went.items()},
            "unsure": self.unsure,
            "dark_ns": self.dark_ns,
            "looked_ns": self.looked_ns,
            "began_ns": self.began_ns,
        }

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered; an older memory holds rows instead of names."""
        self.out = {number: Out(**_named(Out, each)) for number, each in kept["out"].items()}
        self.came = {tank: dict(each) for tank, each in kept["came"].items()}
        self.went = {tank: Went(**_named(Went, each)) for tank, each in kept["went"].items()}
        self.unsure = list(kept.get("unsure", ()))
        self.dark_ns = dict(kept.get("dark_ns", {}))
        self.looked_ns = int(kept.get("looked_ns", -1))
        # An older memory has begun before anything that can be out now.
        self.began_ns = int(kept.get("began_ns", 0))


def _longest_ns(went: Iterable[Went]) -> int | None:
    """Return the longest of some usual ways [ns]; None: too few are known."""
    known = list(went)
    longest = [each.longest_ns for each in known if each.longest_ns]
    if len(longest) < POOL_POSITIONS or sum(each.seen for each in known) < POOL_WAYS:
        return None
    return max(longest)


def was_hidden(line: Line, event: Event) -> bool:
    """Say whether a station had not been read for too long when it told of a move."""
    unseen_s = float(event.values.get("unseen_s") or 0.0)
    return unseen_s * NS > _gap_ns(line, event.subject)


def is_unread(line: Line, tank: str) -> bool:
    """Say whether a position's station is not read: bad, or silent for too long until now."""
    tag = f"{tank}.load-present"
    place = line.place(tag)
    if place is None or line.good(tag) is None:
        return True
    watch, column = place
    silent_ns = max(line.now_ns - watch.mono_ns, watch.unseen_ns(column) or 0)
    return silent_ns > _gap_ns(line, tank)


def _late_ns(line: Line, tank: str) -> int:
    """Return for how long a station has not been read by now [ns]."""
    place = line.place(f"{tank}.load-present")
    return max(0, line.now_ns - place[0].mono_ns) if place is not None else 0


def _gap_ns(line: Line, tank: str) -> int:
    """Return how far apart two readings of a station may lie [ns], a slow link allowed for."""
    tag = line.plan.tags.get(f"{tank}.load-present")
    gap_ns = longest_gap_ns(tag.period_ns if tag is not None else NS, line.speed)
    return max(round(UNSEEN_S * NS), gap_ns)


def _named(
    kind: type[Out] | type[Went], kept: Mapping[str, Any] | Iterable[Any]
) -> dict[str, Any]:
    names = [each.name for each in fields(kind)]
    if isinstance(kept, dict):
        return {name: kept[name] for name in names if name in kept}
    return dict(zip(names, kept, strict=False))
