"""The terminals' temperatures that thermocouples of the same link are compared with."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.readings import Quality

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from linewatch.config.links import DevicePoll
    from linewatch.core.readings import Readings

FRESH_PERIODS = 3.0
"""A cold junction counts as fresh for so many of its periods, as any tag does."""
NAN = float("nan")


class Junctions:
    """Latest cold junctions, each with the line time until which it is fresh.

    Args:
        devices: All devices of the link.
    """

    def __init__(self, devices: Iterable[DevicePoll]) -> None:
        self._latest: dict[str, tuple[float, int, int]] = {
            tag.read.cold_junction: (NAN, Quality.NOT_YET, 0)
            for poll in devices
            for tag in poll.tags
            if tag.read.cold_junction is not None
        }

    def take(self, readings: Readings) -> None:
        """Note the cold junctions in a block."""
        if not self._latest:
            return
        until_ns = readings.mono_ns + round(FRESH_PERIODS * readings.layout.period_ns)
        for column, tag in enumerate(readings.layout.tags):
            if tag in self._latest:
                self._latest[tag] = (
                    float(readings.value[column]),
                    int(readings.quality[column]),
                    until_ns,
                )

    def at(self, mono_ns: int) -> Callable[[str], tuple[float, int]]:
        """Return what looks a junction up: its temperature [degC] and quality now."""

        def looked_up(tag: str) -> tuple[float, int]:
            degc, quality, until_ns = self._latest[tag]
            if quality < Quality.BAD and mono_ns > until_ns:
                return NAN, Quality.STALE
            return degc, quality

        return looked_up
