"""Whether the item behind a name is still the one that it was.

A server that starts anew may number its namespaces otherwise, or carry another tank under an
old name. So every new session reads what each item is, and compares it with what it was when
this process first saw it. An item that has become another is FOREIGN: it has no value until
a person has looked and started the collector anew.

References:
    OPC 10000-8, 5.6.3.3: `unitId` of the UNECE units is made of the common code's characters.
"""

from __future__ import annotations

from dataclasses import dataclass

from asyncua import ua

UNECE_NAMESPACE = "http://www.opcfoundation.org/UA/units/un/cefact"

_UNECE: dict[str, str] = {
    "AMP": "A", "4K": "mA", "VLT": "V", "2Z": "mV", "CEL": "degC", "FAH": "degF",
    "KEL": "degK", "AMH": "A.h", "TAH": "kA.h", "KGM": "kg", "GRM": "g", "TNE": "t",
    "MMT": "mm", "CMT": "cm", "MTR": "m", "4H": "um", "Q30": "pH", "P1": "%", "LTR": "L",
    "MLT": "mL", "MTQ": "m3", "GL": "g/L", "M1": "mg/L", "G42": "uS/cm", "H61": "mS/cm",
    "KWT": "kW", "WTT": "W", "L2": "L/min", "MQH": "m3/h", "A41": "A/m2", "DMK": "dm2",
    "MTK": "m2", "HUR": "h", "MIN": "min", "SEC": "s", "BAR": "bar", "MBR": "mbar",
    "PAL": "Pa", "KPA": "kPa", "RPM": "1/min", "OHM": "ohm",
}  # fmt: skip


def unit_id(code: str) -> int:
    """Return the `unitId` of a UNECE common code: its characters, the last one lowest."""
    number = 0
    for character in code:
        number = number << 8 | ord(character)
    return number


_BY_ID = {unit_id(code): unit for code, unit in _UNECE.items()}


def unit_of(namespace: str | None, number: int) -> str | None:
    """Return our name of a unit that a server states; None if we do not know it."""
    return _BY_ID.get(number) if namespace == UNECE_NAMESPACE else None


def unit_in(told: ua.DataValue) -> str:
    """Return our name of the unit in an item's EngineeringUnits; '' if we know none there."""
    information = None if told.Value is None else told.Value.Value
    if not isinstance(information, ua.EUInformation):
        return ""
    return unit_of(information.NamespaceUri, int(information.UnitId)) or ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """What a server says an item is."""

    browse_name: str
    data_type: str
    unit: str
    """As the server states it, '' if it states none."""

    def differs(self, before: Identity) -> str:
        """Return in words how this differs from an earlier one; '' if it does not."""
        changes = [
            f"{word} {old!r} became {new!r}"
            for word, old, new in (
                ("name", before.browse_name, self.browse_name),
                ("type", before.data_type, self.data_type),
                ("unit", before.unit, self.unit),
            )
            if old != new
        ]
        return ", ".join(changes)


class Acquaintances:
    """The items of one server as this process first saw them."""

    def __init__(self) -> None:
        self._first: dict[tuple[str, str], Identity] = {}

    def changed(self, namespace: str, node: str, now: Identity) -> str:
        """Return how an item differs from when it was first seen; '' if it does not."""
        return now.differs(self._first.setdefault((namespace, node), now))


_SERVERS: dict[tuple[str, str], Acquaintances] = {}


def acquaintances(link: str, address: str) -> Acquaintances:
    """Return what this process knows of a link's server.

    A driver is thrown away with its connection; what must outlive it is kept here.
    """
    return _SERVERS.setdefault((link, address), Acquaintances())
