"""What the line keeps beyond a restart: everything that influences its future, by name.

Rule 1: a part is made of ids, never of places in a plan, so that a changed plan goes on with
        what it still has. Parts of things that the plan no longer has are kept as they are:
        a rectifier that comes back has its totals.
Rule 2: ledgers are recalled before the metal that is worked out from them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linewatch.core.line.memory import Packing, pack, unpack

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from linewatch.core.line.machine import Line


class Keeping:
    """What a line remembers, part by part; packs only what may have changed.

    Args:
        kept: What an earlier line of the same id remembered.
    """

    def __init__(self, kept: Mapping[str, bytes]) -> None:
        self.kept = dict(kept)
        self.has_moved = True
        """Something other than time has moved the line since its counting was remembered."""
        self._told: dict[str, bytes] = {}
        self._alarms = b""
        self._counting: dict[str, bytes] = {}
        self._packing = Packing()

    def parts(self, line: Line) -> dict[str, bytes]:
        """Return everything that influences the future, by name of part."""
        if line.alarms.changed or not self._alarms:
            # After a burst of thousands this is the largest part; most of the time it is still.
            self._alarms = pack(line.alarms.remember())
            line.alarms.changed = False
        if self.has_moved:
            self._counting = dict(remember_counting(line, self._packing))
            self.has_moved = False
        return {
            **self.kept,
            **self._counting,
            **dict(remember(line, self._packing)),
            "alarms": self._alarms,
        }

    def changed(self, line: Line) -> dict[str, bytes]:
        """Return the parts that changed since the last call, at first all."""
        parts = self.parts(line)
        changed = {name: part for name, part in parts.items() if self._told.get(name) != part}
        self._told = parts
        return changed


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
