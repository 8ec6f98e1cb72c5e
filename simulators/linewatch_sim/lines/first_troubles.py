"""What may go wrong on the first line."""

from __future__ import annotations

from linewatch_sim.troubles import Trouble, dropped_link, knob, sensor, silent_unit

FIRST_TROUBLES: tuple[Trouble, ...] = (
    Trouble(
        name="heater-fails",
        group="heating",
        tells="The heater of nickel-2 gives no heat although its thermostat asks for it.",
        **knob("solutions", "heater_share", "nickel-2", 0.0),
    ),
    Trouble(
        name="sensor-opens",
        group="heating",
        tells="The wire of the temperature probe in nickel-1 breaks.",
        **sensor("nickel-1.temperature", "open"),
    ),
    Trouble(
        name="unit-silent",
        group="rectifier",
        tells="The rectifier of nickel-1 no longer answers behind its gateway.",
        **silent_unit("rectifiers", 13),
    ),
    Trouble(
        name="gateway-drops",
        group="rectifier",
        tells="The gateway of the rectifiers closes its connections and refuses new ones.",
        **dropped_link("rectifiers"),
    ),
)
