r"""Instruments that misbehave: a scriptable proxy and what it may do to an answer.

    async with CrookedProxy(plant.links["rectifiers"], framing=RTU) as proxy:
        proxy.next(Late(1.5))                   # one answer comes late
        proxy.always(Noise(b"\x00"))            # every other one has a glitch in front
        ...                                     # a driver talks to proxy.address

Adding a way to misbehave is adding a class to `deeds`.
"""

from linewatch_sim.crooked.deeds import (
    AsFunction,
    AsTransaction,
    AsUnit,
    Closed,
    Deed,
    Echoed,
    Faithful,
    Garbled,
    Glued,
    Held,
    Late,
    Noise,
    Refused,
    Replaced,
    Reset,
    Shortened,
    Split,
    Swallowed,
    SwappedTransaction,
)
from linewatch_sim.crooked.exchange import Exchange
from linewatch_sim.crooked.frames import MBAP, PLAIN, RTU, Framing
from linewatch_sim.crooked.proxy import CrookedProxy, Manner

__all__ = [
    "MBAP",
    "PLAIN",
    "RTU",
    "AsFunction",
    "AsTransaction",
    "AsUnit",
    "Closed",
    "CrookedProxy",
    "Deed",
    "Echoed",
    "Exchange",
    "Faithful",
    "Framing",
    "Garbled",
    "Glued",
    "Held",
    "Late",
    "Manner",
    "Noise",
    "Refused",
    "Replaced",
    "Reset",
    "Shortened",
    "Split",
    "Swallowed",
    "SwappedTransaction",
]
