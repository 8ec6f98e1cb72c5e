"""A lost link through driver, socket and back-off, in a loop whose minutes are seconds."""

import asyncio
import itertools
import os
import pty
import tty

import pytest

from linewatch.core.readings import Quality, Readings
from linewatch.drivers import open_driver
from linewatch.engine.clock import SystemClock
from linewatch.engine.link import Link, LinkPlan
from tests.drivers.modbus.hourglass import QuickLoop

pytestmark = pytest.mark.wire


class Kept:
    """A link that is kept, with what it delivers."""

    def __init__(self, settings) -> None:
        clock = SystemClock()
        self.blocks: list[Readings] = []
        self.came = asyncio.Event()
        self.stop = asyncio.Event()
        plan = LinkPlan(
            id="bench",
            protocol=settings.link.protocol,
            address=settings.link.address,
            layouts=tuple(each for device in settings.devices for each in device.layouts),
            open=lambda: open_driver(settings, clock),
        )
        self.link = Link(plan, clock, self._deliver)

    async def _deliver(self, readings: Readings) -> None:
        self.blocks.append(readings)
        self.came.set()

    async def until(self, met) -> Readings:
        """Wait for a block that meets a condition; the test's own time limit ends it."""
        while True:
            for block in self.blocks:
                if met(block):
                    return block
            self.blocks.clear()
            self.came.clear()
            await self.came.wait()

    async def __aenter__(self) -> "Kept":
        self._task = asyncio.create_task(self.link.run(self.stop))
        return self

    async def __aexit__(self, *exception: object) -> None:
        self.stop.set()
        await self._task


def is_good(block: Readings) -> bool:
    return block.quality[0] == Quality.GOOD


def is_silent(block: Readings) -> bool:
    return block.quality[0] == Quality.NOT_CONNECTED


def test_a_peer_that_accepts_and_resets_is_tried_ever_less_and_found_when_well(bench):
    """Connections to the socket are counted, whatever back-off and driver think of it."""
    reached_s: list[float] = []

    async def story() -> None:
        loop = asyncio.get_running_loop()
        is_well = asyncio.Event()

        async def resets(connection):
            reached_s.append(loop.time())
            if not is_well.is_set():
                connection.reset()
                return
            while True:
                asked = await connection.asked()
                await connection.send(asked.registers(asked.address))

        async with bench.serving(resets) as peer:
            unit = bench.device("d", [bench.tag("a.count", 7)], period_s=0.5)
            settings = bench.link(peer.address, unit, timeout_s=30.0)
            async with Kept(settings) as kept:
                while len(reached_s) < 7:
                    await kept.until(is_silent)
                    kept.blocks.clear()
                is_well.set()
                block = await kept.until(is_good)
        assert block.value[0] == 7.0

    run(story)

    begun_s = reached_s[0]
    waits_s = [later - sooner for sooner, later in itertools.pairwise(reached_s)]
    assert sum(at_s - begun_s < 60.0 for at_s in reached_s) <= 6
    # Doubling with up to a quarter of jitter: each wait is longer than the one before.
    assert waits_s[:6] == sorted(waits_s[:6])
    # Found well at the next try, a minute and its jitter after the last at the latest.
    assert len(reached_s) == 8
    assert waits_s[-1] < 80.0


def test_while_a_serial_adapter_is_gone_the_program_sleeps(bench, tmp_path):
    """Two minutes without the adapter: a try now and then, and nothing between."""
    stable = tmp_path / "by-id"
    woken: list[int] = []
    spans_s: list[float] = []

    async def story() -> None:
        loop = asyncio.get_running_loop()
        unit = bench.device("d", [bench.tag("a.count", 5)], period_s=0.5)
        settings = bench.link(
            str(stable), unit, protocol="modbus-rtu", parity="N", timeout_s=30.0
        )
        async with Kept(settings) as kept:
            await kept.until(is_silent)
            before, since_s = loop.wakes, loop.time()
            tries = 0
            while loop.time() - since_s < 120.0:
                kept.blocks.clear()
                await kept.until(is_silent)
                tries += 1
            woken.append(loop.wakes - before)
            spans_s.append(loop.time() - since_s)
            assert tries <= 8
            assert "No such file" in kept.link.picture().reason

            adapter = Adapter(bench)
            stable.symlink_to(adapter.name)
            block = await kept.until(is_good)
            assert block.value[0] == 5.0
        adapter.unplug()

    run(story)
    assert woken[0] < spans_s[0]


class Adapter:
    """An adapter with a device that answers with its registers' addresses."""

    def __init__(self, bench) -> None:
        self._sealed = bench.sealed
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        self.name = os.ttyname(self._slave)
        self._loop = asyncio.get_running_loop()
        self._loop.add_reader(self._master, self._answer)

    def _answer(self) -> None:
        request = os.read(self._master, 256)
        os.write(self._master, self._sealed(bytes([request[0], request[1], 2, *request[2:4]])))

    def unplug(self) -> None:
        """Pull it."""
        self._loop.remove_reader(self._master)
        os.close(self._master)
        os.close(self._slave)


def run(story) -> None:
    with asyncio.Runner(loop_factory=QuickLoop) as runner:
        runner.run(story())
