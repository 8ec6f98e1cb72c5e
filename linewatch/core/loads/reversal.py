"""Charge that flowed the wrong way: what was laid down may have gone back into the bath."""

from __future__ import annotations

from typing import Final

MOST_OF_CHARGE_RATIO: Final = 0.01
"""Share of the cathodic charge that may flow the wrong way and be nothing. Common practice."""
NOTHING_AH: Final = 0.05
"""Less charge than this is shown as 0.0."""


def wrong_way_words(cathodic_ah: float, anodic_ah: float) -> str:
    """Return that metal may have dissolved again, and by what charge; '' if that is nothing.

    How much dissolved no charge tells: what was laid down is the most that can be there.

    Args:
        cathodic_ah: Charge by which metal was laid down [A h].
        anodic_ah: Charge that flowed the other way [A h].
    """
    if cathodic_ah < NOTHING_AH or anodic_ah <= max(
        MOST_OF_CHARGE_RATIO * cathodic_ah, NOTHING_AH
    ):
        return ""
    return taken_back_words(anodic_ah)


def taken_back_words(back_ah: float) -> str:
    """Return that a charge [A h] may have taken metal back."""
    return f"{back_ah:.1f} A·h flowed the wrong way: what was laid down may have dissolved"
