"""A link that comes, goes, and never hides its silence."""

import asyncio
from collections.abc import AsyncIterator

import numpy as np
import pytest

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Layout, Quality, Readings
from linewatch.core.view import LinkPicture
from linewatch.engine.clock import NS, SystemClock
from linewatch.engine.link import Link, LinkPlan

LAYOUT = Layout(link="r", device="r1", tags=("r1.current",), period_ns=NS)


class ScriptedDriver:
    """A driver that follows a script: values, then the exception that ends it."""

    layouts = (LAYOUT,)

    def __init__(self, clock: SystemClock, script: list[float | Exception]) -> None:
        self._clock = clock
        self._script = script

    async def __aenter__(self) -> "ScriptedDriver":
        if self._script and isinstance(self._script[0], Exception):
            raise self._script[0]
        return self

    async def __aexit__(self, *_: object) -> None:
        return None

    async def readings(self) -> AsyncIterator[Readings]:
        for step in self._script:
            if isinstance(step, Exception):
                raise step
            now = self._clock.now()
            yield Readings(
                layout=LAYOUT,
                utc_ns=now.utc_ns,
                mono_ns=now.mono_ns,
                value=np.array([step]),
                quality=np.array([Quality.GOOD], dtype=np.uint8),
            )
        await asyncio.Event().wait()

    def picture(self) -> LinkPicture:
        return LinkPicture(
            id="r",
            protocol="modbus-tcp",
            address="127.0.0.1:1",
            state="connected",
            requests=len(self._script),
            failures={"no answer": 1},
        )


async def run_scripts(scripts: list[list[float | Exception]], blocks: int, told=None):
    """Run a link over one driver a script until it has delivered `blocks` blocks."""
    clock = SystemClock()
    delivered: list[Readings] = []
    enough = asyncio.Event()
    stop = asyncio.Event()

    async def deliver(readings: Readings) -> None:
        delivered.append(readings)
        if len(delivered) >= blocks:
            enough.set()

    waiting = iter(scripts)
    plan = LinkPlan(
        id="r",
        protocol="modbus-tcp",
        address="127.0.0.1:1",
        layouts=(LAYOUT,),
        open=lambda: ScriptedDriver(clock, next(waiting)),
    )
    told: list[tuple[str, str]] = [] if told is None else told
    link = Link(plan, clock, deliver, lambda name, text: told.append((name, text)))
    task = asyncio.create_task(link.run(stop))
    await enough.wait()
    picture = link.picture()
    stop.set()
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    return delivered, picture


async def test_a_lost_link_is_a_bad_block_at_once():
    lost = LinkLost("r", "reading register 100", "no answer within 1 s")
    delivered, picture = await run_scripts([[41.0, lost]], 2)

    assert delivered[0].value[0] == 41.0
    assert np.isnan(delivered[1].value[0])
    assert delivered[1].quality[0] == Quality.NOT_CONNECTED
    assert picture.state == "not connected"
    assert picture.reason == "no answer within 1 s"
    assert "reading register 100" in picture.last_failure


async def test_a_link_that_comes_back_is_connected_again_and_keeps_its_counts():
    lost = LinkLost("r", "reading register 100", "reset")
    delivered, picture = await run_scripts([[1.0, lost], [2.0]], 3)

    assert [block.quality[0] for block in delivered] == [
        Quality.GOOD,
        Quality.NOT_CONNECTED,
        Quality.GOOD,
    ]
    assert picture.state == "connected"
    assert picture.requests == 3
    assert picture.failures == {"no answer": 2, "link lost": 1}


async def test_a_lost_link_is_news_once_and_once_more_when_it_is_back():
    lost = LinkLost("r", "reading register 100", "reset")
    told: list[tuple[str, str]] = []
    await run_scripts([[1.0, lost], [lost], [2.0]], 4, told)

    assert [name for name, _ in told] == ["r", "r"]
    assert told[0][1] == "not connected: reset, while reading register 100"
    assert told[1][1].startswith("connected again after ")


async def test_a_link_that_never_connects_is_silent_and_says_why():
    refused = LinkLost("r", "connecting", "nobody listens on 127.0.0.1:1")
    delivered, picture = await run_scripts([[refused]], 1)

    assert delivered[0].quality[0] == Quality.NOT_CONNECTED
    assert picture.reason == "nobody listens on 127.0.0.1:1"


async def test_a_bug_in_a_driver_becomes_silence_and_a_logged_traceback(
    caplog: pytest.LogCaptureFixture,
):
    delivered, picture = await run_scripts([[1.0, ZeroDivisionError("oops")]], 2)

    assert delivered[1].quality[0] == Quality.NOT_CONNECTED
    assert "internal fault" in picture.reason
    assert any(record.exc_info for record in caplog.records)
