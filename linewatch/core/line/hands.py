"""Values that people read off a dipstick, a titration or a hand meter, and typed in."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from linewatch.core.errors import OutsideValidity, UnitMismatch
from linewatch.core.laboratory.taken import LABORATORY_UNITS
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.plan import LinePlan, Window
from linewatch.core.readings import Quality
from linewatch.core.units import convert, find
from linewatch.core.view import Figure

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.commands import HandReading
    from linewatch.core.readings import Moment


@dataclass(slots=True)
class Hand:
    """One value typed in, in the measurement's own unit or, for a free name, as it was said."""

    subject: str
    kind: str
    value: float
    unit: str
    utc_ns: int
    who: str
    note: str = ""


@dataclass(slots=True)
class Hands:
    """The last value typed in of each quantity."""

    plan: LinePlan
    last: dict[str, Hand] = field(default_factory=dict)
    """By subject, dot, kind."""

    def take(self, command: HandReading, at: Moment) -> None:
        """Keep a value.

        Args:
            command: What was typed in.
            at: When.

        Raises:
            OutsideValidity: it is no number, or outside what this measurement can be.
            UnitMismatch: nobody knows its unit, or it is of another dimension.
        """
        value, unit = command.value, command.unit
        if not math.isfinite(value):
            raise OutsideValidity(command.kind, value, -math.inf, math.inf, unit)
        kind = MEASUREMENTS.get(command.kind.split(".", 1)[0])
        if kind is not None:
            value = convert(value, unit, kind.unit)
            unit = kind.unit
            if not kind.low <= value <= kind.high:
                raise OutsideValidity(kind.label, value, kind.low, kind.high, unit)
        elif unit and unit not in LABORATORY_UNITS and find(unit) is None:
            raise UnitMismatch(unit, "unit", "it is not known; write g/L, mL/L, g, V or %")
        self.last[f"{command.subject}.{command.kind}"] = Hand(
            subject=command.subject,
            kind=command.kind,
            value=value,
            unit=unit,
            utc_ns=at.utc_ns,
            who=command.who,
            note=command.note,
        )

    def figures(self) -> dict[str, dict[str, Figure]]:
        """Return what was typed in, by subject, then by kind."""
        windows: dict[str, Mapping[str, Window]] = {
            **{bath.id: bath.windows for bath in self.plan.baths},
            **{tank.id: tank.windows for tank in self.plan.tanks},
        }
        found: dict[str, dict[str, Figure]] = {}
        for name, hand in self.last.items():
            window = windows.get(hand.subject, {}).get(hand.kind)
            found.setdefault(hand.subject, {})[hand.kind] = Figure(
                tag=name,
                kind=hand.kind.split(".", 1)[0],
                value=hand.value,
                quality=int(Quality.BY_HAND),
                utc_ns=hand.utc_ns,
                good_utc_ns=hand.utc_ns,
                low=window.low if window is not None else None,
                high=window.high if window is not None else None,
                target=window.target if window is not None else None,
                side=window.side(hand.value) if window is not None else "",
                who=hand.who,
            )
        return found

    def remember(self) -> dict[str, Any]:
        """Return all that the future depends on; see `recall`."""
        return {name: asdict(hand) for name, hand in self.last.items()}

    def recall(self, kept: Mapping[str, Any]) -> None:
        """Go on from what was remembered."""
        self.last = {name: Hand(**parts) for name, parts in kept.items()}
