"""The devices that a plant's lines are wired with: each a function from its place to registers.

Devices differ on purpose, as they do where a plant has grown: scaled integers and floats, both
word orders, bits, a 4-20 mA card, a sentinel for an open sensor.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch_sim.rows import NodeRow, RegisterRow

if TYPE_CHECKING:
    from collections.abc import Iterable

OPEN_SENSOR = 0x8000
"""What the temperature card reports for an open sensor: -3276.8 degC."""

Rows = tuple[RegisterRow, ...]


def temperatures(link: str, unit: int, tanks: Iterable[str]) -> Rows:
    """Return a card of resistance thermometers: tenths of a degree, open is 0x8000."""
    return tuple(
        RegisterRow(
            link=link,
            unit=unit,
            table="holding",
            address=k,
            type="int16",
            scale=0.1,
            sentinel=OPEN_SENSOR,
            what=f"{tank}.temperature",
        )
        for k, tank in enumerate(tanks)
    )


def analogue(
    link: str, unit: int, whats: Iterable[str], span: tuple[float, float], first: int = 0
) -> Rows:
    """Return a card of 4-20 mA inputs of one span, in counts."""
    return tuple(
        RegisterRow(
            link=link,
            unit=unit,
            table="input",
            address=first + k,
            type="int16",
            span=span,
            what=what,
        )
        for k, what in enumerate(whats)
    )


def levels(link: str, unit: int, tanks: Iterable[str], span_mm: tuple[float, float]) -> Rows:
    """Return a card of 4-20 mA level probes, in counts."""
    return analogue(link, unit, (f"{tank}.level" for tank in tanks), span_mm)


def conductivities(link: str, unit: int, tanks: Iterable[str], first: int = 200) -> Rows:
    """Return conductivity meters: floats in uS/cm, high word first."""
    return floats(link, unit, (f"{tank}.conductivity" for tank in tanks), first)


def floats(
    link: str, unit: int, whats: Iterable[str], first: int = 200, order: str = "ABCD"
) -> Rows:
    """Return meters that tell floats."""
    return tuple(
        RegisterRow(
            link=link,
            unit=unit,
            table="input",
            address=first + 2 * k,
            type="float32",
            order=order,
            what=what,
        )
        for k, what in enumerate(whats)
    )


def tenths(
    link: str, unit: int, whats: Iterable[str], *, first: int = 0, scale: float = 0.1
) -> Rows:
    """Return scaled whole numbers, open is 0x8000."""
    return tuple(
        RegisterRow(
            link=link,
            unit=unit,
            table="holding",
            address=first + k,
            type="int16",
            scale=scale,
            sentinel=OPEN_SENSOR,
            what=what,
        )
        for k, what in enumerate(whats)
    )


def node(link: str, namespace: str, what: str) -> NodeRow:
    """Return a variable that is called by its subject and kind: 'Neutralise.Ph'."""
    words = (word.replace("-", " ").title().replace(" ", "") for word in what.split("."))
    return NodeRow(link=link, namespace=namespace, node=".".join(words), what=what)


def bits(link: str, unit: int, whats: Iterable[str], first: int = 0) -> Rows:
    """Return a card of contacts."""
    return tuple(
        RegisterRow(
            link=link, unit=unit, table="discrete", address=first + k, type="bit", what=what
        )
        for k, what in enumerate(whats)
    )


def load_numbers(link: str, unit: int, tanks: Iterable[str], first: int = 0) -> Rows:
    """Return the station controller's list of load numbers, low word first."""
    return tuple(
        RegisterRow(
            link=link,
            unit=unit,
            table="holding",
            address=first + 2 * k,
            type="uint32",
            order="CDAB",
            what=f"{tank}.load-number",
        )
        for k, tank in enumerate(tanks)
    )


def old_rectifier(link: str, unit: int, rectifier: str, *, scale_a: float) -> Rows:
    """Return an older unit: scaled integers, a status word, and a meter low word first."""

    def at(address: int, what: str, type_: str = "uint16", **more: object) -> RegisterRow:
        return RegisterRow(
            link=link,
            unit=unit,
            table="holding",
            address=address,
            type=type_,
            what=f"{rectifier}.{what}",
            **more,  # type: ignore[arg-type]
        )

    return (
        at(0, "current", "int16", scale=scale_a),
        at(1, "voltage", "int16", scale=0.01),
        at(2, "current-set", "int16", scale=scale_a),
        at(3, "ripple", scale=0.1),
        at(4, "heat-sink", "int16", scale=0.1, sentinel=OPEN_SENSOR),
        at(6, "charge-meter", "uint32", order="CDAB"),
        at(8, "running", "bit", bit=0),
        at(8, "fault", "bit", bit=1),
        at(8, "count.at-limit", "bit", bit=2),
        at(8, "count.work-is-anode", "bit", bit=3),
    )


def modules(link: str, unit: int, rectifier: str, count: int, *, order: str = "ABCD") -> Rows:
    """Return the currents of a newer unit's modules."""
    whats = tuple(f"{rectifier}.current.module-{k}" for k in range(1, count + 1))
    return floats(link, unit, whats, 122, order)


def new_rectifier(
    link: str, unit: int, rectifier: str, *, order: str = "ABCD", meter_scale: float = 1.0
) -> Rows:
    """Return a newer unit: floats in input registers, contacts of their own."""
    kinds = ("current", "voltage", "current-set", "ripple", "heat-sink")
    states = ("running", "fault", "count.at-limit", "count.work-is-anode")
    return (
        *floats(link, unit, tuple(f"{rectifier}.{kind}" for kind in kinds), 100, order),
        RegisterRow(
            link=link,
            unit=unit,
            table="input",
            address=120,
            type="uint32",
            order=order,
            scale=meter_scale,
            what=f"{rectifier}.charge-meter",
        ),
        *bits(link, unit, tuple(f"{rectifier}.{state}" for state in states)),
    )
