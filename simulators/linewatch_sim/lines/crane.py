"""A crane's timetable: one barrel at a time, worked out once for the whole line.

Barrels start at one interval, so that the crane's work repeats with it. Each pick-up needs a
slot of its own in the interval; dwells are stretched inside their limits until all fit.
"""

from __future__ import annotations

from dataclasses import dataclass

from linewatch_sim.rows import StopRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Dip:
    """One stop with its limits."""

    tank: str
    shortest_s: float
    longest_s: float
    every: int = 1
    turn: int = 0
    skip_every: int = 0
    skip_turn: int = 0


def crane_way(
    dips: tuple[Dip, ...], *, interval_s: float, transfer_s: float, slot_s: float
) -> tuple[StopRow, ...]:
    """Return stops at which the crane never has to be in two places.

    Alternatives (stops with `every` above 1) follow one another in `dips` and share times.

    Raises:
        ValueError: no such timetable was found.
    """
    stages = _stages(dips)
    times = _fit(stages, 0, transfer_s, (), (interval_s, transfer_s, slot_s))
    if times is None:
        raise ValueError("the crane cannot serve these dips in this interval")
    return tuple(
        StopRow(
            tank=dip.tank,
            enters_s=enters,
            dwell_s=leaves - enters,
            every=dip.every,
            turn=dip.turn,
            skip_every=dip.skip_every,
            skip_turn=dip.skip_turn,
        )
        for stage, (enters, leaves) in zip(stages, times, strict=True)
        for dip in stage
    )


def _stages(dips: tuple[Dip, ...]) -> list[list[Dip]]:
    stages: list[list[Dip]] = []
    for dip in dips:
        if stages and dip.every > 1 and stages[-1][0].every == dip.every:
            stages[-1].append(dip)
        else:
            stages.append([dip])
    return stages


Times = tuple[tuple[float, float], ...]


def _fit(
    stages: list[list[Dip]],
    at: int,
    enters_s: float,
    slots: tuple[float, ...],
    crane: tuple[float, float, float],
) -> Times | None:
    """Return (enters, leaves) for the stages from `at` on; None if they cannot be fitted."""
    if at == len(stages):
        return ()
    interval_s, transfer_s, slot_s = crane
    dip = stages[at][0]
    leaves_s = enters_s + dip.shortest_s
    while leaves_s <= enters_s + dip.longest_s:
        slot = leaves_s % interval_s
        if all(_apart(slot, taken, interval_s) >= slot_s for taken in slots):
            rest = _fit(stages, at + 1, leaves_s + transfer_s, (*slots, slot), crane)
            if rest is not None:
                return ((enters_s, leaves_s), *rest)
        leaves_s += 2.0
    return None


def _apart(one: float, other: float, interval_s: float) -> float:
    away = abs(one - other) % interval_s
    return min(away, interval_s - away)
