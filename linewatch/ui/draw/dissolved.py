"""Metal of a tank through which current flowed the wrong way: it may be less than was counted.

What a tank's cathodic charge laid down is known; what a reversal took off again is not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.loads import reversal

if TYPE_CHECKING:
    from linewatch.core.view import BathPicture, LinePicture, TankPicture


def wrong_way_words(tank: TankPicture) -> str:
    """Return that what a tank laid down may have dissolved in part, and by what charge.

    '' where nothing is laid down, it flows so by design, or so little did that it is nothing.
    """
    metal, charge = tank.metal, tank.charge
    if metal is None or metal.refused or metal.reverses or charge is None:
        return ""
    return reversal.wrong_way_words(charge.cathodic_ah, charge.anodic_ah)


def wrong_way_in_bath(picture: LinePicture, bath: BathPicture) -> str:
    """Return the same of all tanks of a bath of which it is true, together."""
    found = [
        tank.charge
        for tank in picture.tanks
        if tank.id in bath.tanks and tank.charge is not None and wrong_way_words(tank)
    ]
    return reversal.wrong_way_words(
        sum(each.cathodic_ah for each in found), sum(each.anodic_ah for each in found)
    )
