"""Whether a tank loses more than it evaporates, by its level, whether or not a top-up hides it.

Rule 1: levels are compared only while nothing moves in the tank and nobody fills, so that
        neither the size of a load, nor what it carries out, nor a top-up is in a fall.
Rule 2: a tank is held against its own habit over evaporation, and told only where the habit
        scatters by less than the limit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from linewatch.core.electrochemistry.baths import evaporation_l_per_h_m2
from linewatch.core.rules.rule import LOOK_S, Told

if TYPE_CHECKING:
    from linewatch.core.rules.rule import Kept, Seen

SETTLES_S: Final = 10.0
"""The surface lies still so long after work has come or left: common practice."""
LONGEST_LOOK_S: Final = 3.0 * LOOK_S + 5.0
FILLED_MM: Final = 0.6
"""A rise between two looks that means that somebody fills."""
FALL_S: Final = 1800.0
"""Looks that make one fall."""
FALLS_LEARNED: Final = 24.0
SPREAD_MM: Final = 0.5
"""Least spread of falls that is believed [mm/h]."""
LEAK_SUM: Final = 8.0
"""Sum at which it is told, in spreads."""


class Fall(NamedTuple):
    """What is kept of one tank: least squares of one slope, with a level of its own a stay."""

    last_s: float = -1.0
    last_mm: float = 0.0
    is_filling: float = 0.0
    """The last look was one of a filling: its level counts for nothing."""
    first_s: float = 0.0
    first_mm: float = 0.0
    """Of this stay: all its sums are over what lies beyond."""
    points: float = 0.0
    sum_s: float = 0.0
    sum_mm: float = 0.0
    sum_ss: float = 0.0
    sum_smm: float = 0.0
    own_ss: float = 0.0
    own_smm: float = 0.0
    """Of the stays before, each about its own middle."""
    counted_s: float = 0.0
    """Time of all of them."""


class Habit(NamedTuple):
    """What is learned of one tank, and how far it is beyond."""

    falls: float = 0.0
    mean: float = 0.0
    """Fall beyond evaporation [mm/h]."""
    square: float = 0.0
    """Mean square about it."""
    total: float = 0.0
    """Sum of what is beyond."""
    smooth: float = 0.0


FIELDS: Final = len(Fall._fields)


def habit_of(kept: Kept) -> Habit | None:
    """Return what a rule has learned of a tank; None before it has."""
    if len(kept) != FIELDS + len(Habit._fields):
        return None
    habit = Habit(*kept[FIELDS:])
    return habit if habit.falls >= FALLS_LEARNED else None


def half_hours_of(kept: Kept) -> float:
    """Return how many falls of half an hour a tank's habit rests on."""
    return Habit(*kept[FIELDS:]).falls if len(kept) == FIELDS + len(Habit._fields) else 0.0


def slow_leak(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:
    """Tell a tank that loses more than it evaporates.

    Half an hour of looks makes one fall: one slope over all of them, with a level of its own
    for each stay of work and each time without. Falls over evaporation at the present
    temperature are the tank's habit; what is beyond it is summed up.

    Returns:
        (what is told, what is kept: fields of `Fall`, then of `Habit`).
    """
    level, degc = seen.value["level"], seen.value["temperature"]
    if level is None or degc is None or seen.work is None or seen.since_s < SETTLES_S:
        return None, kept
    is_known = len(kept) == FIELDS + len(Habit._fields)
    fall = Fall(*kept[:FIELDS]) if is_known else Fall()
    habit = Habit(*kept[FIELDS:]) if is_known else Habit()
    fall = looked(fall, seen.now_s, level, seen.since_s)
    if fall.counted_s < FALL_S:
        return None, (*fall, *habit)
    mm_per_h, fall = closed(fall)
    told, habit = _judged(mm_per_h - evaporates_mm_per_h(degc), habit, seen.limit)
    return told, (*fall, *habit)


def looked(fall: Fall, now_s: float, level_mm: float, since_s: float) -> Fall:
    """Take one look; the one before counts once this one shows that nobody filled then."""
    look_s = now_s - fall.last_s
    here = {"last_s": now_s, "last_mm": level_mm}
    if fall.last_s < 0.0 or look_s > LONGEST_LOOK_S or since_s < look_s + SETTLES_S:
        # Something moved since, or nobody looked: another stay.
        return _stay_ended(fall)._replace(**here, is_filling=0.0)
    if level_mm - fall.last_mm > FILLED_MM:
        # A filling that begins in the midst of a look has spoilt the look before.
        return _stay_ended(fall)._replace(**here, is_filling=1.0)
    if fall.is_filling:
        # It ended in the midst of this look.
        return fall._replace(**here, is_filling=0.0)
    if not fall.points:
        fall = fall._replace(first_s=fall.last_s, first_mm=fall.last_mm)
    beyond_s, beyond_mm = fall.last_s - fall.first_s, fall.last_mm - fall.first_mm
    return fall._replace(
        **here,
        points=fall.points + 1.0,
        sum_s=fall.sum_s + beyond_s,
        sum_mm=fall.sum_mm + beyond_mm,
        sum_ss=fall.sum_ss + beyond_s * beyond_s,
        sum_smm=fall.sum_smm + beyond_s * beyond_mm,
        counted_s=fall.counted_s + look_s,
    )


def _stay_ended(fall: Fall) -> Fall:
    """Put the sums of a stay to those of the stays before."""
    points = max(fall.points, 1.0)
    return fall._replace(
        own_ss=fall.own_ss + fall.sum_ss - fall.sum_s * fall.sum_s / points,
        own_smm=fall.own_smm + fall.sum_smm - fall.sum_s * fall.sum_mm / points,
        points=0.0,
        sum_s=0.0,
        sum_mm=0.0,
        sum_ss=0.0,
        sum_smm=0.0,
    )


def closed(fall: Fall) -> tuple[float, Fall]:
    """Return the fall of the half hour [mm/h], and begin the next one."""
    whole = _stay_ended(fall)
    mm_per_h = -3600.0 * whole.own_smm / whole.own_ss if whole.own_ss > 0.0 else 0.0
    return mm_per_h, whole._replace(own_ss=0.0, own_smm=0.0, counted_s=0.0)


def evaporates_mm_per_h(degc: float) -> float:
    """Return what a still surface loses [mm/h], at the nearest temperature that is known.

    A litre on a square metre is a millimetre.
    """
    return evaporation_l_per_h_m2(min(max(degc, 20.0), 95.0))


def _judged(found: float, habit: Habit, limit: float) -> tuple[Told | None, Habit]:
    """Hold what fell beyond evaporation [mm/h] against the habit."""
    beyond = found - habit.mean
    if habit.falls < FALLS_LEARNED:
        # Mean and mean square about it, one by one (B. P. Welford, Technometrics 4, 1962).
        falls = habit.falls + 1.0
        mean = habit.mean + beyond / falls
        square = habit.square + (beyond * (found - mean) - habit.square) / falls
        return None, Habit(falls=falls, mean=mean, square=square)
    spread = max(SPREAD_MM, habit.square**0.5)
    if spread > limit:
        # This level moves by itself more than a leak would: nothing can be told.
        return None, _learned(habit, beyond)._replace(total=0.0, smooth=0.0)
    most = max(3.0 * spread, 1.5 * limit)
    clipped = max(-most, min(most, beyond))
    slack = 0.5 * max(limit, spread)
    total = max(0.0, min(habit.total + clipped - slack, 2.0 * LEAK_SUM * spread))
    smooth = habit.smooth + 0.15 * (clipped - habit.smooth)
    is_there = total >= LEAK_SUM * spread and smooth > 0.5 * limit
    if abs(beyond) < 2.0 * spread and total < LEAK_SUM * spread / 2.0:
        habit = _learned(habit, beyond)
    return Told(is_there, smooth), habit._replace(total=total, smooth=smooth)


def _learned(habit: Habit, beyond: float) -> Habit:
    return habit._replace(
        mean=habit.mean + 0.01 * beyond,
        square=habit.square + 0.01 * (beyond * beyond - habit.square),
    )
