"""An ear hears what is on the wire, and changes nothing that is asked."""

import pytest


class Ear:
    """Keeps what it hears."""

    def __init__(self):
        self.heard = []

    def __call__(self, unit, frame, *, is_ours):
        self.heard.append((unit, bytes(frame), is_ours))

    def ours(self):
        return [frame for _, frame, is_ours in self.heard if is_ours]

    def theirs(self):
        return b"".join(frame for _, frame, is_ours in self.heard if not is_ours)


def units(bench):
    return [
        bench.device(f"d{k}", [bench.tag(f"r{k}.count", 10 * k)], unit=k, period_s=0.02)
        for k in (1, 2)
    ]


@pytest.mark.parametrize("rtu", [False, True], ids=["tcp", "rtu-over-tcp"])
async def test_an_ear_hears_every_byte_that_was_sent_and_that_arrived(bench, rtu):
    sent = bytearray()

    async def answers(connection):
        while True:
            reply = (await connection.asked()).registers(7)
            sent.extend(reply)
            await connection.send(reply)

    protocol = "modbus-rtu-over-tcp" if rtu else "modbus-tcp"
    ear = Ear()
    async with (
        bench.serving(answers, rtu=rtu) as peer,
        bench.watching(bench.link(peer.address, *units(bench), protocol=protocol)) as watched,
    ):
        watched.driver.listen(ear)
        block = await watched.poll(10)

    assert block.value[0] == 7.0
    assert ear.ours() == peer.heard[: len(ear.ours())]
    assert len(ear.ours()) >= 10
    assert bytes(sent).startswith(ear.theirs())
    assert len(ear.theirs()) >= len(sent) * 9 // 10
    assert {unit for unit, _, _ in ear.heard} == {1, 2}


async def test_garbage_and_late_answers_are_heard_as_they_came(bench):
    async def babbles(connection):
        await connection.asked()
        await connection.send(b"\xff\xfe garbage")
        await connection.reader.read()

    ear = Ear()
    async with (
        bench.serving(babbles, rtu=True) as peer,
        bench.watching(
            bench.link(
                peer.address,
                units(bench)[0],
                protocol="modbus-rtu-over-tcp",
                timeout_s=0.1,
            )
        ) as watched,
    ):
        watched.driver.listen(ear)
        await watched.poll()

    assert ear.theirs() == b"\xff\xfe garbage"


async def test_once_nobody_listens_nothing_is_heard(bench):
    async def answers(connection):
        while True:
            await connection.send((await connection.asked()).registers(7))

    ear = Ear()
    async with (
        bench.serving(answers) as peer,
        bench.watching(bench.link(peer.address, *units(bench))) as watched,
    ):
        watched.driver.listen(ear)
        await watched.poll(4)
        watched.driver.listen(None)
        heard = len(ear.heard)
        await watched.poll(10)

    assert heard >= 8
    assert len(ear.heard) == heard
