"""One device of a link: what is asked of it, and what its answers mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.config.addresses import first_address
from linewatch.core.readings import Quality
from linewatch.drivers.modbus.decode import FUNCTIONS, Decoder, spans_of
from linewatch.drivers.modbus.planner import DeviceMap, Request, block
from linewatch.drivers.modbus.question import (
    Answer,
    Broken,
    Failure,
    Identity,
    Question,
    Refusal,
    Verdict,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.config.links import DevicePoll, TagRead
    from linewatch.config.model import DeviceSection
    from linewatch.core.readings import Layout
    from linewatch.drivers.modbus.planner import Plan, Span

CANNOT_BE_READ = (2, 3)
"""Exceptions that a smaller or another block may cure: illegal address, illegal count."""
TRY_LATER = (5, 6)
GATEWAY = (10, 11)
"""Exceptions of a gateway whose unit is away."""
ALL_REFUSED_S = 10.0
"""After a block was refused in all its parts, it is asked whole for so long [wall time]."""

# What costs a whole time limit, or would.
_QUALITIES = {
    Failure.SILENT: Quality.NO_ANSWER,
    Failure.NOISE: Quality.NO_ANSWER,
    Failure.ECHO: Quality.NO_ANSWER,
    Failure.NOT_MODBUS: Quality.NO_ANSWER,
    Failure.FOREIGN_ID: Quality.FOREIGN,
    Failure.FOREIGN_UNIT: Quality.FOREIGN,
    Failure.OWED: Quality.NO_ANSWER,
}


def quality_of(verdict: Refusal | Broken) -> Quality:
    """Return what a failed exchange makes of its values."""
    if isinstance(verdict, Broken):
        return _QUALITIES.get(verdict.failure, Quality.MALFORMED)
    if verdict.code in GATEWAY:
        return Quality.NO_ANSWER
    return Quality.BUSY if verdict.code in TRY_LATER else Quality.REFUSED


def ends_poll(verdict: Refusal | Broken) -> bool:
    """Say whether it is no use to ask the unit further in this poll."""
    if isinstance(verdict, Broken):
        return verdict.failure in _QUALITIES
    return verdict.code in (*TRY_LATER, *GATEWAY)


def readable_ranges(device: DeviceSection) -> dict[int, tuple[tuple[int, int], ...]]:
    """Return the readable ranges by function, on the wire.

    Ranges are written in the style of the device's manual. Where that style tells tables
    apart, a range belongs to its own table; where it does not, to all.
    """
    ranges: dict[int, tuple[tuple[int, int], ...]] = {}
    for table, function in FUNCTIONS.items():
        first = first_address(device.base, table)
        places = 9999 if device.base in {40001, 30001} else 0x10000
        ranges[function] = tuple(
            (low - first, high - first)
            for low, high in device.readable
            if first <= low <= high < first + places
        )
    return ranges


class PolledUnit:
    """A device with its layouts: makes requests, learns its map, decodes its answers.

    Args:
        poll: The device and its tags.
    """

    def __init__(self, poll: DevicePoll) -> None:
        device = poll.device
        self.device = device
        self._map = DeviceMap(
            largest_block=device.largest_block,
            largest_hole=device.largest_hole,
            ranges=readable_ranges(device),
        )
        self._identity = Identity.EXACT
        if device.swapped_transaction:
            self._identity = Identity.SWAPPED
        if device.zero_transaction:
            self._identity = Identity.ZERO
        by_tag = {tag.tag: tag for tag in poll.tags}
        self._tags: dict[Layout, tuple[TagRead, ...]] = {
            layout: tuple(by_tag[tag] for tag in layout.tags) for layout in poll.layouts
        }
        self._spans = {layout: spans_of(tags) for layout, tags in self._tags.items()}
        self._decoders: dict[Layout, tuple[int, float, Decoder]] = {}
        self._whole_until_s: dict[Request, float] = {}
        self._questions: dict[tuple[int, int, int], Question] = {}

    def decoder(self, layout: Layout, now_s: float) -> Decoder:
        """Return what asks for and decodes a layout, as the map is known now."""
        version, until_s, decoder = self._decoders.get(layout, (-1, 0.0, None))
        if decoder is None or version != self._map.version or now_s >= until_s:
            plan = self._map.plan(self._spans[layout], now_s)
            decoder = Decoder(self._tags[layout], plan)
            self._decoders[layout] = self._map.version, plan.until_s, decoder
        return decoder

    def question(self, request: Request) -> Question:
        """Return the question that brings a request."""
        block = request.function, request.address, request.count
        question = self._questions.get(block)
        if question is None:
            question = self._questions[block] = Question(
                unit=self.device.unit,
                function=request.function,
                address=request.address,
                count=request.count,
                answers_as=self.device.answers_as_unit,
                identity=self._identity,
            )
        return question

    def parts(self, request: Request, code: int, now_s: float) -> tuple[Request, ...]:
        """Return what to ask instead of a refused request; nothing if nothing would help."""
        if code not in CANNOT_BE_READ or now_s < self._whole_until_s.get(request, 0.0):
            return ()
        return self._map.split(request) or ()

    def split_up(self, request: Request, results: Sequence[tuple[Request, Verdict]]) -> None:
        """Take note of what became of a refused request's parts."""
        if all(isinstance(verdict, Answer) for _, verdict in results):
            self._map.parts_answered(request, [part for part, _ in results])

    def polled(
        self, plan: Plan, results: Sequence[tuple[Request, Verdict]], now_s: float
    ) -> None:
        """Take note of what became of a whole poll, in parts as far as it was split up."""
        answered = [part for part, verdict in results if isinstance(verdict, Answer)]
        refused = [
            part
            for part, verdict in results
            if isinstance(verdict, Refusal) and verdict.code in CANNOT_BE_READ
        ]
        for part in answered:
            self._map.answered_alone(part)
        if not refused:
            return
        if answered:
            for part in refused:
                self._map.refused_alone(part, now_s)
        else:
            asked = {part for part, _ in results}
            for request in plan.requests:
                if request not in asked:
                    self._whole_until_s[request] = now_s + ALL_REFUSED_S

    @property
    def answering_unit(self) -> int:
        """The unit id that its answers carry."""
        as_unit = self.device.answers_as_unit
        return self.device.unit if as_unit is None else as_unit

    @property
    def has_ids(self) -> bool:
        """Whether it returns a transaction id, on a link that has one."""
        return self._identity is not Identity.ZERO

    def proof(
        self, layout: Layout, owed: frozenset[tuple[int, int]], now_s: float
    ) -> Question | None:
        """Return a question whose answer could be none of those owed, on known ground."""
        for request in self.decoder(layout, now_s).plan.requests:
            for spans in _beginnings(request.spans):
                question = self.question(block(spans))
                if question.shape not in owed:
                    return question
        return None


def _beginnings(spans: tuple[Span, ...]) -> list[tuple[Span, ...]]:
    """Return the request's values, fewer and fewer of them."""
    return [spans[:length] for length in range(len(spans), 0, -1)]
