"""A link's life: peers that close, reset, freeze or refuse; and an end that always ends."""

import asyncio
import socket
import struct
import threading
import time

import numpy as np
import pytest

from linewatch.core.errors import LinkLost
from linewatch.core.readings import Quality
from linewatch.drivers.modbus.question import Answer, Question
from linewatch.drivers.modbus.wire import host_and_port
from linewatch.engine.clock import SystemClock


def qualities(watched) -> list[Quality]:
    return [Quality(block.quality[0]) for block in watched.blocks]


def single(bench, **section):
    return bench.device("d", [bench.tag("a.count", 0)], **section)


async def counting(connection):
    while True:
        asked = await connection.asked()
        values = range(asked.address, asked.address + asked.count)
        await connection.send(asked.registers(*values))


async def test_a_peer_that_resets_at_once_is_a_lost_link_and_not_tried_again(bench):
    async def refuses(connection):
        connection.reset()

    async with (
        bench.serving(refuses) as peer,
        bench.watching(bench.link(peer.address, single(bench))) as watched,
    ):
        with pytest.raises(LinkLost, match="another master may be connected"):
            await watched.poll()
    # Trying again is the engine's affair, with a back-off that only values bring down.
    assert len(peer.connections) == 1


async def test_a_peer_that_kicks_us_for_another_master_is_not_kicked_back(bench):
    async def serves_one(connection):
        for earlier in connection.peer.connections[:-1]:
            earlier.reset()
        await counting(connection)

    async with bench.serving(serves_one) as peer:
        async with bench.watching(bench.link(peer.address, single(bench))) as watched:
            await watched.poll(3)
            host, port = peer.address.split(":")
            _, writer = await asyncio.open_connection(host, int(port))
            with pytest.raises(LinkLost, match="another master may be connected"):
                await watched.poll(5)
            writer.close()
            await writer.wait_closed()
        # Ours, the other master's, and none after that.
        assert len(peer.connections) == 2


async def test_a_device_that_closes_after_every_answer_is_read_all_the_same(bench):
    async def once(connection):
        await counting_once(connection)

    for period_s in (0.02, 0.1):
        async with (
            bench.serving(once) as peer,
            bench.watching(
                bench.link(peer.address, single(bench, period_s=period_s))
            ) as watched,
        ):
            await watched.poll(10)
        assert qualities(watched) == [Quality.GOOD] * 10
        assert len(peer.connections) == 10


async def counting_once(connection):
    asked = await connection.asked()
    await connection.send(asked.registers(7))


async def test_a_gateway_that_was_restarted_is_reached_on_a_fresh_socket(bench):
    restarts = []

    async def restarted_once(connection):
        for _ in range(3):
            await counting_once(connection)
        if not restarts:
            restarts.append(connection)
            # It hears the next request, and is gone before it answers.
            await connection.asked()
            return
        await counting(connection)

    async with (
        bench.serving(restarted_once) as peer,
        bench.watching(bench.link(peer.address, single(bench))) as watched,
    ):
        await watched.poll(8)
        picture = watched.driver.picture()
    assert qualities(watched) == [Quality.GOOD] * 8
    assert picture.failures == {"closed by the peer": 1}
    assert len(peer.connections) == 2


async def test_a_peer_that_keeps_closing_is_lost_in_the_end(bench):
    async def closes_soon(connection):
        for _ in range(3):
            await counting_once(connection)
        await connection.asked()

    async with (
        bench.serving(closes_soon) as peer,
        bench.watching(bench.link(peer.address, single(bench))) as watched,
    ):
        with pytest.raises(LinkLost, match="another master may be connected"):
            await watched.poll(40)
    assert len(peer.connections) == 2


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu-over-tcp"])
async def test_a_device_without_power_is_lost_after_two_silent_questions(bench, rtu):
    async def first_is_dead(connection):
        if connection.number == 0:
            while True:
                await connection.asked()
        await counting(connection)

    protocol = "modbus-rtu-over-tcp" if rtu else "modbus-tcp"
    async with bench.serving(first_is_dead, rtu=rtu) as peer:
        link = bench.link(peer.address, single(bench), protocol=protocol, timeout_s=0.1)
        async with bench.watching(link) as watched:
            with pytest.raises(LinkLost, match="no answer at all"):
                await watched.poll(40)
        assert len(peer.asked) == 2
        assert len(peer.connections) == 1
        assert set(qualities(watched)) == {Quality.NO_ANSWER}

        async with bench.watching(link) as again:
            assert (await again.poll()).quality[0] == Quality.GOOD


async def test_without_ids_a_question_that_could_be_confused_is_asked_on_a_fresh_connection(
    bench,
):
    async def first_is_dead(connection):
        if connection.number == 0:
            while True:
                await connection.asked()
        while True:
            asked = await connection.asked()
            await connection.send(asked.registers(7, transaction=0))

    async with (
        bench.serving(first_is_dead) as peer,
        bench.watching(
            bench.link(peer.address, single(bench, zero_transaction=True), timeout_s=0.1)
        ) as watched,
    ):
        while not watched.blocks or watched.blocks[-1].quality[0] != Quality.GOOD:
            await watched.poll()
    assert len(peer.connections) == 2
    assert len(peer.asked) == 2


async def test_what_an_earlier_master_asked_is_not_taken_for_our_answer(bench):
    # The gateway hands the late answer of an earlier connection to this one.
    async def hands_on(connection):
        await connection.send(bench.sealed(bytes.fromhex("01 03 02 11 11")))
        await counting(connection)

    async with (
        bench.serving(hands_on, rtu=True) as peer,
        bench.watching(
            bench.link(
                peer.address, single(bench), protocol="modbus-rtu-over-tcp", timeout_s=0.1
            )
        ) as watched,
    ):
        await watched.poll()
        picture = watched.driver.picture()
    assert watched.blocks[0].value[0] == 0.0
    assert picture.failures == {"unasked answer": 1}


async def test_a_link_that_falls_silent_says_since_when(bench):
    async def freezes(connection):
        for _ in range(3):
            await counting_once(connection)
        while True:
            await connection.asked()

    async with (
        bench.serving(freezes) as peer,
        bench.watching(bench.link(peer.address, single(bench), timeout_s=0.1)) as watched,
    ):
        with pytest.raises(LinkLost, match=r"no answer since \d\d:\d\d:\d\d"):
            await watched.poll(40)


async def test_a_gateway_that_freezes_is_lost_without_waiting_a_full_limit_for_each_unit(bench):
    async def freezes(connection):
        for _ in range(32):
            await counting_once(connection)
        while True:
            await connection.asked()

    units = [
        bench.device(f"d{n}", [bench.tag(f"t{n}.count", 9)], unit=n, period_s=0.3)
        for n in range(1, 17)
    ]
    clock = SystemClock()
    async with (
        bench.serving(freezes, rtu=True) as peer,
        bench.watching(
            bench.link(peer.address, *units, protocol="modbus-rtu-over-tcp", timeout_s=1.0),
            clock,
        ) as watched,
    ):
        with pytest.raises(LinkLost, match="no answer since"):
            await watched.poll(200)
    silent = [block for block in watched.blocks if block.quality[0] == Quality.NO_ANSWER]
    # One full limit for the first unit, a tenth of it for each of the others.
    assert clock.now().mono_ns - silent[0].mono_ns < 4 * 1_000_000_000
    assert len(peer.asked) == 32 + 16


async def test_nobody_to_connect_to_is_raised_where_it_is_awaited(bench):
    async with bench.serving(counting) as peer:
        async with bench.watching(bench.link(peer.address, single(bench))) as watched:
            await watched.poll()
        question = Question(unit=1, function=3, address=0, count=1)
        results = await asyncio.gather(
            *(watched.driver.ask(question) for _ in range(3)), return_exceptions=True
        )
    assert [type(result) for result in results] == [LinkLost] * 3


async def test_connecting_for_each_poll_leaves_the_device_free_in_between(bench):
    async with (
        bench.serving(counting) as peer,
        bench.watching(
            bench.link(peer.address, single(bench), connect_each_poll=True)
        ) as watched,
    ):
        for _ in range(3):
            await watched.poll()
            assert watched.driver._conversation._wire is None
    assert qualities(watched) == [Quality.GOOD] * 3
    assert len(peer.connections) == 3


async def never_reads(connection):
    connection.reader._transport.pause_reading()
    await asyncio.Event().wait()


async def silent(connection):
    while True:
        await connection.asked()


@pytest.mark.parametrize("script", [counting, silent, never_reads])
async def test_a_link_is_closed_within_two_seconds_whatever_the_peer_does(bench, script):
    async with bench.serving(script) as peer:
        link = bench.link(peer.address, single(bench), timeout_s=30.0)
        async with bench.watching(link) as watched:
            polling = asyncio.create_task(watched.poll())
            await (peer.was_reached if script is never_reads else peer.was_asked).wait()
            polling.cancel()
            await asyncio.gather(polling, return_exceptions=True)
            async with asyncio.timeout(2.0):
                await watched.driver.__aexit__(None, None, None)


async def test_a_cancellation_in_the_tick_of_an_answer_is_not_swallowed(bench):
    answered = asyncio.Event()

    async def tells(connection):
        while True:
            asked = await connection.asked()
            await connection.send(asked.registers(7))
            answered.set()

    async with bench.serving(tells) as peer:
        for yields in range(12):
            async with bench.watching(
                bench.link(peer.address, single(bench, period_s=0.02))
            ) as watched:
                await watched.poll()
                answered.clear()
                polling = asyncio.create_task(poll_for_ever(watched))
                await answered.wait()
                for _ in range(yields):
                    await asyncio.sleep(0)
                polling.cancel()
                async with asyncio.timeout(2.0):
                    await asyncio.gather(polling, return_exceptions=True)
                assert polling.cancelled()


async def poll_for_ever(watched):
    while True:
        await watched.poll()


@pytest.mark.parametrize(
    ("fails", "told"),
    [
        # While the first is written: the others find the link closed.
        ("asked", [TypeError, LinkLost, LinkLost]),
        # While its answer is noted: the others wait for their turn by then.
        ("answered", [TypeError, TypeError, TypeError]),
    ],
)
async def test_a_fault_of_our_own_reaches_whoever_asked_and_leaves_nobody_waiting(
    bench, fails, told
):
    async with (
        bench.serving(counting) as peer,
        bench.watching(bench.link(peer.address, single(bench))) as watched,
    ):
        question = Question(unit=1, function=3, address=0, count=1)
        # A book that cannot be written in stands for any fault of our own.
        setattr(watched.driver._conversation._book, fails, None)
        asking = [asyncio.create_task(watched.driver.ask(question)) for _ in range(3)]
        results = await asyncio.gather(*asking, return_exceptions=True)
        with pytest.raises(LinkLost, match="the link is closed"):
            await watched.driver.ask(question)
    assert [type(result) for result in results] == told


@pytest.mark.parametrize("answers_after_s", [0.05, 0.62])
def test_a_program_that_was_held_up_does_not_blame_the_device(bench, answers_after_s):
    # The device is a thread of its own, so that it answers while the loop is held up.
    listener = socket.create_server(("127.0.0.1", 0))
    port = listener.getsockname()[1]

    was_asked = asyncio.Event()

    def device(loop):
        peer, _ = listener.accept()
        with peer:
            request = peer.recv(12)
            loop.call_soon_threadsafe(was_asked.set)
            time.sleep(answers_after_s)
            peer.sendall(request[:4] + struct.pack(">HBBBH", 5, 1, 3, 2, 7))
            peer.recv(1)

    async def held_up():
        thread = threading.Thread(target=device, args=[asyncio.get_running_loop()])
        thread.start()
        async with bench.watching(
            bench.link(f"127.0.0.1:{port}", single(bench), timeout_s=0.3)
        ) as watched:
            question = Question(unit=1, function=3, address=0, count=1)
            asking = asyncio.create_task(watched.driver.ask(question))
            await was_asked.wait()
            time.sleep(0.6)  # noqa: ASYNC251 - the very fault that is tried
            verdict = await asking
        thread.join()
        return verdict

    with listener:
        assert asyncio.run(held_up()) == Answer(b"\0\x07")


async def test_polls_follow_line_time_and_the_period_reached_is_told(bench):
    clock = SystemClock(speed=60.0)
    async with (
        bench.serving(counting) as peer,
        bench.watching(bench.link(peer.address, single(bench, period_s=1.0)), clock) as watched,
    ):
        await watched.poll(20)
        picture = watched.driver.picture()
    # 20 ms of wall time, the least, are 1.2 s of line time.
    assert picture.poll_s == pytest.approx(1.2, rel=0.25)
    assert np.diff([block.mono_ns for block in watched.blocks]).min() > 0


async def test_the_picture_tells_how_the_link_is_doing(bench):
    async with (
        bench.serving(counting) as peer,
        bench.watching(bench.link(peer.address, single(bench))) as watched,
    ):
        before = watched.driver.picture()
        await watched.poll(5)
        picture = watched.driver.picture()
    assert before.poll_s is None
    assert before.response_ms is None
    assert picture.state == "connected"
    assert picture.reason == ""
    assert picture.requests == 5
    assert picture.failures == {}
    assert 0.0 < picture.response_ms < 300.0
    assert picture.poll_s == pytest.approx(0.05, rel=0.5)
    assert picture.address == peer.address


async def test_a_link_without_tags_reads_nothing(bench):
    async with (
        bench.serving(counting) as peer,
        bench.watching(bench.link(peer.address)) as watched,
    ):
        polling = asyncio.create_task(watched.poll())
        done, _ = await asyncio.wait([polling], timeout=0.1)
        assert not done
        polling.cancel()
        await asyncio.gather(polling, return_exceptions=True)
    assert peer.asked == []


async def test_while_a_late_answer_may_come_the_link_is_poisoned(bench):
    async def late(connection):
        asked = await connection.asked()
        await asyncio.sleep(0.25)
        await connection.send(asked.registers(7))
        await counting(connection)

    async with (
        bench.serving(late) as peer,
        bench.watching(bench.link(peer.address, single(bench), timeout_s=0.2)) as watched,
    ):
        await watched.poll()
        during = watched.driver.picture()
        while watched.blocks[-1].quality[0] != Quality.GOOD:
            await watched.poll()
        after = watched.driver.picture()
    assert (during.state, during.reason) == (
        "poisoned",
        "waiting until no late answer can come",
    )
    assert after.state == "slow"
    assert len(peer.connections) == 1


async def test_a_flood_is_cut_off_and_never_kept(bench):
    async def floods(connection):
        await counting_once(connection)
        await connection.asked()
        while True:
            await connection.send(b"\0" * 100_000)

    async with (
        bench.serving(floods) as peer,
        bench.watching(bench.link(peer.address, single(bench))) as watched,
    ):
        with pytest.raises(LinkLost, match="sends without end"):
            await watched.poll(50)
        assert len(watched.driver._conversation._guard._buffer) <= 1024
    assert qualities(watched)[0] == Quality.GOOD


@pytest.mark.parametrize(
    ("address", "parts"),
    [
        ("plc:1502", ("plc", 1502)),
        ("10.0.0.7", ("10.0.0.7", 502)),
        ("[::1]:503", ("::1", 503)),
        ("[fe80::1]", ("fe80::1", 502)),
    ],
)
def test_an_address_has_a_host_and_a_port(address, parts):
    assert host_and_port(address) == parts


@pytest.mark.parametrize("address", ["plc:", "plc:modbus", "plc:0", "plc:65536", "plc:-1"])
async def test_an_address_without_a_port_number_is_told(bench, address):
    with pytest.raises(LinkLost, match="is no port; write"):
        async with bench.watching(bench.link(address, single(bench))):
            raise AssertionError("it connected")
