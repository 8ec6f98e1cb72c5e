"""How entries, events and commands stand in the database's rows, and back again, exactly.

Rule 1: what is read back equals what was written bit by bit: -0.0, the least float and the
        payload of a NaN included. Nothing is rounded, ever.
Rule 2: a block's body is: one byte that tells what follows, the qualities (one byte if all
        are equal), the values as little-endian float64, then, where a protocol told them, the
        sources' times [ns] as little-endian int64.
"""

from __future__ import annotations

import json
import struct
import zlib
from dataclasses import asdict
from enum import IntEnum
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from linewatch.core.commands import COMMANDS
from linewatch.core.events import Event, EventKind
from linewatch.core.ports import Order, RunStart, Stood, Tick
from linewatch.core.readings import Layout, Moment, Readings

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from linewatch.core.commands import AnyCommand
    from linewatch.core.ports import Entry
    from linewatch.core.readings import Qualities, Times, Values

_FLOAT: Final = struct.Struct("<d")
_EACH: Final = 0
_ALIKE: Final = 1
_SOURCED: Final = 2
NO_SOURCE: Final = -(2**63)
"""Stands for a source's time where the block told none."""
_SIZE_BYTES: Final = 4


HOLE_PART: Final = "history.hole"
"""Name under which a hole's memory tells of the hole itself, as JSON."""


class Kind(IntEnum):
    """What an entry of the sequence is."""

    BLOCK = 0
    TICK = 1
    ORDER = 2
    RUN_START = 3
    HOLE = 4
    """Entries that came while nothing could be recorded are missing here; the body is the
    line's whole memory as it was when the recording went on."""
    STOOD = 5


def pack_block(value: Values, quality: Qualities, source_utc_ns: Times | None = None) -> bytes:
    """Return the body of a block."""
    is_alike = len(quality) > 0 and bool((quality == quality[0]).all())
    head = (_ALIKE if is_alike else _EACH) | (0 if source_utc_ns is None else _SOURCED)
    told = quality[:1] if is_alike else quality
    parts = [
        bytes((head,)),
        np.ascontiguousarray(told, dtype=np.uint8).tobytes(),
        np.ascontiguousarray(value, dtype="<f8").tobytes(),
    ]
    if source_utc_ns is not None:
        parts.append(np.ascontiguousarray(source_utc_ns, dtype="<i8").tobytes())
    return b"".join(parts)


def unpack_block(body: bytes, tags: int) -> tuple[Values, Qualities]:
    """Return the values and qualities of a block of so many tags; the values are read-only."""
    if body[0] & _ALIKE:
        quality = np.full(tags, body[1], dtype=np.uint8)
        start = 2
    else:
        quality = np.frombuffer(body, dtype=np.uint8, count=tags, offset=1)
        start = 1 + tags
    value = np.frombuffer(body, dtype="<f8", count=tags, offset=start)
    return value.astype(np.float64, copy=False), quality


def unpack_blocks(bodies: Sequence[bytes], tags: int) -> tuple[Values, Qualities]:
    """Return many blocks of one layout at once, shapes (blocks, tags)."""
    value = np.empty((len(bodies), tags), dtype=np.float64)
    quality = np.empty((len(bodies), tags), dtype=np.uint8)
    heads = {body[0] for body in bodies}
    if len(heads) == 1 and heads.pop() & _ALIKE:
        # The usual hour: all bodies have one length, and are one array of bytes.
        whole = np.frombuffer(b"".join(bodies), dtype=np.uint8).reshape(len(bodies), -1)
        quality[:] = whole[:, 1:2]
        value[:] = np.ascontiguousarray(whole[:, 2 : 2 + 8 * tags]).view("<f8")
        return value, quality
    for row, body in enumerate(bodies):
        value[row], quality[row] = unpack_block(body, tags)
    return value, quality


def unpack_sources(bodies: Sequence[bytes], tags: int) -> Times | None:
    """Return the sources' times of many blocks, shape (blocks, tags); None if none told any."""
    if not any(body[0] & _SOURCED for body in bodies):
        return None
    source = np.full((len(bodies), tags), NO_SOURCE, dtype=np.int64)
    for row, body in enumerate(bodies):
        if body[0] & _SOURCED:
            source[row] = np.frombuffer(
                body, dtype="<i8", count=tags, offset=len(body) - 8 * tags
            )
    return source


def unpack_column(bodies: Sequence[bytes], tags: int, column: int) -> tuple[Values, Qualities]:
    """Return one column of many blocks of one layout, shapes (blocks,)."""
    value = np.empty(len(bodies), dtype=np.float64)
    quality = np.empty(len(bodies), dtype=np.uint8)
    alike_at, each_at = 2 + 8 * column, 1 + tags + 8 * column
    for row, body in enumerate(bodies):
        if body[0] & _ALIKE:
            quality[row] = body[1]
            (value[row],) = _FLOAT.unpack_from(body, alike_at)
        else:
            quality[row] = body[1 + column]
            (value[row],) = _FLOAT.unpack_from(body, each_at)
    return value, quality


def layout_text(layout: Layout) -> str:
    """Return the text by which history knows a layout: its content, nothing else."""
    return _json(
        {
            "link": layout.link,
            "device": layout.device,
            "tags": layout.tags,
            "period_ns": layout.period_ns,
        }
    )


def layout_of(text: str) -> Layout:
    """Return the layout that `layout_text` told."""
    parts = json.loads(text)
    return Layout(
        link=parts["link"],
        device=parts["device"],
        tags=tuple(parts["tags"]),
        period_ns=parts["period_ns"],
    )


def moment_of(entry: Entry) -> Moment:
    """Return when an entry came."""
    if isinstance(entry, Readings):
        return Moment(utc_ns=entry.utc_ns, mono_ns=entry.mono_ns)
    return entry.at


def pack_entry(entry: Entry) -> tuple[Kind, bytes]:
    """Return kind and body of an entry; its layout and times stand in columns of their own."""
    match entry:
        case Readings():
            return Kind.BLOCK, pack_block(entry.value, entry.quality, entry.source_utc_ns)
        case Tick():
            return Kind.TICK, b""
        case Order():
            parts = {"request": entry.request, "command": command_parts(entry.command)}
            return Kind.ORDER, _json(parts).encode()
        case RunStart():
            parts = {
                "run_id": entry.run_id,
                "fingerprint": entry.fingerprint,
                "speed": entry.speed,
                "who": entry.who,
            }
            return Kind.RUN_START, _json(parts).encode()
        case Stood():
            return Kind.STOOD, _json({"for_ns": entry.for_ns}).encode()


def unpack_entry(kind: int, layout: Layout | None, at: Moment, body: bytes) -> Entry:
    """Return the entry that `pack_entry` packed.

    Raises:
        ValueError: it is no entry of the line's, such as a hole.
    """
    if kind == Kind.BLOCK and layout is not None:
        value, quality = unpack_block(body, len(layout.tags))
        source = unpack_sources([body], len(layout.tags))
        return Readings(
            layout=layout,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            value=value,
            quality=quality,
            source_utc_ns=None if source is None else source[0],
        )
    if kind == Kind.TICK:
        return Tick(at=at)
    if kind == Kind.ORDER:
        parts = json.loads(body)
        return Order(request=parts["request"], command=command_of(parts["command"]), at=at)
    if kind == Kind.RUN_START:
        return RunStart(at=at, **json.loads(body))
    if kind == Kind.STOOD:
        return Stood(at=at, for_ns=json.loads(body)["for_ns"])
    raise ValueError(f"an entry of kind {kind} cannot be fed to a line")


def command_parts(command: AnyCommand) -> dict[str, Any]:
    """Return a command as JSON can hold it."""
    return {"command": type(command).__name__, **asdict(command)}


def command_of(parts: Mapping[str, Any]) -> AnyCommand:
    """Return the command that `command_parts` told.

    Raises:
        ValueError: this program knows no such command.
    """
    rest = dict(parts)
    name = rest.pop("command", "")
    kind = COMMANDS.get(name)
    if kind is None:
        raise ValueError(f"no command {name!r} is known; use one of {', '.join(COMMANDS)}")
    try:
        return kind(**rest)  # type: ignore[return-value]  # COMMANDS holds AnyCommand's members
    except TypeError as error:
        raise ValueError(f"command {name} has other parts: {error}") from error


def event_parts(event: Event) -> str:
    """Return an event's values as text."""
    return _json(dict(event.values))


def event_of(row: tuple[str, str, int, int, str, str]) -> Event:
    """Return the event of a row: kind, subject, utc_ns, mono_ns, text, parts."""
    kind, subject, utc_ns, mono_ns, text, parts = row
    return Event(
        kind=EventKind(kind),
        subject=subject,
        utc_ns=utc_ns,
        mono_ns=mono_ns,
        text=text,
        values=json.loads(parts),
    )


def pack_memory(memory: Mapping[str, bytes]) -> bytes:
    """Return a whole memory as one piece; equal memories give equal pieces."""
    pieces: list[bytes] = []
    for name in sorted(memory):
        for piece in (name.encode(), memory[name]):
            pieces += (len(piece).to_bytes(_SIZE_BYTES, "little"), piece)
    return zlib.compress(b"".join(pieces), 1)


def unpack_memory(packed: bytes) -> dict[str, bytes]:
    """Return the memory that `pack_memory` packed."""
    whole = zlib.decompress(packed)
    pieces: list[bytes] = []
    start = 0
    while start < len(whole):
        size = int.from_bytes(whole[start : start + _SIZE_BYTES], "little")
        pieces.append(whole[start + _SIZE_BYTES : start + _SIZE_BYTES + size])
        start += _SIZE_BYTES + size
    return {name.decode(): part for name, part in zip(pieces[::2], pieces[1::2], strict=True)}


def _json(parts: object) -> str:
    """Return one text for one content: sealed rows and layouts are compared by it."""
    return json.dumps(parts, ensure_ascii=False, separators=(",", ":"), sort_keys=True)


def pack_totals(totals: Mapping[str, str]) -> bytes:
    """Return the totals of all subjects, each given as JSON, as one piece."""
    parts = ",".join(f"{json.dumps(name)}:{totals[name]}" for name in sorted(totals))
    return zlib.compress(f"{{{parts}}}".encode())


def unpack_totals(packed: bytes) -> dict[str, dict[str, float | int]]:
    """Return the totals by subject that `pack_totals` packed."""
    totals: dict[str, dict[str, float | int]] = json.loads(zlib.decompress(packed))
    return totals


canonical = _json
