"""Which requests bring a device's values: the fewest that it accepts. Pure.

Rule 1: a value is never torn between two requests.
Rule 2: what a device refuses teaches. Its refused block is split at once, in the same poll;
        what the parts tell is remembered, so that the next poll asks right away what works:
        a smaller block, a request on each side of a hole, or no longer the hole itself.
Rule 3: when nothing at all is answered, nothing is learned: the device refuses everything,
        and says nothing about its map.
Rule 4: what was once refused alone is asked again, rarely and alone.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from linewatch.drivers.modbus.question import BIT_FUNCTIONS, MOST_BITS, MOST_REGISTERS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

USUAL_LIMITS = (
    120,
    112,
    100,
    96,
    80,
    64,
    60,
    50,
    48,
    40,
    32,
    30,
    25,
    24,
    20,
    16,
    12,
    10,
    8,
    4,
    2,
    1,
)
"""Largest blocks that devices are built with, as far as is known: common practice."""
BITS_A_REGISTER = 16
HALVES = 2
ASK_HOLE_AGAIN_S = 60.0
"""How often a value that was refused alone is asked again [wall time]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Where one tag's value stands."""

    function: int
    address: int
    count: int
    """Registers, or 1 for a bit of a bit table."""
    column: int
    """Of the tag in its layout."""

    @property
    def end(self) -> int:
        """The first address behind it."""
        return self.address + self.count


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One block to ask for."""

    function: int
    address: int
    count: int
    spans: tuple[Span, ...]

    @property
    def end(self) -> int:
        """The first address behind it."""
        return self.address + self.count


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What to ask for one layout, and what not to."""

    requests: tuple[Request, ...]
    holes: tuple[Span, ...] = ()
    """Known to be refused, and not due to be asked again."""
    until_s: float = float("inf")
    """When the first of them is due again [wall time]: time for another plan."""


@dataclass(slots=True)
class _Table:
    """What is known of one of the device's tables."""

    largest: int
    hole: int
    ranges: tuple[tuple[int, int], ...]
    """First and last address of each readable range, rising; empty: not known."""
    walls: set[tuple[int, int]] = field(default_factory=set)
    """Unused addresses (first, end) that must not be read along."""
    holes: dict[tuple[int, int], float] = field(default_factory=dict)
    """Values (address, count) refused alone, and when to ask again."""


class DeviceMap:
    """A device's address map, as far as it is known.

    Args:
        largest_block: Most registers in one answer.
        largest_hole: Unused registers to read along rather than splitting a request.
        ranges: By function: first and last address of each readable range.
    """

    def __init__(
        self,
        *,
        largest_block: int = MOST_REGISTERS,
        largest_hole: int = 16,
        ranges: dict[int, tuple[tuple[int, int], ...]] | None = None,
    ) -> None:
        self._tables = {
            function: _Table(
                min(MOST_BITS, largest_block * BITS_A_REGISTER)
                if function in BIT_FUNCTIONS
                else min(MOST_REGISTERS, largest_block),
                largest_hole * (BITS_A_REGISTER if function in BIT_FUNCTIONS else 1),
                tuple(sorted((ranges or {}).get(function, ()))),
            )
            for function in (1, 2, 3, 4)
        }
        self.version = 0
        """Grows whenever something was learned: plans made before are out of date."""

    def plan(self, spans: Iterable[Span], now_s: float) -> Plan:
        """Return the fewest requests for the given values."""
        by_function: dict[int, list[Span]] = {}
        holes, alone, dues = [], [], [float("inf")]
        for span in spans:
            until_s = self._tables[span.function].holes.get((span.address, span.count))
            if until_s is None:
                by_function.setdefault(span.function, []).append(span)
            elif now_s < until_s:
                holes.append(span)
                dues.append(until_s)
            else:
                alone.append(block([span]))
        requests = [
            request
            for function, group in sorted(by_function.items())
            for request in self._grouped(function, group)
        ]
        return Plan(requests=tuple(requests + alone), holes=tuple(holes), until_s=min(dues))

    def _grouped(self, function: int, spans: list[Span]) -> Iterable[Request]:
        """Join from the lowest address on: greedy is best where all blocks have one limit."""
        table = self._tables[function]
        group: list[Span] = []
        end = 0
        for span in sorted(spans, key=lambda each: (each.address, each.end)):
            if group and not self._may_join(table, group, end, span):
                yield block(group)
                group = []
            end = max(end, span.end) if group else span.end
            group.append(span)
        if group:
            yield block(group)

    def _may_join(self, table: _Table, group: Sequence[Span], end: int, span: Span) -> bool:
        first = group[0].address
        if max(end, span.end) - first > table.largest or span.address - end > table.hole:
            return False
        if table.ranges and _range_of(table.ranges, first) != _range_of(
            table.ranges, span.end - 1
        ):
            return False
        return not any(
            end <= wall_first and wall_end <= span.address
            for wall_first, wall_end in table.walls
        ) and not any(
            end <= address and address + count <= span.address for address, count in table.holes
        )

    def split(self, request: Request) -> tuple[Request, Request] | None:
        """Return two parts of a refused request, or None if it holds one value only.

        A gap of unused addresses is the likeliest cause, so it is cut first.
        """
        spans = sorted(request.spans, key=lambda span: (span.address, span.end))
        cuts: list[tuple[int, float, int]] = []
        end = spans[0].end
        middle = request.address + request.count / 2
        for place, span in enumerate(spans[1:], start=1):
            # Overlapping values cannot be parted.
            if span.address >= end:
                cuts.append((end - span.address, abs(span.address - middle), place))
            end = max(end, span.end)
        if not cuts:
            return None
        place = min(cuts)[2]
        return block(spans[:place]), block(spans[place:])

    def refused_alone(self, request: Request, now_s: float) -> None:
        """Note that values were refused with nothing else in the request."""
        for span in request.spans:
            self._tables[span.function].holes[span.address, span.count] = (
                now_s + ASK_HOLE_AGAIN_S
            )
        self.version += 1

    def answered_alone(self, request: Request) -> None:
        """Note that values can be read after all."""
        holes = self._tables[request.function].holes
        if not holes:
            return
        known = [holes.pop((span.address, span.count), None) for span in request.spans]
        if any(until is not None for until in known):
            self.version += 1

    def parts_answered(self, request: Request, parts: Sequence[Request]) -> None:
        """Note that all parts of a refused request were answered.

        If there are more than two, their own refusals have taught already.
        """
        if len(parts) > HALVES:
            return
        table = self._tables[request.function]
        first, second = sorted(parts, key=lambda part: part.address)
        if second.address > first.end:
            table.walls.add((first.end, second.address))
        else:
            table.largest = min(table.largest, self._next_limit(request))
        self.version += 1

    def _next_limit(self, request: Request) -> int:
        scale = BITS_A_REGISTER if request.function in BIT_FUNCTIONS else 1
        below = [each * scale for each in USUAL_LIMITS if each * scale < request.count]
        return max(below, default=1)


def block(spans: Sequence[Span]) -> Request:
    """Return the request for values of one function, together."""
    first = min(span.address for span in spans)
    end = max(span.end for span in spans)
    return Request(
        function=spans[0].function, address=first, count=end - first, spans=tuple(spans)
    )


def _range_of(ranges: Sequence[tuple[int, int]], address: int) -> tuple[int, int] | int:
    """Return the readable range that an address lies in, or the address itself if in none."""
    place = bisect_right(ranges, (address, 0x10000)) - 1
    if place >= 0 and ranges[place][0] <= address <= ranges[place][1]:
        return ranges[place]
    return address
