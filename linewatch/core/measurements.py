"""The kinds of measurement: one row a kind. Adding a kind is adding a row.

Every stored value is in the row's own unit; other units are the screen's affair.
Plausible ranges are wide on purpose: outside them a value cannot be this measurement at all,
so it is refused as OUT_OF_RANGE. Windows and alarms are narrower and stand in the
configuration. Ranges and staleness are common practice, to be overwritten per tag.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One kind of measured quantity."""

    kind: str
    """The name used in configuration, code and on screen."""
    label: str
    """As a column head: short."""
    unit: str
    """Unit of every stored value; a name that core/units.py knows."""
    decimals: int
    """Fixed decimals on screen, in the stored unit."""
    low: float
    """Lowest plausible value."""
    high: float
    """Highest plausible value."""
    stale_after_periods: float = 3.0
    """Nothing new for this many polling periods: STALE."""
    discrete: bool = False
    """A state or a count, not a continuous quantity: drawn as steps, never averaged."""


def _row(
    kind: str,
    label: str,
    unit: str,
    decimals: int,
    span: tuple[float, float],
    *,
    discrete: bool = False,
) -> Measurement:
    return Measurement(
        kind=kind,
        label=label,
        unit=unit,
        decimals=decimals,
        low=span[0],
        high=span[1],
        discrete=discrete,
    )


_ROWS = (
    _row("temperature", "temp", "degC", 1, (-30.0, 350.0)),
    _row("level", "level", "mm", 0, (-50.0, 6000.0)),
    _row("current", "current", "A", 0, (-50000.0, 50000.0)),
    _row("voltage", "volts", "V", 2, (-100.0, 100.0)),
    _row("current-density", "A/dm²", "A/dm2", 1, (-500.0, 500.0)),
    _row("current-set", "set A", "A", 0, (-50000.0, 50000.0)),
    _row("voltage-set", "set V", "V", 2, (-100.0, 100.0)),
    _row("charge-meter", "A·h meter", "A.h", 1, (0.0, 1e10)),
    _row("charge", "charge", "A.h", 1, (0.0, 1e10)),
    _row("deposit", "deposit", "g", 0, (0.0, 1e9)),
    _row("ripple", "ripple", "%", 1, (0.0, 400.0)),
    _row("heat-sink", "heat sink", "degC", 1, (-30.0, 200.0)),
    _row("heater-duty", "heater", "%", 0, (0.0, 100.0)),
    _row("heater-current", "heater A", "A", 1, (0.0, 2000.0)),
    _row("cooling-duty", "cooling", "%", 0, (0.0, 100.0)),
    _row("ph", "pH", "pH", 2, (-2.0, 16.0)),
    _row("orp", "ORP", "mV", 0, (-2000.0, 2000.0)),
    _row("conductivity", "cond.", "uS/cm", 0, (0.0, 2_000_000.0)),
    _row("flow", "flow", "L/min", 1, (0.0, 100000.0)),
    _row("pressure", "press.", "bar", 2, (-1.0, 400.0)),
    _row("draught", "draught", "Pa", 0, (-10000.0, 10000.0)),
    _row("turbidity", "turbid.", "NTU", 1, (0.0, 4000.0)),
    _row("volume", "volume", "L", 0, (0.0, 1e7)),
    _row("mass", "weight", "kg", 1, (0.0, 1e6)),
    _row("speed", "speed", "1/min", 1, (0.0, 10000.0)),
    _row("motor-current", "motor A", "A", 1, (0.0, 2000.0)),
    _row("power", "power", "kW", 1, (0.0, 100000.0)),
    _row("humidity", "humid.", "%", 0, (0.0, 100.0)),
    _row("load-present", "load in", "", 0, (0.0, 1.0), discrete=True),
    _row("load-number", "load no.", "", 0, (0.0, 4294967295.0), discrete=True),
    _row("running", "running", "", 0, (0.0, 1.0), discrete=True),
    _row("valve-open", "valve", "", 0, (0.0, 1.0), discrete=True),
    _row("fault", "fault", "", 0, (0.0, 65535.0), discrete=True),
    _row("count", "count", "", 0, (0.0, 4294967295.0), discrete=True),
    _row("line-state", "line", "", 0, (0.0, 255.0), discrete=True),
)

MEASUREMENTS: dict[str, Measurement] = {row.kind: row for row in _ROWS}
"""Every kind, by name."""
