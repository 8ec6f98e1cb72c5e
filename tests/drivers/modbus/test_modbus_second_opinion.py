"""Another implementation of the protocol: its frames are ours, and its server is read."""

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus import FramerType
from pymodbus.client import AsyncModbusTcpClient
from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.framer import FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.bit_message import ReadCoilsRequest, ReadDiscreteInputsRequest
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadInputRegistersRequest,
)
from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from linewatch.core.readings import Quality
from linewatch.drivers.modbus.mbap import MbapGuard
from linewatch.drivers.modbus.question import Question
from linewatch.drivers.modbus.rtu import RtuGuard, crc

THEIRS = {
    1: ReadCoilsRequest,
    2: ReadDiscreteInputsRequest,
    3: ReadHoldingRegistersRequest,
    4: ReadInputRegistersRequest,
}


@given(st.integers(1, 4), st.integers(0, 65000), st.integers(1, 125), st.integers(1, 247))
def test_our_requests_are_theirs(function, address, count, unit):
    question = Question(unit=unit, function=function, address=address, count=count)
    theirs = THEIRS[function](address=address, count=count, dev_id=unit, transaction_id=1)

    tcp = FramerSocket(DecodePDU(is_server=False)).buildFrame(theirs)
    assert MbapGuard().ask(question, 0.0) == tcp
    rtu = FramerRTU(DecodePDU(is_server=False)).buildFrame(theirs)
    assert RtuGuard().ask(question, 0.0) == rtu


@given(st.binary(max_size=256))
def test_our_checksum_is_theirs(body):
    assert crc(body) == FramerRTU.compute_CRC(body).to_bytes(2, "big")


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu-over-tcp"])
async def test_their_server_is_read_as_their_client_reads_it(bench, rtu):
    numbers = [1.5, -40.25, 12345.5, 0.0]
    device = SimDevice(
        id=7,
        simdata=[
            SimData(0, values=numbers, datatype=DataType.FLOAT32),
            SimData(20, values=[0xFFF6, 4660], datatype=DataType.REGISTERS),
        ],
    )
    framer = FramerType.RTU if rtu else FramerType.SOCKET
    server = ModbusTcpServer(device, address=("127.0.0.1", 0), framer=framer)
    await server.serve_forever(background=True)
    port = server.transport.sockets[0].getsockname()[1]
    client = AsyncModbusTcpClient("127.0.0.1", port=port, framer=framer, retries=0)
    tags = [
        *[bench.tag(f"f{n}.count", 2 * n, type="float32") for n in range(4)],
        bench.tag("s.count", 20, type="int16"),
        bench.tag("b.count", 21, type="bcd16"),
    ]
    protocol = "modbus-rtu-over-tcp" if rtu else "modbus-tcp"
    try:
        await client.connect()
        reply = await client.read_holding_registers(0, count=8, device_id=7)
        theirs = ModbusClientMixin.convert_from_registers(
            reply.registers, ModbusClientMixin.DATATYPE.FLOAT32
        )
        client.close()
        unit = bench.device("d", tags, unit=7, largest_hole=0)
        link = bench.link(f"127.0.0.1:{port}", unit, protocol=protocol)
        async with bench.watching(link) as watched:
            block = await watched.poll()
            holes = await watched.poll()
    finally:
        await server.shutdown()

    assert block.value[:4].tolist() == theirs == numbers
    assert block.value[4:].tolist() == [-10.0, 1234.0]
    assert set(holes.quality) == {Quality.GOOD}
    assert struct.pack(">h", -10) == b"\xff\xf6"
