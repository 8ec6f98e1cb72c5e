"""Dilution in rinses, and what is carried out of a bath."""

from __future__ import annotations

from dataclasses import dataclass

from linewatch.core.electrochemistry.validity import (
    CONCENTRATION,
    DILUTION,
    FLOW,
    VOLUME,
    not_negative,
    positive,
)
from linewatch.core.errors import OutsideValidity

MOST_STAGES = 10


def _check(flow_over_drag_out: float, stages: int) -> None:
    positive("water over drag-out", flow_over_drag_out, DILUTION)
    if not 1 <= stages <= MOST_STAGES:
        raise OutsideValidity("stages", stages, 1, MOST_STAGES, "")


def short_rinse_ratio(flow_over_drag_out: float, stages: int) -> float:
    """Return the short form of a counterflow rinse's dilution: (Q/D)^n.

    It is what trade texts print; it is low where Q/D is small. See `rinse_ratio`.

    Args:
        flow_over_drag_out: Water over drag-out [1], above 0.
        stages: Counterflow stages, 1 to 10.

    Returns:
        Concentration of the bath over that of the last stage [1].

    Raises:
        OutsideValidity: an argument is outside its range.
    """
    _check(flow_over_drag_out, stages)
    return float(flow_over_drag_out**stages)


def rinse_ratio(flow_over_drag_out: float, stages: int) -> float:
    """Return the dilution of a counterflow rinse from its mass balance.

    With r = Q/D and n well-mixed stages the bath is 1 + r + r^2 + ... + r^n times as strong
    as the last stage.

    Args:
        flow_over_drag_out: Water over drag-out [1], above 0.
        stages: Counterflow stages, 1 to 10.

    Returns:
        Concentration of the bath over that of the last stage [1].

    Raises:
        OutsideValidity: an argument is outside its range.

    Examples:
        >>> rinse_ratio(2000.0, 1), rinse_ratio(50.0, 2), rinse_ratio(10.0, 3)
        (2001.0, 2551.0, 1111.0)
    """
    _check(flow_over_drag_out, stages)
    return float(sum(flow_over_drag_out**power for power in range(stages + 1)))


def flow_for_ratio(ratio: float, stages: int) -> float:
    """Return the water over drag-out that a dilution takes; the inverse of `rinse_ratio`.

    Args:
        ratio: Dilution wanted [1], above 1.
        stages: Counterflow stages, 1 to 10.

    Returns:
        Water over drag-out [1].

    Raises:
        OutsideValidity: an argument is outside its range.
    """
    if not 1.0 < ratio <= DILUTION.most:
        raise OutsideValidity("rinse ratio", ratio, 1.0, DILUTION.most, "")
    _check(1.0, stages)
    low, high = 0.0, ratio
    # The polynomial rises from 1, so halving finds its only root to the last bit.
    for _ in range(200):
        middle = (low + high) / 2.0
        if sum(middle**power for power in range(stages + 1)) < ratio:
            low = middle
        else:
            high = middle
    return high


@dataclass(frozen=True, slots=True, kw_only=True)
class RinseStep:
    """What one load does to a rinse."""

    rise_g_per_l: float
    decay_s: float
    """Time in which the flow brings it down to 37 % [s]."""


def rinse_step(
    *,
    drag_out_l: float,
    bath_g_per_l: float,
    volume_l: float,
    flow_l_per_min: float,
) -> RinseStep:
    """Return the step of one load in a well-mixed rinse and how fast it goes.

    Args:
        drag_out_l: Solution on the load [L], not negative.
        bath_g_per_l: Its concentration [g/L], not negative.
        volume_l: Of the rinse [L], above 0.
        flow_l_per_min: Water [L/min], above 0.

    Returns:
        Step and decay time.

    Raises:
        OutsideValidity: an argument is outside its range, or not a number.

    References:
        Mass balance of a stirred tank.
    """
    not_negative("drag-out", drag_out_l, VOLUME)
    not_negative("concentration", bath_g_per_l, CONCENTRATION)
    positive("volume", volume_l, VOLUME)
    positive("flow", flow_l_per_min, FLOW)
    return RinseStep(
        rise_g_per_l=drag_out_l * bath_g_per_l / volume_l,
        decay_s=60.0 * volume_l / flow_l_per_min,
    )
