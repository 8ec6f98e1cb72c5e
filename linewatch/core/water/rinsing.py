"""What loads carry into a rinse, by the steps of its conductivity, and what water it takes.

Rule 1: conductivity is not concentration. What is assumed instead stands in `ASSUMED`, and
        its whole range is in the ± of every volume; only a measured volume of bath poured
        into the rinse narrows it (`response`).
Rule 2: conductivities are compensated to one temperature, as instruments do by themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log
from typing import TYPE_CHECKING, Final, NamedTuple

from linewatch.core.electrochemistry.rinse import flow_for_ratio
from linewatch.core.errors import OutsideValidity
from linewatch.core.straight import Straight, straight

if TYPE_CHECKING:
    from collections.abc import Sequence

CONDUCTS_MORE: Final = (1.0, 4.0)
"""What a salt conducts in the rinse over its share of the bath's conductivity. Ions hinder one
another less in dilute solution (Kohlrausch's law); 1 to 4 covers acids, alkalis and sulfates of
metals between about 1 mol/L and a rinse. From memory."""
DILUTE: Final = (1.0, 1.1)
"""The same where what is carried over comes from another rinse."""
WASHES_OFF: Final = (0.7, 1.0)
"""Share of the film that one dip takes off. Common practice."""
VOLUME_RATIO: Final = 0.05
RESPONSE_RATIO: Final = 0.1
"""Limits of error of the rinse's volume, and of a response found by pouring."""
ASSUMED: Final = (
    "Well mixed; a salt conducts 1 to 4 times its share of the bath's conductivity once it is"
    " dilute (1 to 1.1 from rinse to rinse), one dip takes off 70 to 100 % of the film, both"
    " probes compensate for temperature. Pouring a measured litre of bath into the rinse and"
    " writing its rise down (`rinse.response`) takes the first of these out"
)

UNSURE: Final = "its step is not told beyond its ±"
WRONG_LIQUID: Final = "wrong liquid in the rinse"
DOUBTED: Final = "an alarm doubts the rinse's conductivity"
"""Why what a load carried in is not known."""


class Ranged(NamedTuple):
    """A figure with its ±: the middle of what is possible, and half its width."""

    value: float
    pm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a load was before: what its film is."""

    tank: str
    name: str
    range_us: tuple[float, float, float] | None
    """Conductivity, its least and its most [µS/cm]; None: nobody knows it."""
    is_dilute: bool
    """It is a rinse itself."""
    told_by: str
    """'measured', 'read by hand', 'its window'."""

    @property
    def value_us(self) -> float | None:
        """Conductivity [µS/cm]; None: nobody knows it."""
        return self.range_us[0] if self.range_us is not None else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """What has to be known of a rinse."""

    volume_l: float
    feed_us: float | None
    """Conductivity of the water that runs in [µS/cm]; None: nobody says."""
    response_us: float | None
    """Rise for a millilitre of the bath before in a litre of this rinse [µS/cm]."""


def decayed(
    looks: Sequence[tuple[float, float]], at_s: float, feed_us: float | None
) -> Straight | None:
    """Return a rinse between two loads, brought to one instant.

    Towards the water that runs in it decays as an exponential; where nobody says what that
    conducts, or the rinse is as clean, a straight line has to do.

    Args:
        looks: (time [s], conductivity [µS/cm]).
        at_s: The instant that its value is wanted at [s].
        feed_us: Conductivity of the water that runs in [µS/cm], if it is known.

    Returns:
        Conductivity there [µS/cm], slope there [µS/cm/s].
    """
    if feed_us is None or any(each <= feed_us for _, each in looks):
        return straight(looks, at_s)
    found = straight([(t, log(each - feed_us)) for t, each in looks], at_s)
    if found is None:
        return None
    above = exp(found.value)
    return Straight(
        value=feed_us + above,
        slope=found.slope * above,
        value_pm=found.value_pm * above,
        slope_pm=found.slope_pm * above,
    )


def film_ml(step: Ranged, rinse_us: float, source: Source, tank: Tank) -> Ranged | None:
    """Return the solution that a load carried in [mL]; None where nothing tells.

    A step that is not told beyond its ± tells nothing.

    Args:
        step: Rise of the rinse [µS/cm] with its ±.
        rinse_us: The rinse before it [µS/cm]: its water went out with the film's volume.
        source: What the film is.
        tank: The rinse.
    """
    if step.value <= step.pm:
        return None
    low, high = step.value - step.pm, step.value + step.pm
    volume_ml = 1000.0 * tank.volume_l
    if tank.response_us is not None:
        per_ml = tank.response_us / tank.volume_l
        low, high = low / per_ml / (1.0 + RESPONSE_RATIO), high / per_ml / (1 - RESPONSE_RATIO)
    else:
        if source.range_us is None or source.range_us[1] <= rinse_us:
            return None
        _, low_us, high_us = source.range_us
        less, more = DILUTE if source.is_dilute else CONDUCTS_MORE
        low *= volume_ml * (1.0 - VOLUME_RATIO) / ((high_us - rinse_us) * more)
        high *= volume_ml * (1.0 + VOLUME_RATIO) / ((low_us - rinse_us) * less)
    return middle(low / WASHES_OFF[1], high / WASHES_OFF[0])


def per_m2(film: Ranged, area_dm2: float, tolerance: float) -> Ranged:
    """Return a film by area [mL/m2].

    Args:
        film: On the whole load [mL].
        area_dm2: Area of the load [dm2], above 0.
        tolerance: Its limit of error [1], under 1.
    """
    area_m2 = area_dm2 / 100.0
    low, high = film.value - film.pm, film.value + film.pm
    return middle(low / (area_m2 * (1.0 + tolerance)), high / (area_m2 * (1.0 - tolerance)))


def middle(low: float, high: float) -> Ranged:
    """Return the middle of a range, and half its width."""
    return Ranged((low + high) / 2.0, (high - low) / 2.0)


def flow_by_decay(
    decay: Straight, rinse_us: float, feed_us: float | None, volume_l: float
) -> Ranged | None:
    """Return the water that a decay tells of [L/min]; None where it tells none.

    Args:
        decay: The decay, at the instant of `rinse_us`.
        rinse_us: The rinse [µS/cm].
        feed_us: The water that runs in [µS/cm].
        volume_l: Of the rinse [L].

    References:
        Mass balance of a stirred tank: V dC/dt = -Q (C - C_in).
    """
    if feed_us is None or rinse_us <= feed_us or decay.slope >= 0.0:
        return None
    each = 60.0 * volume_l / (rinse_us - feed_us)
    value = -decay.slope * each
    return Ranged(value, decay.slope_pm * each + VOLUME_RATIO * value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """How loads come into a rinse."""

    step_us: float
    """What each adds [µS/cm]."""
    interval_s: float
    """From one to the next [s]."""
    dwell_s: float
    """How long each stays [s]."""


def at_leaving_us(work: Work, flow_l_per_min: float, feed_us: float, volume_l: float) -> float:
    """Return a rinse at the moment in which a load leaves, once nothing changes any more.

    Args:
        work: How loads come.
        flow_l_per_min: Water that runs through [L/min], above 0.
        feed_us: What it conducts [µS/cm].
        volume_l: Of the rinse [L].

    Returns:
        Conductivity [µS/cm].
    """
    decay_s = 60.0 * volume_l / flow_l_per_min
    left = exp(-work.interval_s / decay_s)
    return feed_us + work.step_us * exp(-work.dwell_s / decay_s) / (1.0 - left)


def flow_needed_l_per_min(
    work: Work, limit_us: float, feed_us: float, volume_l: float
) -> float | None:
    """Return the water that keeps a rinse at its limit when loads leave; None: no water does.

    Args:
        work: How loads come.
        limit_us: What it may conduct when a load leaves [µS/cm].
        feed_us: What the water conducts [µS/cm].
        volume_l: Of the rinse [L].
    """
    low, high = 1e-4 * volume_l / 60.0, 100.0 * volume_l / 60.0
    if limit_us <= feed_us or at_leaving_us(work, high, feed_us, volume_l) > limit_us:
        return None
    if at_leaving_us(work, low, feed_us, volume_l) <= limit_us:
        return low
    # More water is always cleaner, so that halving finds the only answer.
    for _ in range(40):
        halfway = (low + high) / 2.0
        if at_leaving_us(work, halfway, feed_us, volume_l) > limit_us:
            low = halfway
        else:
            high = halfway
    return high


def carried_l_per_min(work: Work, source_us: float, rinse_us: float, volume_l: float) -> float:
    """Return how much bath, by what it conducts, all loads carry in [L/min].

    Args:
        work: How loads come.
        source_us: The bath [µS/cm], above the rinse.
        rinse_us: The rinse [µS/cm].
        volume_l: Of the rinse [L].
    """
    film_l = work.step_us * volume_l / (source_us - rinse_us)
    return film_l * 60.0 / work.interval_s


def staged_l_per_min(
    carried: float, conducts: tuple[float, float, float], stages: int
) -> float | None:
    """Return the water that so many counterflow stages would need [L/min]; None: none does.

    Args:
        carried: What is carried in, by what it conducts [L/min].
        conducts: The bath, the limit of the last stage and the water [µS/cm].
        stages: Counterflow stages.
    """
    source_us, limit_us, feed_us = conducts
    if not source_us > limit_us > feed_us:
        return None
    try:
        return flow_for_ratio((source_us - feed_us) / (limit_us - feed_us), stages) * carried
    except OutsideValidity:
        return None


def stage_ratio(first_us: float, last_us: float, feed_us: float) -> float | None:
    """Return how many times as dirty a stage is as the next, the water's own left out.

    None where the next one is no dirtier than the water.
    """
    return (first_us - feed_us) / (last_us - feed_us) if last_us > feed_us else None
