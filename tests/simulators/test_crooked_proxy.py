"""A crooked proxy, heard from the client's side, byte by byte."""

import asyncio
import struct
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

import pytest

from linewatch_sim import crooked
from linewatch_sim.crooked import CrookedProxy, Manner
from linewatch_sim.crooked.frames import crc16

pytestmark = pytest.mark.wire

ASK = bytes.fromhex("000700000006050300100002")
"""Modbus TCP: transaction 7, unit 5, two holding registers from 16."""
ANSWER = bytes.fromhex("00070000000705030400100011")
"""What the instrument below answers: registers that hold their own address."""


def answered(request: bytes, *, is_rtu: bool) -> bytes:
    body = request[:-2] if is_rtu else request[6:]
    unit, function, first, count = struct.unpack(">BBHH", body)
    payload = struct.pack(f">{count}H", *range(first, first + count))
    reply = bytes([unit, function, len(payload)]) + payload
    if is_rtu:
        return reply + crc16(reply)
    return request[:4] + struct.pack(">H", len(reply)) + reply


@asynccontextmanager
async def instrument(*, is_rtu: bool = False) -> AsyncIterator[str]:
    """Serve registers that hold their own address; yield where."""

    tasks = set()

    async def attend(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        tasks.add(asyncio.current_task())
        try:
            while True:
                request = await reader.readexactly(8 if is_rtu else 12)
                writer.write(answered(request, is_rtu=is_rtu))
        except (asyncio.IncompleteReadError, ConnectionError):
            await ended(writer)

    server = await asyncio.start_server(attend, "127.0.0.1", 0)
    host, port = server.sockets[0].getsockname()
    yield f"{host}:{port}"
    server.close()
    await asyncio.gather(*tasks)


async def ended(writer: asyncio.StreamWriter) -> None:
    writer.close()
    with suppress(ConnectionError):
        await writer.wait_closed()


class Client:
    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter):
        self.reader, self.writer = reader, writer

    async def heard(self, request: bytes, count: int) -> bytes:
        self.writer.write(request)
        return await asyncio.wait_for(self.reader.readexactly(count), 5.0)


@asynccontextmanager
async def client(address: str) -> AsyncIterator[Client]:
    host, port = address.split(":")
    reader, writer = await asyncio.open_connection(host, int(port))
    yield Client(reader, writer)
    await ended(writer)


@asynccontextmanager
async def watched(*, is_rtu: bool = False) -> AsyncIterator[tuple[CrookedProxy, Client]]:
    framing = crooked.RTU if is_rtu else crooked.MBAP
    async with (
        instrument(is_rtu=is_rtu) as address,
        CrookedProxy(address, framing=framing) as proxy,
        client(proxy.address) as asking,
    ):
        yield proxy, asking


@pytest.mark.published
def test_the_checksum_is_that_of_the_guides_example():
    # MODBUS over Serial Line Specification and Implementation Guide V1.02, 6.2.2: 02 07.
    assert crc16(bytes.fromhex("0207")) == bytes.fromhex("4112")


async def test_without_a_deed_the_answer_passes_as_it_is():
    async with watched() as (proxy, asking):
        assert await asking.heard(ASK, len(ANSWER)) == ANSWER
        assert proxy.requests == [ASK]


@pytest.mark.parametrize(
    ("deed", "expected"),
    [
        (crooked.Noise(b"\xff"), "ff" + ANSWER.hex()),
        (crooked.Echoed(), ASK.hex() + ANSWER.hex()),
        (crooked.AsTransaction(0), "0000" + ANSWER.hex()[4:]),
        (crooked.SwappedTransaction(), "0700" + ANSWER.hex()[4:]),
        (crooked.AsUnit(255), "000700000007ff030400100011"),
        (crooked.AsFunction(4), "00070000000705040400100011"),
        (crooked.Shortened(1), "0007000000050503020010"),
        (crooked.Refused(11), "00070000000305830b"),
        (crooked.Replaced(b"HTTP/1.0 400 Bad Request"), b"HTTP/1.0 400 Bad Request".hex()),
        (crooked.Garbled(10), "00070000000705030400110011"),
        (crooked.Late(0.01), ANSWER.hex()),
        (crooked.Split(3), ANSWER.hex()),
    ],
    ids=lambda value: type(value).__name__ if not isinstance(value, str) else "",
)
async def test_a_deed_changes_one_answer_and_no_other(deed: crooked.Deed, expected: str):
    async with watched() as (proxy, asking):
        proxy.next(deed)
        wanted = bytes.fromhex(expected)

        assert await asking.heard(ASK, len(wanted)) == wanted
        assert await asking.heard(ASK, len(ANSWER)) == ANSWER


async def test_an_rtu_answer_in_another_units_name_has_a_checksum_that_fits():
    async with watched(is_rtu=True) as (proxy, asking):
        proxy.next(crooked.AsUnit(9), crooked.Garbled(3))
        body = bytes.fromhex("050300100001")
        request = body + crc16(body)

        as_nine = await asking.heard(request, 7)
        garbled = await asking.heard(request, 7)

        assert as_nine == bytes.fromhex("0903020010") + crc16(bytes.fromhex("0903020010"))
        assert crc16(garbled[:-2]) != garbled[-2:]


async def test_a_held_answer_goes_out_in_front_of_the_next():
    async with watched() as (proxy, asking):
        proxy.next(crooked.Held())
        second = b"\x00\x08" + ASK[2:]

        both = await asking.heard(ASK + second, 2 * len(ANSWER))

        assert both == ANSWER + b"\x00\x08" + ANSWER[2:]


async def test_the_last_answer_comes_once_more_with_a_glued_one():
    async with watched() as (proxy, asking):
        proxy.next(crooked.Faithful(), crooked.Glued())
        await asking.heard(ASK, len(ANSWER))

        both = await asking.heard(b"\x00\x08" + ASK[2:], 2 * len(ANSWER))

        assert both == ANSWER + b"\x00\x08" + ANSWER[2:]


async def test_a_swallowed_answer_never_comes_but_the_next_does():
    async with watched() as (proxy, asking):
        proxy.next(crooked.Swallowed())
        second = b"\x00\x08" + ASK[2:]

        heard = await asking.heard(ASK + second, len(ANSWER))

        assert heard[:2] == b"\x00\x08"
        assert len(proxy.requests) == 2


async def test_after_closed_the_answer_is_there_and_the_connection_gone():
    async with watched() as (proxy, asking):
        proxy.next(crooked.Closed())

        assert await asking.heard(ASK, len(ANSWER)) == ANSWER
        assert await asking.reader.read() == b""


async def test_a_reset_tears_the_connection_down():
    async with watched() as (proxy, asking):
        proxy.next(crooked.Reset())
        with pytest.raises(ConnectionResetError):
            await asking.heard(ASK, 1)


async def test_reset_on_accept_lets_connecting_succeed_and_nothing_else():
    async with instrument() as address, CrookedProxy(address) as proxy:
        proxy.manner = Manner.RESET_ON_ACCEPT
        async with client(proxy.address) as asking:
            with pytest.raises((ConnectionResetError, asyncio.IncompleteReadError)):
                await asking.heard(ASK, 1)
        assert proxy.connections == 1
        assert proxy.requests == []


async def test_a_mute_one_listens_and_never_answers():
    async with instrument() as address, CrookedProxy(address) as proxy:
        proxy.manner = Manner.MUTE
        async with client(proxy.address) as asking:
            asking.writer.write(ASK)
            asking.writer.write_eof()
            assert await asking.reader.read() == b""
        assert proxy.requests == [ASK]


async def test_one_client_only_refuses_the_second_and_serves_the_first_on():
    async with watched() as (proxy, first):
        proxy.manner = Manner.ONE_CLIENT_REFUSE
        await first.heard(ASK, len(ANSWER))
        async with client(proxy.address) as second:
            with pytest.raises((ConnectionResetError, asyncio.IncompleteReadError)):
                await second.heard(ASK, 1)
        assert await first.heard(ASK, len(ANSWER)) == ANSWER


async def test_one_client_only_lets_the_second_push_the_first_out():
    async with watched() as (proxy, first):
        proxy.manner = Manner.ONE_CLIENT_KICK
        await first.heard(ASK, len(ANSWER))
        async with client(proxy.address) as second:
            assert await second.heard(ASK, len(ANSWER)) == ANSWER
            with pytest.raises((ConnectionResetError, asyncio.IncompleteReadError)):
                await first.heard(ASK, 1)


async def test_what_was_frozen_arrives_after_the_thaw():
    async with watched() as (proxy, asking):
        proxy.freeze()
        asking.writer.write(ASK)
        await asking.writer.drain()
        assert proxy.requests == []
        proxy.thaw()

        assert await asking.heard(b"", len(ANSWER)) == ANSWER


async def test_another_protocol_passes_message_by_message():
    async with (
        instrument() as address,
        CrookedProxy(address, framing=crooked.PLAIN) as proxy,
        client(proxy.address) as asking,
    ):
        proxy.next(crooked.Late(0.0))
        assert await asking.heard(ASK, len(ANSWER)) == ANSWER
