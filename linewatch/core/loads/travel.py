"""A load's way through its route: what was left out, what is not on it, what was too short.

Rule 1: a step is done when the load comes into one of its tanks; what lies between the last
        step done and this one was left out. Going back is rework, and leaves nothing out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewatch.core.loads.present import lasting
from linewatch.core.plan import StepPlan

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.plan import RoutePlan

SHORT_RATIO: Final = 0.98
"""A stay shorter than this share of the shortest is too short: stations are read once a second,
and a dwell of a minute is then known to two in a hundred."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What a load's coming into a tank means for its route."""

    step: int | None
    """Number of the step, from 0; None: the tank is not on the route."""
    left_out: tuple[StepPlan, ...] = ()
    """Steps between the last one done and this one."""


def arrival(route: RoutePlan, done: int, tank: str) -> Arrival:
    """Return what coming into a tank means.

    Args:
        route: The route.
        done: Number of the last step done; -1 before the first.
        tank: Id of the tank.

    Returns:
        The step, and those that were left out on the way to it.
    """
    ahead = [k for k, step in enumerate(route.steps) if tank in step.tanks and k > done]
    if ahead:
        # A tank may serve several steps; the load is at the first that still lies ahead.
        return Arrival(step=ahead[0], left_out=route.steps[done + 1 : ahead[0]])
    before = [k for k, step in enumerate(route.steps) if tank in step.tanks]
    return Arrival(step=before[-1] if before else None)


def last_done(route: RoutePlan, tanks: Sequence[str]) -> int:
    """Return the number of the last step that a load has done; -1 if it did none.

    Args:
        route: The route.
        tanks: Tanks that it has been in, in order.

    Returns:
        The step's number, from 0.
    """
    last = -1
    for tank in tanks:
        step = arrival(route, last, tank).step
        last = last if step is None else max(last, step)
    return last


def follows(route: RoutePlan, tanks: Sequence[str]) -> bool:
    """Say whether all tanks that a load has been in so far are on a route."""
    known = {tank for step in route.steps for tank in step.tanks}
    return all(tank in known for tank in tanks)


def dwell_known(
    span_s: tuple[float, float], shortest_s: float | None, longest_s: float | None
) -> bool:
    """Say whether all dwells within a span are judged alike.

    Args:
        span_s: Shortest and longest time that a load may have been in a tank [s].
        shortest_s: Shortest allowed [s]; None: no limit.
        longest_s: Longest allowed [s]; None: no limit.

    Returns:
        False where it depends on what nobody saw.
    """
    least_s, most_s = span_s
    is_short = (
        shortest_s is not None and least_s < SHORT_RATIO * shortest_s,
        shortest_s is not None and most_s < SHORT_RATIO * shortest_s,
    )
    is_long = (
        longest_s is not None and least_s > longest_s,
        longest_s is not None and most_s > longest_s,
    )
    return is_short[0] == is_short[1] and is_long[0] == is_long[1]


def dwell_mark(dwell_s: float, shortest_s: float | None, longest_s: float | None) -> str:
    """Return what is odd about a dwell, in words; '' if nothing is.

    Args:
        dwell_s: Time in the tank [s].
        shortest_s: Shortest allowed [s]; None: no limit.
        longest_s: Longest allowed [s]; None: no limit.

    Returns:
        '95 s, at least 120 s wanted', for example.
    """
    if shortest_s is not None and dwell_s < SHORT_RATIO * shortest_s:
        return f"{lasting(dwell_s)}, at least {lasting(shortest_s)} wanted"
    if longest_s is not None and dwell_s > longest_s:
        return f"{lasting(dwell_s)}, at most {lasting(longest_s)} wanted"
    return ""
