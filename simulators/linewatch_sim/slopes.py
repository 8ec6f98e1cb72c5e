"""Numbers on their way: what goes wrong little by little, or for a moment only."""

from __future__ import annotations

from dataclasses import dataclass

from linewatch_sim.parts import Floats


@dataclass(slots=True)
class _Way:
    array: Floats
    place: int
    goal: float
    left_s: float
    """How long it still takes."""
    after_s: float
    """How long it still waits before that."""


class Slopes:
    """Leads numbers of the plant to their goals in line time."""

    def __init__(self) -> None:
        self._ways: list[_Way] = []

    @property
    def under_way(self) -> int:
        """Return how many numbers are on their way."""
        return len(self._ways)

    def lead(
        self,
        array: Floats,
        place: int,
        goal: float,
        *,
        over_s: float = 0.0,
        after_s: float = 0.0,
    ) -> None:
        """Lead one number to a goal, evenly in `over_s`, after a wait of `after_s`.

        Without a wait, whatever else was leading it no longer does.
        """
        if after_s <= 0.0:
            self._ways = [
                way for way in self._ways if way.array is not array or way.place != place
            ]
            if over_s <= 0.0:
                array[place] = goal
                return
        self._ways.append(
            _Way(array=array, place=place, goal=goal, left_s=over_s, after_s=after_s)
        )

    def step(self, dt_s: float) -> None:
        """Go on by a step."""
        if self._ways:
            self._ways = [way for way in self._ways if _is_on_its_way(way, dt_s)]


def _is_on_its_way(way: _Way, dt_s: float) -> bool:
    """Let one go on by a step; tell whether it still has to."""
    if way.after_s > 0.0:
        way.after_s -= dt_s
        if way.after_s > 0.0:
            return True
    share = 1.0 if way.left_s <= dt_s else dt_s / way.left_s
    way.array[way.place] += (way.goal - way.array[way.place]) * share
    way.left_s -= dt_s
    return way.left_s > 0.0
