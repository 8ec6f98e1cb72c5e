"""Looks at a rectifier's input power, modules and barrel, for the study of its health.

Each look returns what may have changed: a finding's name, then (figure, words, whether it is
there).
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, Final

from linewatch.core.diagnostics.turn_watch import MINUTE_S, SETTLED_S, TurnTold
from linewatch.core.integration.steadiness import SPAN_NS
from linewatch.core.rules.health import (
    CONTACT_WEARS,
    EFFICIENCY,
    MODULE,
    RHYTHM_LOST,
    SHARING,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import TypeAlias

    from linewatch.core.line.health import Unit
    from linewatch.core.line.machine import Line
    from linewatch.core.plan import LinePlan, RectifierPlan

Verdict: TypeAlias = "tuple[float, str, bool]"
NS: Final = 1_000_000_000
LEAST_MODULES: Final = 2
LEAST_SPANS: Final = 4
"""Spans of ten seconds, of the last minute, in which the current must be seen to move. So a
load of two minutes is looked at too: in an electrocleaner few barrels stay for longer."""


@dataclass(frozen=True, slots=True)
class Beside:
    """What is read of a rectifier besides current and volts."""

    modules: tuple[str, ...] = ()
    """Tags of its modules' currents."""
    power: str = ""
    """Tag of its input power; '': it is not metered."""
    turns: bool = False
    """A tank that it feeds turns its work, in less than a minute a turn."""
    rest_s: float = 0.0
    """Longest time for which that rests by design [s]."""


def beside(plan: RectifierPlan, whole: LinePlan) -> Beside:
    """Return what is read of a rectifier besides current and volts."""
    fed = {tank for tank, _ in plan.feeds}
    designs = [tank.turning for tank in whole.tanks if tank.id in fed and tank.turning]
    turns = any(60.0 / each.speed_per_min < MINUTE_S for each in designs)
    if not designs:
        turns = any(tag.kind == "speed" for tank in fed for tag in whole.tags_of(tank))
    modules = sorted(tag.id for tag in whole.tags_of(plan.id) if tag.name.startswith(MODULE))
    power_tag = f"{plan.id}.power"
    return Beside(
        modules=tuple(modules) if len(modules) >= LEAST_MODULES else (),
        power=power_tag if power_tag in whole.tags else "",
        turns=turns,
        rest_s=max((each.rest_s for each in designs), default=0.0),
    )


def power(
    line: Line, plan: RectifierPlan, unit: Unit, read: tuple[float, float]
) -> Iterator[tuple[str, Verdict]]:
    """Look at the efficiency, by (current [A], volts [V])."""
    input_kw = line.good(unit.beside.power) if unit.beside.power else None
    if input_kw is None:
        unit.power.rest()
        return
    current, volts = read
    told = unit.power.look(current / plan.rated_current_a, 1000.0 * input_kw, current * volts)
    if told is None:
        return
    text = (
        f"efficiency {100 * told.efficiency_ratio:.1f} %, at this current"
        f" {100 * told.usual_ratio:.1f} % is usual: {100 * told.drift_ratio:+.1f} % for some"
        f" time, {told.extra_w:+.0f} W of losses"
    )
    yield EFFICIENCY, (100 * told.drift_ratio, text, unit.power.has_drifted)


def sharing(line: Line, unit: Unit) -> Iterator[tuple[str, Verdict]]:
    """Look at what each module gives."""
    tags = unit.beside.modules
    read = [line.good(tag) for tag in tags]
    known = [each for each in read if each is not None]
    if not tags or len(known) != len(tags):
        unit.sharing.rest()
        return
    told = unit.sharing.look(known)
    if told is None:
        return
    name = tags[told.module].rpartition(".")[2].replace("-", " ")
    text = (
        f"{name} gives {100 * told.share_ratio:.0f} % of the current where"
        f" {100 * told.usual_ratio:.0f} % is usual"
    )
    yield SHARING, (100 * told.off_ratio, text, unit.sharing.is_odd)


def turning(
    line: Line, unit: Unit, rectifier: str, came_ns: int
) -> Iterator[tuple[str, Verdict]]:
    """Look at how a loaded barrel's current swings."""
    if not unit.beside.turns:
        return
    spans = line.rectifiers[rectifier].ledger.steadiness.spans
    first_ns = came_ns + round(SETTLED_S * NS)
    swing = _swing_ratio([each for each in spans if each[0] * SPAN_NS >= first_ns])
    if swing is not None:
        yield from _turned(unit, unit.turn.look(swing, unit.beside.rest_s))


def _swing_ratio(spans: list[list[int]]) -> float | None:
    """Return how much a current swings within ten seconds, over itself [1]; None: not known.

    The middle one of the spans of the last minute: a set point that is changed lies in one.
    """
    # A single sample in ten seconds sees no turn, but a beat with it.
    swings = [
        2.0 * (largest - least) / abs(largest + least)
        for _, least, largest in spans
        if least < largest and largest + least
    ]
    return median(swings) if len(swings) >= LEAST_SPANS else None


def rests(unit: Unit) -> Iterator[tuple[str, Verdict]]:
    """Take that no current flows that could be judged."""
    unit.power.rest()
    unit.sharing.rest()
    if unit.beside.turns:
        yield from _turned(unit, unit.turn.leave())


def _turned(unit: Unit, told: TurnTold | None) -> Iterator[tuple[str, Verdict]]:
    if told is None:
        return
    text = (
        f"the current swings by {100 * told.swing_ratio:.1f} % within ten seconds where"
        f" {100 * told.usual_ratio:.1f} % is usual"
    )
    yield CONTACT_WEARS, (told.ratio, text, unit.turn.wears)
    yield RHYTHM_LOST, (told.ratio, text, unit.turn.is_still)
