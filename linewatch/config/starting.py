"""Usual starting values of deadband and delays, until a shop has its own: common practice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.plan import ConditionKind, ConditionPlan

if TYPE_CHECKING:
    from linewatch.core.measurements import Measurement

NS = 1_000_000_000
_BY_KIND: dict[str, tuple[float, float, float]] = {
    # deadband in the measurement's unit, on-delay [s], off-delay [s]
    "temperature": (0.5, 300.0, 60.0),
    "level": (5.0, 60.0, 60.0),
    "ph": (0.1, 600.0, 60.0),
    "orp": (20.0, 120.0, 60.0),
    "conductivity": (20.0, 180.0, 60.0),
    "current": (5.0, 10.0, 5.0),
    "voltage": (0.1, 10.0, 5.0),
}


def default_condition(measurement: Measurement, kind: ConditionKind) -> ConditionPlan:
    """Return a condition with the usual deadband and delays of its kind."""
    deadband, on_s, off_s = _BY_KIND.get(measurement.kind, (0.0, 15.0, 15.0))
    if kind in {"discrete", "overdue"}:
        deadband, on_s, off_s = 0.0, 0.0, 0.0
    if kind == "bad-quality":
        deadband, on_s, off_s = 0.0, 30.0, 10.0
    return ConditionPlan(
        id="",
        tag="",
        kind=kind,
        deadband=deadband,
        on_delay_ns=round(on_s * NS),
        off_delay_ns=round(off_s * NS),
    )
