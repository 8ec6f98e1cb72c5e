"""What a shift looks at by hand at each kind of position, and what it wants to have read.

Common practice of the trade; a shop's own list is longer. A kind of position is one of
`TANK_KINDS`, 'rectifier' or 'line'.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to look at."""

    id: str
    text: str


def _items(**texts: str) -> tuple[Item, ...]:
    return tuple(Item(name.replace("_", "-"), text) for name, text in texts.items())


_SURFACE: Final = _items(surface="colour; oil, foam or fallen parts on it")
_PLATED: Final = (
    *_SURFACE,
    *_items(
        air="pattern of air or movement",
        anodes="anode baskets full, hooks clean",
        bags="anode bags whole, above the liquid",
        panel="test cell panel",
        bars="bars and saddles clean, no warm joint",
    ),
)
BY_HAND: Final[dict[str, tuple[Item, ...]]] = {
    "load": _items(racks="tips, insulation, doors and danglers"),
    "clean": (*_SURFACE, *_items(skimmed="skimmed", water_break="water-break panel")),
    "electroclean": (
        *_SURFACE,
        *_items(water_break="water-break panel", polarity="polarity lamp"),
    ),
    "rinse": _items(clarity="clear, no film on it", air="air or movement on"),
    "activate": (*_SURFACE, *_items(strength="strength, or loads since it was made up")),
    "strike": _PLATED,
    "plate": _PLATED,
    "cell": _items(clarity="clear", anodes="anodes"),
    "passivate": (*_SURFACE, *_items(panel="colour panel", loads="loads since it was made up")),
    "seal": _items(clarity="clear, no gel"),
    "dry": _items(door="door and seal"),
    "bake": _items(recorder="recorder runs, its time is right", door="door and seal"),
    "treat": _items(
        spot="spot test (hexavalent chromium, free cyanide, oxidant)",
        probe="probes wiped",
        clarity="clarity, sludge blanket",
    ),
    "extract": _items(gauge="gauge against the screen", plume="no visible plume or mist"),
    "supply": _items(strainer="valve, strainer, resin"),
    "rectifier": _items(
        fan="fan, filter mat, cooling water",
        volts="volts at the tank against the panel",
        lamps="lamps, A·h meter written down",
    ),
    "line": _items(
        hoist="limit switches, drip times, emergency stop",
        showers="showers and eye wash",
        gas="gas alarm tested",
        heaters="heater cut-out at low level tested (weekly)",
        spills="spill kit, cyanide lock",
        thermometers="thermometer by hand on two tanks by rota",
    ),
}
WANTED: Final[dict[str, tuple[str, ...]]] = {
    "clean": ("temperature", "level"),
    "electroclean": ("temperature", "level"),
    "rinse": ("conductivity", "flow"),
    "activate": ("temperature", "level"),
    "strike": ("temperature", "level", "ph", "pressure.filter"),
    "plate": ("temperature", "level", "ph", "pressure.filter"),
    "passivate": ("temperature", "level", "ph"),
    "seal": ("temperature", "level", "ph"),
    "dry": ("temperature",),
    "bake": ("temperature",),
    "treat": ("ph",),
    "extract": ("draught",),
    "rectifier": ("current", "voltage", "heat-sink"),
}
"""Measurement kinds that the sheet asks for: where no signal reads one, it is a blank."""
NOT_ASKED: Final = frozenset({"load-present", "load-number", "line-state", "count"})
"""Kinds of signals that no sheet asks for."""


def item_of(kind: str, name: str) -> Item | None:
    """Return what is looked at at a kind of position, by its id; None if it is not."""
    return next((each for each in BY_HAND.get(kind, ()) if each.id == name), None)
