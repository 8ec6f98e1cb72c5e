"""How much attention a rectifier needs, and in words what is known of its health."""

from __future__ import annotations

from math import exp
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.silent import NO_ANSWER
from linewatch.core.diagnostics.cell_watch import FIRST_POINTS, UNKNOWN_POINTS
from linewatch.core.diagnostics.cell_watch import THRESHOLD as CELL_THRESHOLD
from linewatch.core.diagnostics.heat_watch import LATE_S, LEAST_SAMPLES
from linewatch.core.diagnostics.heat_watch import THRESHOLD as HEAT_THRESHOLD
from linewatch.core.diagnostics.power_watch import LEAST_POINTS
from linewatch.core.diagnostics.power_watch import THRESHOLD as POWER_THRESHOLD
from linewatch.core.diagnostics.ripple_watch import LEARNED
from linewatch.core.diagnostics.turn_watch import LEAST_POINTS as LEAST_LOADS
from linewatch.core.diagnostics.turn_watch import THRESHOLD as TURN_THRESHOLD

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from linewatch.core.line.health import Unit
    from linewatch.core.view import Figure

WEIGHT: Final = {"low": 15.0, "medium": 30.0, "high": 60.0, "highest": 100.0}
"""Share of all attention that one standing alarm asks for; our own choice."""
GONE_RATIO: Final = 0.1
"""Share of it that is left of an alarm whose condition has gone; our own choice."""
MOST: Final = 100.0
QUIET_MOST: Final = 10.0
"""Share that a trend asks for which has told nothing yet."""
NO_EVIDENCE: Final = frozenset({"bad-quality"})
"""Kinds of condition that say nothing of a unit: what is not read is its link's matter."""
NO_EVIDENCE_OF: Final = f".{NO_ANSWER}"
"""The same of what is told of its device."""
NO_POWER: Final = "no input power is read"
NO_MODULES: Final = "no modules are read apart"
NO_TURNS: Final = "nothing that it feeds turns, as far as the configuration tells"


def attention(unit: Unit | None, standing: Iterable[str], gone: Iterable[str] = ()) -> float:
    """Return how much attention a unit needs, from 0 to 100.

    Args:
        unit: What is known of it; None: nobody follows it.
        standing: Priorities of its alarms whose condition stands.
        gone: Of those whose condition has gone, but that wait to be seen or reset.
    """
    total = sum(WEIGHT.get(priority, MOST) for priority in standing)
    total += GONE_RATIO * max((WEIGHT.get(each, MOST) for each in gone), default=0.0)
    if unit is not None:
        near = max(
            unit.cell.up / CELL_THRESHOLD,
            unit.heat.up / HEAT_THRESHOLD,
            max(unit.power.up, unit.power.down) / POWER_THRESHOLD,
            max(unit.turn.up, unit.turn.down) / TURN_THRESHOLD,
        )
        total += QUIET_MOST * min(1.0, near)
    return min(MOST, total)


def findings(unit: Unit) -> tuple[str, ...]:
    """Return what was found, in words, the newest last."""
    ordered = sorted(unit.texts, key=lambda name: unit.since_utc_ns.get(name, 0))
    return tuple(unit.texts[name] for name in ordered if name in unit.active)


def facts(unit: Unit, figures: Mapping[str, Figure]) -> tuple[tuple[str, str], ...]:
    """Return what is known of a unit's health, each with what is missing to know more.

    Returns:
        Pairs of a label and words.
    """
    starts = "1 start" if unit.starts == 1 else f"{unit.starts} starts"
    return (
        ("ripple", _ripple(unit, is_read="ripple" in figures)),
        ("cell", _cell(unit)),
        ("cooling", _heat(unit, is_read="heat-sink" in figures)),
        ("efficiency", _power(unit)),
        ("sharing", _sharing(unit)),
        ("barrel", _turn(unit)),
        ("has run", f"{unit.on_s / 3600.0:.1f} h in {starts}"),
    )


def _ripple(unit: Unit, *, is_read: bool) -> str:
    if not is_read:
        return "no ripple is read"
    known = sum(1 for row in unit.ripple.learned.values() if row[0] >= LEARNED)
    if not known:
        return "is being learned"
    kind = f"{unit.ripple.pulses} pulses" if unit.ripple.pulses else "switch-mode"
    outputs = "1 output" if known == 1 else f"{known} outputs"
    return f"{kind}, learned at {outputs}; {unit.ripple.definition}"


def _cell(unit: Unit) -> str:
    cell = unit.cell
    if not cell.line:
        if not cell.points:
            return "no load has been long enough in yet"
        tolerance = cell.points[-1][3]
        is_known = tolerance <= 0.05  # noqa: PLR2004 - as the cell's own rule has it
        least = FIRST_POINTS if is_known else UNKNOWN_POINTS
        return f"is being learned: {len(cell.points)} of {least} loads"
    v0, slope, spread, reference, is_line = cell.line
    if not is_line:
        return (
            f"level of {len(cell.points)} loads, ± {2 * spread:.2f} V; no line: the current"
            " varied too little, or the area is not known to 5 %"
        )
    return (
        f"V = {v0:.2f} V + {slope:.3g} V per A/dm2 at {reference:.0f} degC, {len(cell.points)}"
        f" loads, ± {2 * spread:.2f} V"
    )


def _heat(unit: Unit, *, is_read: bool) -> str:
    if not is_read:
        return "no heat-sink is read"
    if not unit.heat.model:
        return f"is being learned: {unit.heat.count} of {LEAST_SAMPLES} readings or more"
    rise, which, _ = unit.heat.model
    return (
        f"rises {rise:.0f} K at rated current, {LATE_S[int(which)] / 60.0:.0f} min late;"
        f" resistance now {100 * unit.heat.excess:+z.0f} %"
    )


def _power(unit: Unit) -> str:
    if not unit.beside.power:
        return NO_POWER
    power = unit.power
    if not power.model:
        return f"is being learned: {len(power.points)} of {LEAST_POINTS} minutes under load"
    if not power.seen:
        return f"losses learned from {power.fitted} minutes under load; none judged yet"
    return (
        f"{100 * power.seen:.1f} % at the last load, {100 * power.usual:.1f} % is usual there,"
        f" ± {200 * power.model[3]:.1f} %"
    )


def _sharing(unit: Unit) -> str:
    if not unit.beside.modules:
        return NO_MODULES
    if not unit.sharing.shares:
        return f"{len(unit.beside.modules)} modules; is being learned"
    shares = ", ".join(f"{100 * each:.0f} %" for each in unit.sharing.shares)
    return f"usual shares {shares}"


def _turn(unit: Unit) -> str:
    if not unit.beside.turns:
        return NO_TURNS
    turn = unit.turn
    if not turn.model:
        return f"swing is being learned: {len(turn.points)} of {LEAST_LOADS} loads"
    return (
        f"swings by {100 * exp(turn.model[0]):.1f} % within ten seconds,"
        f" {100 * exp(turn.model[0] + turn.smooth):.1f} % lately"
    )
