"""Keeping one link: open its driver, pass its readings on, and turn silence into readings.

Rule 1: a link is one task; nothing that happens on it can delay another.
Rule 2: a lost link is a bad block for every layout, at once and after every failed try, so
        that gaps, alarms and screens see one thing.
Rule 3: the only broad handler of the program stands here: a driver's bug becomes bad readings
        and a logged traceback, and the link is tried again like any other.
"""

from __future__ import annotations

import asyncio
import logging
import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from linewatch.core.errors import LinkLost
from linewatch.core.ports import Driver
from linewatch.core.readings import Layout, Quality, Readings
from linewatch.core.view import LinkPicture
from linewatch.engine.backoff import BackOff
from linewatch.engine.clock import NS

if TYPE_CHECKING:
    from collections.abc import Awaitable

    from linewatch.core.ports import Clock

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkPlan:
    """What the loop must know of a link: how to open it and what it brings."""

    id: str
    protocol: str
    address: str
    layouts: tuple[Layout, ...]
    open: Callable[[], Driver]
    """Make a fresh driver; a driver that lost its link is thrown away."""


class Link:
    """One link, kept for as long as the collector runs.

    Args:
        plan: What it is.
        clock: The time.
        deliver: Takes each block; may wait when the line is behind.
        tell: Is told when the link is lost and when it is back: its id, and a sentence.
    """

    def __init__(
        self,
        plan: LinkPlan,
        clock: Clock,
        deliver: Callable[[Readings], Awaitable[None]],
        tell: Callable[[str, str], None] | None = None,
    ) -> None:
        self._tell = tell or (lambda _, __: None)
        self._plan = plan
        self._clock = clock
        self._deliver = deliver
        self._back_off = BackOff(jitter=random.random)  # noqa: S311 - it only spreads retries
        self._driver: Driver | None = None
        self._lost: LinkPicture | None = None
        self._failures: dict[str, int] = {}
        self._requests = 0

    def picture(self) -> LinkPicture:
        """Return how the link is doing, failures of earlier connections included."""
        if self._driver is not None and self._lost is None:
            seen = self._driver.picture()
            return replace(
                seen,
                requests=seen.requests + self._requests,
                failures=_added(self._failures, dict(seen.failures)),
            )
        return self._lost or LinkPicture(
            id=self._plan.id,
            protocol=self._plan.protocol,
            address=self._plan.address,
            state="connecting",
        )

    async def run(self, stop: asyncio.Event) -> None:
        """Keep the link until `stop` is set."""
        while not stop.is_set():
            lasting = False
            try:
                await self._connection(stop)
                continue
            except LinkLost as lost:
                happened, doing, lasting = lost.happened, lost.doing, lost.lasting
                log.info("%s", lost)
            except Exception as bug:
                happened, doing = f"internal fault: {bug!r}", "running the driver"
                log.exception("%s: the driver failed; the link is tried again", self._plan.id)
            await self._be_silent(happened, doing)
            await _wait(stop, self._back_off.failed(lasting=lasting))

    async def _connection(self, stop: asyncio.Event) -> None:
        self._driver = driver = self._plan.open()
        try:
            async with driver:
                self._be_back()
                async for readings in driver.readings():
                    if np.any(readings.quality < Quality.UNCERTAIN):
                        self._back_off.good(self._clock.wall_s())
                    await self._deliver(readings)
                    # Python 3.11 can swallow a cancellation; the flag cannot be swallowed.
                    if stop.is_set():
                        return
        finally:
            self._remember(driver)

    def _be_back(self) -> None:
        if self._lost is not None:
            away_s = (self._clock.now().utc_ns - self._lost.since_utc_ns) / NS
            self._tell(self._plan.id, f"connected again after {away_s:.0f} s")
        self._lost = None

    def _remember(self, driver: Driver) -> None:
        """Keep the counts of a driver that is about to be thrown away."""
        seen = driver.picture()
        self._requests += seen.requests
        self._failures = _added(self._failures, dict(seen.failures))

    async def _be_silent(self, happened: str, doing: str) -> None:
        now = self._clock.now()
        before = self._lost
        if before is None:
            self._tell(self._plan.id, f"not connected: {happened}, while {doing}")
        seen = self._driver.picture() if self._driver is not None else None
        self._failures = _added(self._failures, {"link lost": 1})
        self._lost = LinkPicture(
            id=self._plan.id,
            protocol=self._plan.protocol,
            address=self._plan.address,
            state="not connected",
            reason=happened,
            since_utc_ns=before.since_utc_ns if before is not None else now.utc_ns,
            requests=self._requests,
            failures=self._failures,
            last_failure=f"{doing}: {happened}",
            last_bytes=seen.last_bytes if seen is not None else "",
        )
        for layout in self._plan.layouts:
            await self._deliver(Readings.silence(layout, now, Quality.NOT_CONNECTED))


def _added(first: dict[str, int], second: dict[str, int]) -> dict[str, int]:
    return {key: first.get(key, 0) + second.get(key, 0) for key in first | second}


async def _wait(stop: asyncio.Event, seconds: float) -> None:
    """Wait, but no longer than until `stop` is set."""
    try:
        async with asyncio.timeout(seconds):
            await stop.wait()
    except TimeoutError:
        return
