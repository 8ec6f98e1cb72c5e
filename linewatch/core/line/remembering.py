"""What the line keeps beyond a restart: everything that influences its future, by name.

Rule 1: a part is made of ids, never of places in a plan, so that a changed plan goes on with
        what it still has. Parts of things that the plan no longer has are kept as they are:
        a rectifier that comes back has its totals.
Rule 2: ledgers are recalled before the metal that is worked out from them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linewatch.core.line.memory import pack, unpack

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from linewatch.core.line.machine import Line
    from linewatch.core.line.memory import Packing


def remember_counting(line: Line, packing: Packing) -> Iterator[tuple[str, bytes]]:
    """Yield the parts that only blocks, people and a run's start can change: charge and metal.

    Args:
        line: The line.
        packing: What packed its memory the last time.

    Yields:
        (name, part).
    """
    for name, rectifier in line.rectifiers.items():
        part = f"rectifier.{name}"
        yield part, packing.part(part, rectifier.ledger.state())
    for name, plating in line.platings.items():
        part = f"metal.{name}"
        yield part, packing.part(part, plating.remember())


def remember(line: Line, packing: Packing) -> Iterator[tuple[str, bytes]]:
    """Yield every other part of a line's memory but that of its alarms.

    Args:
        line: The line.
        packing: What packed its memory the last time.

    Yields:
        (name, part).
    """
    yield "line", pack(_own(line))
    for watch in line.watches.values():
        yield from watch.remember().items()
    yield "positions", packing.part("positions", line.positions.remember())
    yield "overdue", line.overdue.remember()
    yield "lost_links", line.lost_links.remember()
    yield "hands", packing.part("hands", line.hands.remember())
    yield from line.studies.remember()


def recall(line: Line, memory: Mapping[str, bytes]) -> None:
    """Let a fresh line go on from a memory.

    Args:
        line: The line, as its plan makes it.
        memory: As `remember` told it; may be empty.
    """
    if "line" in memory:
        for name, value in unpack(memory["line"])[0].items():
            setattr(line, name, value)
    _recall_counting(line, memory)
    for watch in line.watches.values():
        watch.set_speed(line.speed)
        watch.recall(memory)
    for name, each in (
        ("positions", line.positions),
        ("hands", line.hands),
        ("alarms", line.alarms),
    ):
        if name in memory:
            each.recall(unpack(memory[name])[0])
    if "overdue" in memory:
        line.overdue.recall(memory["overdue"])
    if "lost_links" in memory:
        line.lost_links.recall(memory["lost_links"])
    line.studies.recall(memory, line.now_ns)


def _recall_counting(line: Line, memory: Mapping[str, bytes]) -> None:
    for name, rectifier in line.rectifiers.items():
        rectifier.set_speed(line.speed)
        if f"rectifier.{name}" in memory:
            rectifier.ledger.recall(unpack(memory[f"rectifier.{name}"])[0])
    for name, plating in line.platings.items():
        if f"metal.{name}" in memory:
            plating.recall(unpack(memory[f"metal.{name}"])[0])


def _own(line: Line) -> dict[str, Any]:
    return {
        "now_ns": line.now_ns,
        "utc_ns": line.utc_ns,
        "ahead_ns": line.ahead_ns,
        "run_id": line.run_id,
        "started_utc_ns": line.started_utc_ns,
        "speed": line.speed,
        "fingerprint": line.fingerprint,
    }
