"""Metal that may have gone back into the bath: where current flowed the wrong way.

Rule 1: how much of a layer dissolves, and of which metal, nobody can tell from charge: after a
        reversal there is no figure for the layer, not one made smaller.
Rule 2: a unit that is configured to flow backward (pulse-reverse, an etch before plating)
        keeps its figures; what it takes off belongs to the efficiency that was weighed with it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.loads.reversal import MOST_OF_CHARGE_RATIO, taken_back_words

if TYPE_CHECKING:
    from linewatch.core.line.metal import Plating

MOST_OF_RATING_RATIO: Final = 0.001
"""The same, of what the rectifiers could give in the stay: the offset of a sensor, which is no
current at all. Common practice."""


def reversed_ah(plating: Plating, charge_ah: float, anodic_ah: float, dwell_s: float) -> float:
    """Return the charge that flowed the wrong way through a load [A h]; 0 if it is nothing.

    Args:
        plating: The tank.
        charge_ah: The load's cathodic charge [A h].
        anodic_ah: Its anodic charge [A h].
        dwell_s: How long it has been in [s].
    """
    if plating.deposit is None or any(feed.rectifier.plan.reverses for feed in plating.feeds):
        return 0.0
    rated_a = sum(feed.share * feed.rectifier.plan.rated_current_a for feed in plating.feeds)
    most_ah = max(
        MOST_OF_CHARGE_RATIO * charge_ah, MOST_OF_RATING_RATIO * rated_a * dwell_s / 3600.0
    )
    return anodic_ah if anodic_ah > most_ah else 0.0


def why_not_known(back_ah: float) -> str:
    """Return why a load of which charge was taken back [A h] has no figure; '' if it has."""
    if not back_ah:
        return ""
    return taken_back_words(back_ah)
