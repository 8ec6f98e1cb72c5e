"""Starting values for deadband and delays by kind of signal, until a shop has its own.

Deadbands: EEMUA 191 publishes 5 % of span for flow, 2 % for pressure and 1 % for temperature.
For level it is usually quoted with 5 %, from memory; one printed table has 2 %. The default
here is 5 %: a level in a tank with air agitation is never still, and a deadband that is too
small makes an alarm chatter, which is worse than one that clears a little late. It is a
setting of every condition.

Delays: 15 s for flow and pressure, 60 s for level and temperature, on and off alike, are
commonly quoted from ISA-18.2-2009 and EEMUA 191, here from memory. All other rows are common
practice.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Starting values of a condition."""

    deadband_ratio: float
    """Share of the span [1]; the span is that of the window, or of what is plausible."""
    on_delay_s: float
    off_delay_s: float
    source: str


_EEMUA = "EEMUA 191 table (deadband); delays from memory"
_PRACTICE = "common practice"


def _row(percent: float, on_s: float, off_s: float, source: str = _PRACTICE) -> Start:
    return Start(
        deadband_ratio=percent / 100.0, on_delay_s=on_s, off_delay_s=off_s, source=source
    )


BY_MEASUREMENT: dict[str, Start] = {
    "flow": _row(5.0, 15.0, 15.0, _EEMUA),
    "pressure": _row(2.0, 15.0, 15.0, _EEMUA),
    "draught": _row(2.0, 15.0, 15.0, _EEMUA),
    "temperature": _row(1.0, 60.0, 60.0, _EEMUA),
    "heat-sink": _row(1.0, 60.0, 60.0, _EEMUA),
    "level": _row(5.0, 60.0, 60.0, "EEMUA 191 as usually quoted, from memory"),
    "volume": _row(5.0, 60.0, 60.0),
    "ph": _row(1.0, 60.0, 60.0),
    "orp": _row(2.0, 60.0, 60.0),
    "conductivity": _row(2.0, 60.0, 60.0),
    "current": _row(1.0, 10.0, 5.0),
    "voltage": _row(1.0, 10.0, 5.0),
}
"""By kind of measurement, for conditions that compare a value with a limit."""

LEVEL_PRINTED_RATIO = 0.02
"""What one printed table has for level, where most quote 5 %: common practice."""

BY_CONDITION: dict[str, Start] = {
    "discrete": _row(0.0, 0.0, 0.0),
    "overdue": _row(0.0, 0.0, 0.0),
    "found": _row(0.0, 0.0, 0.0),
    "bad-quality": _row(0.0, 5.0, 10.0),
    "frozen": _row(0.0, 600.0, 0.0),
    "rate": _row(0.0, 0.0, 60.0),
}
"""By condition, where it is not a value that is compared with a limit."""

OTHERWISE = _row(1.0, 15.0, 15.0)


def default_condition(measurement: str, condition: str) -> tuple[float, float, float, str]:
    """Return the starting values of a condition.

    Args:
        measurement: Kind of measurement.
        condition: Kind of condition.

    Returns:
        (deadband as a share of span [1], on-delay [s], off-delay [s], source).

    Examples:
        >>> default_condition("pressure", "low")[:3]
        (0.02, 15.0, 15.0)
    """
    start = BY_CONDITION.get(condition) or BY_MEASUREMENT.get(measurement, OTHERWISE)
    return start.deadband_ratio, start.on_delay_s, start.off_delay_s, start.source
