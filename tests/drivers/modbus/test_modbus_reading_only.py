"""Every byte that leaves, in a whole run of every trouble, asks and nothing else."""

import random
import struct

import pytest

from linewatch.core.errors import LinkLost

READING = {1, 2, 3, 4}
"""Functions that read: MODBUS Application Protocol Specification V1.1b3, 6.1 to 6.4."""


def requests_in(stream: bytes, *, rtu: bool, crc) -> list[tuple[int, int]]:
    """Take a whole stream apart, strictly: anything else than requests fails."""
    size = 8 if rtu else 12
    assert len(stream) % size == 0
    found = []
    for start in range(0, len(stream), size):
        frame = stream[start : start + size]
        if rtu:
            assert crc(frame[:6]) == frame[6:]
            unit, function, _, count = struct.unpack(">BBHH", frame[:6])
        else:
            _, protocol, length, unit, function, _, count = struct.unpack(">HHHBBHH", frame)
            assert (protocol, length) == (0, 6)
        assert function in READING
        assert 1 <= count <= (2000 if function < 3 else 125)
        found.append((unit, function))
    return found


class Troubled:
    """A device that records all that arrives, and answers it well, badly or not at all."""

    def __init__(self, bench, *, rtu: bool):
        self._crc = bench.crc
        self._rtu = rtu
        self._random = random.Random(4)  # noqa: S311 - to be repeated
        self.streams: list[bytearray] = []

    async def attend(self, connection) -> None:
        stream = bytearray()
        self.streams.append(stream)
        size = 8 if self._rtu else 12
        answered = 0
        # Whatever arrives is recorded, whether or not it is a request.
        while data := await connection.reader.read(4096):
            stream.extend(data)
            while len(stream) - answered >= size:
                await connection.send(self._reply(bytes(stream[answered : answered + size])))
                answered += size

    def _reply(self, raw: bytes) -> bytes:
        unit, function, _, count = struct.unpack(">BBHH", raw[:6] if self._rtu else raw[6:])
        values = bytes(2 * count if function > 2 else (count + 7) // 8)
        good = bytes([function, len(values)]) + values
        pdu = self._random.choice(
            [good] * 8
            + [bytes([function | 0x80, code]) for code in (1, 2, 3, 4, 6, 11)]
            + [b"", bytes([function ^ 7]) + values, good + b"\0"]
        )
        if not pdu:
            return b""
        body = bytes([unit]) + pdu
        if self._rtu:
            return body + self._crc(body)
        return raw[:2] + struct.pack(">HH", 0, len(body)) + body


def everything(bench, unit: int):
    """A device with tags in every table."""
    tags = [
        bench.tag("a.running", 0, table="coil"),
        bench.tag("b.running", 9, table="discrete"),
        *[bench.tag(f"r{n}.count", 3 * n) for n in range(40)],
        bench.tag("c.count", 400, table="input", type="float32"),
        bench.tag("d.count", 500, type="text", length=8),
    ]
    return bench.device(f"d{unit}", tags, unit=unit, period_s=0.02, largest_block=50)


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu-over-tcp"])
async def test_only_reading_functions_leave(bench, rtu):
    device = Troubled(bench, rtu=rtu)
    units = [everything(bench, unit) for unit in (1, 2, 3)]
    protocol = "modbus-rtu-over-tcp" if rtu else "modbus-tcp"
    async with bench.serving(device.attend, rtu=rtu) as peer:
        link = bench.link(peer.address, *units, protocol=protocol, timeout_s=0.02)
        for _ in range(5):
            try:
                async with bench.watching(link) as watched:
                    await watched.poll(60)
            except LinkLost:
                continue

    asked = [
        each
        for stream in device.streams
        for each in requests_in(bytes(stream), rtu=rtu, crc=bench.crc)
    ]
    assert len(asked) > 100
    assert {function for _, function in asked} == READING
    assert {unit for unit, _ in asked} == {1, 2, 3}
