"""What goes wrong with the way of loads, and with all units at once.

These are told by what happens, not by one look at a position: the study that turns them is
core/line/moves.py. Limits are common practice of the trade unless sourced.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.rules.rule import Rule

if TYPE_CHECKING:
    from linewatch.core.plan import LinePlan
    from linewatch.core.rules.rule import Kept, Seen, Told

WORKED: Final = (
    "clean", "electroclean", "rinse", "activate", "strike", "plate", "passivate", "seal", "dry",
)  # fmt: skip
MAINS_DIP: Final = "mains-dip"
HANGS: Final = "hangs"
STANDS: Final = "stands"
LEAST_STANDING: Final = 2
"""Loads in trouble that make a standstill; one alone has its own alarm: common practice."""


def heard(seen: Seen, kept: Kept) -> tuple[Told | None, Kept]:  # noqa: ARG001 - a Judge
    """Tell nothing: what happens tells it."""
    return None, kept


def standstill(line_id: str, track: str) -> str:
    """Return the id of the alarm that nothing moves on a track."""
    return f"{line_id}.{STANDS}-{track}"


def load_troubles(plan: LinePlan, track: str) -> tuple[str, ...]:
    """Return the ids of the alarms that a load of a track hangs in the air or is overdue."""
    tanks = {tank.id for tank in plan.tanks if tank.track == track}
    found = []
    for condition in plan.conditions:
        tank, _, what = condition.tag.partition(".")
        is_overdue = condition.kind == "overdue" and what.split(".")[0] == "load-present"
        hangs = condition.kind == "found" and what == HANGS
        if tank in tanks and (is_overdue or hangs):
            found.append(condition.id)
    return tuple(found)


MOVEMENT: Final[tuple[Rule, ...]] = (
    Rule(
        name=HANGS,
        title="load hangs in the air",
        of=WORKED,
        needs=("load-present", "load-number"),
        judge=heard,
        limit=45.0,
        unit="s",
        evidence="time out of this position and in no other, against twice the usual or more",
        priority="medium",
        cause="hoist or conveyor stopped between two tanks; a carriage waits for its tank",
        consequence="salts dry on, steel rusts, nickel turns passive",
        action="spray it, send it back to the last rinse; hold it for quality",
        respond_within_s=60.0,
    ),
    Rule(
        name="odd-move",
        title="load came from where none does",
        of=WORKED,
        needs=("load-present", "load-number"),
        judge=heard,
        limit=12.0,
        unit="loads",
        evidence="loads that came here before, none of them from there",
        priority="medium",
        cause="a dip was left out, the order is wrong, or the load has the wrong route",
        consequence="no activation, no passivate, or the wrong liquid is carried in",
        action="stop before the next tank; compare with the card, send it back",
        respond_within_s=60.0,
    ),
    Rule(
        name="left-too-soon",
        title="load left too soon",
        of=WORKED,
        needs=("load-present",),
        judge=heard,
        limit=90.0,
        unit="%",
        evidence="time in the tank over the shortest allowed",
        priority="low",
        cause="hoist program cut short, or moved by hand",
        consequence="the step has not done its work",
        consequences={
            "clean": "not clean: the deposit blisters",
            "electroclean": "not clean: the deposit blisters",
            "activate": "not active: the deposit will not hold",
            "rinse": "salts go on into the next tank, or dry on",
            "strike": "the strike is too thin: what comes on it blisters",
            "plate": "the deposit is too thin",
            "after": "the film is too thin: it rusts early",
            "dry": "it leaves wet: stains",
        },
        action="send it back, or hold it; look at the program",
        respond_within_s=60.0,
    ),
    Rule(
        name=MAINS_DIP,
        title="mains dip or failure",
        of=("line",),
        needs=(),
        judge=heard,
        limit=3.0,
        unit="units",
        evidence="rectifiers that dropped out together",
        priority="high",
        cause="the supply dipped or failed for a moment: several units dropped out at once",
        consequence="nickel and chromium that were plating may be layered",
        action="list the loads that were in; start units one after another; quality decides",
        respond_within_s=60.0,
    ),
)
