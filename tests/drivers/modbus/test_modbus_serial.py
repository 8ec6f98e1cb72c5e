"""A serial line, played by a pseudo-terminal; its parity is N, all that such a pair can do."""

import asyncio
import os
import pty
import struct
import tty

import pytest

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality

pytestmark = pytest.mark.wire


class Line:
    """The far end of a serial line, with a device on it."""

    def __init__(self, bench, answer=None):
        self.bench = bench
        self.heard: list[bytes] = []
        self.master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        self.name = os.ttyname(self.slave)
        self._answer = answer or self.counting
        self._loop = asyncio.get_running_loop()
        self._loop.add_reader(self.master, self._read)

    def counting(self, request: bytes) -> bytes:
        unit, function, address, count = struct.unpack(">BBHH", request[:6])
        values = struct.pack(f">{count}H", *range(address, address + count))
        return self.bench.sealed(bytes([unit, function, len(values)]) + values)

    def _read(self) -> None:
        try:
            request = os.read(self.master, 256)
        except OSError:
            return
        self.heard.append(request)
        reply = self._answer(request)
        if reply:
            os.write(self.master, reply)

    def unplug(self) -> None:
        """Pull the adapter: both ends are gone."""
        self._loop.remove_reader(self.master)
        os.close(self.master)
        os.close(self.slave)


def serial(bench, address, *devices, **section):
    return bench.link(
        str(address), *devices, protocol="modbus-rtu", parity="N", timeout_s=0.1, **section
    )


async def test_a_unit_on_a_serial_line_is_read(bench):
    line = Line(bench)
    units = [bench.device(f"d{n}", [bench.tag(f"t{n}.count", n)], unit=n) for n in (1, 2)]
    async with bench.watching(serial(bench, line.name, *units)) as watched:
        await watched.poll(6)
        picture = watched.driver.picture()
    line.unplug()
    assert [block.value[0] for block in watched.blocks] == [1.0, 2.0] * 3
    assert picture.state == "connected"
    assert picture.failures == {}


async def test_glitches_an_echo_and_pieces_are_survived(bench):
    def untidy(request):
        return b"\0" + request + b"\xff" + line.counting(request)

    line = Line(bench, untidy)
    unit = bench.device("d", [bench.tag("a.count", 0x10)])
    async with bench.watching(serial(bench, line.name, unit, echo=True)) as watched:
        await watched.poll(3)
    line.unplug()
    assert [block.value[0] for block in watched.blocks] == [16.0] * 3


async def test_a_silent_unit_on_a_serial_line_is_bad_and_the_other_is_well(bench):
    line = Line(bench, lambda request: b"" if request[0] == 2 else line.counting(request))
    units = [bench.device(f"d{n}", [bench.tag(f"t{n}.count", n)], unit=n) for n in (1, 2)]
    async with bench.watching(serial(bench, line.name, *units)) as watched:
        await watched.poll(12)
    line.unplug()
    by_device = {"d1": set(), "d2": set()}
    for block in watched.blocks:
        by_device[block.layout.device].add(Quality(block.quality[0]))
    assert by_device == {"d1": {Quality.GOOD}, "d2": {Quality.NO_ANSWER}}


async def test_an_adapter_that_vanishes_is_a_lost_link_and_found_again_by_its_stable_name(
    bench, tmp_path
):
    stable = tmp_path / "by-id"
    first = Line(bench)
    stable.symlink_to(first.name)
    unit = bench.device("d", [bench.tag("a.count", 5)])
    settings = serial(bench, stable, unit)
    async with bench.watching(settings) as watched:
        await watched.poll(2)
        first.unplug()
        with pytest.raises(LinkLost):
            await watched.poll(40)

    stable.unlink()
    with pytest.raises(LinkLost, match="No such file"):
        async with bench.watching(settings):
            raise AssertionError("it opened")

    second = Line(bench)
    stable.symlink_to(second.name)
    async with bench.watching(settings) as watched:
        assert (await watched.poll()).value[0] == 5.0
    second.unplug()


async def test_a_port_in_use_is_told(bench):
    line = Line(bench)
    unit = bench.device("d", [bench.tag("a.count", 5)])
    async with bench.watching(serial(bench, line.name, unit)) as watched:
        await watched.poll()
        with pytest.raises(LinkLost, match="lock"):
            async with bench.watching(serial(bench, line.name, unit)):
                raise AssertionError("it opened")
    line.unplug()


async def test_a_port_that_refuses_its_settings_is_a_lost_link(bench, monkeypatch):
    import termios

    line = Line(bench)
    unit = bench.device("d", [bench.tag("a.count", 5)])

    # Pseudo-terminals and some adapters refuse a parity only at the second opening.
    def refuses(*_):
        raise termios.error(22, "Invalid argument")

    monkeypatch.setattr("serial.serialposix.Serial.reset_input_buffer", refuses)
    with pytest.raises(LinkLost, match="the port refuses its settings"):
        async with bench.watching(serial(bench, line.name, unit)):
            raise AssertionError("it opened")
    monkeypatch.undo()
    async with bench.watching(serial(bench, line.name, unit)) as watched:
        assert (await watched.poll()).value[0] == 5.0
    line.unplug()


async def test_a_serial_link_closes_at_once_and_leaves_the_port_free(bench):
    line = Line(bench, lambda _: b"")
    unit = bench.device("d", [bench.tag("a.count", 5)])
    for _ in range(3):
        async with asyncio.timeout(2.0):
            async with bench.watching(serial(bench, line.name, unit)) as watched:
                polling = asyncio.create_task(watched.poll())
                await asyncio.sleep(0)
                polling.cancel()
                await asyncio.gather(polling, return_exceptions=True)
    line.unplug()
