"""Windows: where a quantity should be, inherited limit by limit.

A limit comes from the first that states it: the tank, the recipe that the tank names, its
bath, the recipe that the bath names. So a shop writes only what differs.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.config.faults import alternatives, shown
from linewatch.config.model import Limits
from linewatch.config.quantities import quantity
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.plan import Window

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from linewatch.config.faults import Faults

LIMITS = ("low_low", "low", "target", "high", "high_high")
"""In the order in which they must rise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """The windows that one section states, with the section's key."""

    key: str
    windows: Mapping[str, Limits]


def kinds_of(chain: Iterable[Stated]) -> tuple[str, ...]:
    """Return the kinds (with suffix) for which a chain of sections states a window."""
    return tuple(dict.fromkeys(kind for stated in chain for kind in stated.windows))


def window(kind: str, chain: Sequence[Stated], faults: Faults) -> Window:
    """Return the window of one kind, each limit from the first section that states it.

    A twin (`temperature.outlet`) has the window of its own name, or else of its kind.
    """
    base = kind.split(".", 1)[0]
    found: dict[str, float] = {}
    sources: dict[str, None] = {}
    for stated in chain:
        name = kind if kind in stated.windows else base
        limits = stated.windows.get(name)
        if limits is None or base not in MEASUREMENTS:
            continue
        took = _take(limits, f"{stated.key}.window.{name}", base, found, faults)
        if took:
            sources[limits.source] = None
    _refuse_inside_out(f"{chain[0].key}.window.{kind}" if chain else kind, found, base, faults)
    return Window(**found, source="; ".join(sources) or "common practice")


def check_kinds(stated: Stated, faults: Faults) -> None:
    """Refuse windows of kinds that do not exist."""
    for kind in stated.windows:
        base = kind.split(".", 1)[0]
        if base not in MEASUREMENTS:
            faults.add(
                f"{stated.key}.window.{kind}",
                f"no measurement {shown(base)}",
                alternatives(base, MEASUREMENTS, "measurement"),
            )


def _take(limits: Limits, key: str, base: str, found: dict[str, float], faults: Faults) -> bool:
    took = False
    for name in LIMITS:
        value = quantity(
            getattr(limits, name), MEASUREMENTS[base].unit, f"{key}.{name}", faults
        )
        if value is not None and name not in found:
            found[name] = value
            took = True
    return took


def _refuse_inside_out(key: str, found: Mapping[str, float], base: str, faults: Faults) -> None:
    stated = [(name, found[name]) for name in LIMITS if name in found]
    for (lower, low), (upper, high) in itertools.pairwise(stated):
        # Two limits on one value leave no room; a target may lie on the edge.
        touches = low == high and "target" not in {lower, upper}
        if low > high or touches:
            unit = MEASUREMENTS[base].unit
            faults.add(
                key,
                f"{lower} {low:g} {unit} is not below {upper} {high:g} {unit}".replace(
                    "  ", " "
                ),
                f"let {' < '.join(name for name, _ in stated)} rise",
            )
