"""Every sign: one row and one pure function. Thresholds are common practice unless sourced.

Rule 1: a sign that the newest look cannot tell returns None; a bad value never begins or ends
        anything.
Rule 2: limits are far outside what instruments and control make of a healthy position, so
        that a sign need not be tuned to be believed.
"""

from __future__ import annotations

from itertools import pairwise
from math import sqrt
from typing import TYPE_CHECKING, Final

from linewatch.core.signs.sign import Found, Sign

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.signs.sign import Past, Seen

FLOWS_RATIO: Final = 0.05
"""Below this share of the rated current a rectifier's control is not judged."""
OFF_SET_RATIO: Final = 0.05
"""Ten times the usual class of both instruments together."""
SAME_SET_RATIO: Final = 0.01
HUNTS_RATIO: Final = 0.06
AT_LIMIT_RATIO: Final = 0.96
"""Beyond this share of its rated volts a unit stands at its limit, and controls nothing."""
STRAYS_RATIO: Final = 0.005
TREMBLES_RATIO: Final = 0.04
SWINGS_PH: Final = 0.5
WEAK_RATIO: Final = 0.85
"""One of three elements out leaves two thirds."""
SETTLED: Final = 3
"""Looks with work in, after which its ramp is over."""
TREMBLE_LOOKS: Final = 20
HEAT_LOOKS: Final = 40
"""Longer than a thermostat's turn: common practice."""


def _good(past: Past, count: int) -> list[float] | None:
    """Return the last values if all of them are good."""
    last = [each for each in past[-count:] if each is not None]
    return last if len(last) == count else None


def off_set_point(seen: Seen) -> Found | None:
    """Tell a current that steadily differs from its own set-point."""
    current, wanted = _good(seen.past["current"], 2), _good(seen.past["current-set"], 2)
    if current is None or wanted is None or min(wanted) < FLOWS_RATIO * seen.rated_a:
        return None
    if abs(wanted[1] - wanted[0]) > SAME_SET_RATIO * wanted[1]:
        return None
    if min(abs(each) for each in current) < FLOWS_RATIO * seen.rated_a:
        return None
    off = abs(current[1]) / wanted[1] - 1.0
    return Found(is_there=abs(off) > OFF_SET_RATIO, value=100.0 * off)


def hunts(seen: Seen) -> Found | None:
    """Tell a current that swings with work in, long after its ramp."""
    work, swing = _good(seen.past["work"], SETTLED), _good(seen.past["swing"], 1)
    current = _good(seen.past["current"], SETTLED)
    if work is None or swing is None or current is None or not all(work):
        return None
    if min(abs(each) for each in current) < FLOWS_RATIO * seen.rated_a:
        return None
    volts = [abs(each) for each in seen.past.get("voltage", ())[-SETTLED:] if each is not None]
    if seen.rated_v and max(volts, default=0.0) > AT_LIMIT_RATIO * seen.rated_v:
        # What moves there is the cell; the control has nothing left to give.
        return None
    return Found(is_there=swing[0] > HUNTS_RATIO, value=100.0 * swing[0])


def strays(seen: Seen) -> Found | None:
    """Tell a current that flows with no work in any tank of the rectifier."""
    work, current = _good(seen.past["work"], 2), _good(seen.past["current"], 1)
    if work is None or current is None or any(work):
        return None
    least_a = max(2.0 * seen.nothing_a, STRAYS_RATIO * seen.rated_a)
    return Found(is_there=abs(current[0]) > least_a, value=abs(current[0]))


def trembles(seen: Seen) -> Found | None:
    """Tell a pressure that jumps from look to look; a slow rise does not count."""
    pressure = _good(seen.past["pressure.filter"], TREMBLE_LOOKS)
    if pressure is None:
        return None
    mean = sum(pressure) / len(pressure)
    if mean <= 0.0:
        return None
    ratio = _jumps(pressure) / mean
    return Found(is_there=ratio > TREMBLES_RATIO, value=100.0 * ratio)


def _jumps(values: Sequence[float]) -> float:
    """Return the standard deviation that the differences of neighbours tell.

    References:
        Von Neumann, J., Annals of Mathematical Statistics 12 (1941) 367: the mean square
        successive difference, which a slow trend does not raise.
    """
    squares = [(after - before) ** 2 for before, after in pairwise(values)]
    return sqrt(sum(squares) / len(squares) / 2.0)


def ph_swings(seen: Seen) -> Found | None:
    """Tell a pH that swings wider than a treatment's dosing makes it."""
    ph = _good(seen.past["ph"], len(seen.past["ph"]))
    if ph is None or len(ph) < TREMBLE_LOOKS:
        return None
    width = max(ph) - min(ph)
    return Found(is_there=width > SWINGS_PH, value=width)


def heater_weak(seen: Seen) -> Found | None:
    """Tell a heater that takes less than it should whenever it is on."""
    current = _good(seen.past["heater-current"], HEAT_LOOKS)
    if current is None or not seen.target:
        return None
    share = max(current) / seen.target
    if share < FLOWS_RATIO:
        return None
    return Found(is_there=share < WEAK_RATIO, value=100.0 * share)


SIGNS: Final[tuple[Sign, ...]] = (
    Sign(
        name="off-set-point",
        title="current is not what is set",
        of=("rectifier",),
        needs=("current", "current-set"),
        look=off_set_point,
        looks=4,
        cause="voltage limit reached by bad contacts, a lost feedback, a set-point card off",
        consequence="less metal than the recipe counts on, or burnt edges",
        action="read amperes at the unit and with a clamp meter; then look at the contacts",
        respond_within_s=1800.0,
        suppress_when=("line-rests",),
    ),
    Sign(
        name="hunting",
        title="current hunts",
        of=("rectifier",),
        needs=("current",),
        also=("voltage",),
        but_not=("speed",),
        look=hunts,
        looks=4,
        cause="control loop unsteady, a loose feedback wire, two units against each other",
        consequence="layers in bright deposits; the unit wears",
        action="take the unit off automatic if it has both ways; have the control looked at",
        respond_within_s=3600.0,
        suppress_when=("line-rests",),
    ),
    Sign(
        name="stray-current",
        title="current without work",
        of=("rectifier",),
        needs=("current",),
        look=strays,
        looks=4,
        priority="low",
        cause="a leak to the tank's lining or coil, a hanging part, the sensor's zero",
        consequence="ampere-hours that plate nothing; coil or lining is eaten",
        action="zero the instrument with the unit off; then look for what hangs in the tank",
        respond_within_s=8 * 3600.0,
    ),
    Sign(
        name="pump-trembles",
        title="filter pressure trembles",
        of=(),
        needs=("pressure.filter",),
        look=trembles,
        looks=4,
        priority="low",
        cause="the pump draws air: level near the suction, a leaking seal or union",
        consequence="air in the bath: pits and rough work; the pump runs dry",
        action="look at the level over the suction, then for bubbles behind the pump",
        respond_within_s=3600.0,
        suppress_when=("line-rests",),
    ),
    Sign(
        name="ph-swings",
        title="pH swings wide",
        of=("treat",),
        needs=("ph",),
        look=ph_swings,
        looks=4,
        cause="a coated probe answers late, so that each dose goes too far",
        consequence="metal passes on either side of its least solubility",
        action="clean the probe, check it in two buffers",
        respond_within_s=3600.0,
    ),
    Sign(
        name="heater-weak",
        title="heater takes too little",
        of=(),
        needs=("heater-current",),
        look=heater_weak,
        looks=4,
        priority="low",
        cause="an element or a phase is out",
        consequence="the bath sags under load and warms too slowly after a stop",
        action="measure the three phase currents; change the element before the next start",
        respond_within_s=8 * 3600.0,
    ),
)
"""In no order that matters; a name is never given twice."""

BY_NAME: Final = {sign.name: sign for sign in SIGNS}
