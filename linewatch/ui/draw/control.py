"""What a rectifier holds, current or volts, and what it puts into the cell."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.readings import is_good
from linewatch.core.signs.table import OFF_SET_RATIO
from linewatch.ui.draw.figures import of_kind
from linewatch.ui.draw.parts import fact, worded
from linewatch.ui.draw.rows import told
from linewatch.ui.text import number

if TYPE_CHECKING:
    from linewatch.core.view import RectifierPicture
    from linewatch.ui.draw.rows import Look, Row

FLOWS_RATIO: Final = 0.02
"""Share of the rated current from which on a current is called one."""
SAME_VOLTS_RATIO: Final = 0.02
"""Volts so close to their set value are held there; common practice, our own figure."""


def _value(each: RectifierPicture, kind: str) -> float | None:
    figure = of_kind(each.figures, kind)
    if figure is None or figure.value is None or not is_good(figure.quality):
        return None
    return abs(figure.value)


def _says_anode(each: RectifierPicture) -> bool:
    """Say whether a unit tells by itself that it reversed as it should: the work is anode."""
    return any(
        figure.value and is_good(figure.quality)
        for name, figure in each.figures.items()
        if name.startswith("count.work-is-anode")
    )


def _is_against(each: RectifierPicture) -> bool:
    """Say whether a current flows, and not the way round that is set."""
    flows, wanted = of_kind(each.figures, "current"), of_kind(each.figures, "current-set")
    if flows is None or wanted is None or not flows.value or not wanted.value:
        return False
    if _says_anode(each):
        return False
    is_one = abs(flows.value) >= FLOWS_RATIO * each.rated_current_a
    return is_one and is_good(flows.quality) and (flows.value < 0.0) != (wanted.value < 0.0)


def held_words(each: RectifierPicture) -> str:
    """Return which of current and volts stands at its set value, or why nobody can say."""
    current_a = _value(each, "current")
    if _value(each, "current-set") is None and _value(each, "voltage-set") is None:
        return "not told: no set value of it is read"
    if current_a is None or current_a < FLOWS_RATIO * each.rated_current_a:
        return "not told while no current flows"
    if _is_against(each):
        return "not told: its current flows against the way that is set"
    return _held(each, current_a)


def _held(each: RectifierPicture, current_a: float) -> str:
    """Return what a rectifier holds whose current flows [A]."""
    wanted_a, wanted_v = _value(each, "current-set"), _value(each, "voltage-set")
    voltage_v = _value(each, "voltage")
    if wanted_a and abs(current_a / wanted_a - 1.0) <= OFF_SET_RATIO:
        return "current: what flows is what is set"
    if (
        voltage_v is not None
        and wanted_v
        and (abs(voltage_v / wanted_v - 1.0) <= SAME_VOLTS_RATIO)
    ):
        return "volts: they are what is set, and the current is not"
    if (
        voltage_v is not None
        and wanted_a
        and current_a < wanted_a
        and voltage_v >= (1.0 - SAME_VOLTS_RATIO) * each.rated_voltage_v > 0.0
    ):
        return "its highest volts: the current that is set does not come up"
    return "neither: what flows is not what is set"


def control_rows(each: RectifierPicture, look: Look) -> list[Row]:
    """Return what a rectifier holds, and its power into the cell: volts times amperes."""
    rows = worded("it holds", held_words(each), look, "quiet")
    current_a, voltage_v = _value(each, "current"), _value(each, "voltage")
    if current_a is not None and voltage_v is not None:
        power = told(f"{number(current_a * voltage_v / 1000.0, 2)} kW", look)
        rows.append(fact("into the cell", power))
    return rows
