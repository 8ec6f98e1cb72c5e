"""The plant's truth, and the port through which it is asked."""

import asyncio
import json
import time
from typing import Any

import pytest

from linewatch_sim.control import Control
from linewatch_sim.lines import LINES
from linewatch_sim.memory import Past
from linewatch_sim.plant import Plant
from linewatch_sim.works import Works

pytestmark = pytest.mark.wire

ONCE = {"set-back-not-restored", "wrong-liquid", "mains-dips", "subscription-lost"}
"""Troubles that happen and are over: there is nothing to clear."""


async def ask(address: str, *questions: object) -> list[dict[str, Any]]:
    host, _, port = address.rpartition(":")
    reader, writer = await asyncio.open_connection(host, int(port))
    answers = []
    for question in questions:
        writer.write(json.dumps(question).encode() + b"\n")
        answers.append(json.loads(await reader.readline()))
    writer.close()
    await writer.wait_closed()
    return answers


async def test_truth_names_every_tank_and_rectifier_and_only_grows() -> None:
    async with Plant("first", speed=100.0) as plant, Control(plant) as control:
        first, second = await ask(control.address, {"ask": "truth"}, {"ask": "truth"})
        assert set(first["tanks"]) == set(plant.works.solutions.ids)
        assert set(first["rectifiers"]) == set(plant.works.electrics.ids)
        assert second["line_s"] >= first["line_s"]
        for tank, now in second["tanks"].items():
            for counted in ("cathodic_ah", "anodic_ah", "metal_g"):
                assert now[counted] >= first["tanks"][tank][counted]
        assert first["lag_s"] < 5.0


async def test_truth_of_a_past_moment_is_told_for_that_moment() -> None:
    async with Plant("first", speed=100.0) as plant, Control(plant) as control:
        moments, sums = [], []
        while len(moments) < 20:
            moments.append(time.monotonic_ns())
            truth = plant.truth(moments[-1])
            sums.append(sum(tank["cathodic_ah"] for tank in truth["tanks"].values()))
        again = await ask(
            control.address, *({"ask": "truth", "at_monotonic_ns": m} for m in moments)
        )
        for moment, before, answer in zip(moments, sums, again, strict=True):
            assert answer["line_s"] == pytest.approx(plant.clock.at(moment), abs=0.2)
            later = sum(tank["cathodic_ah"] for tank in answer["tanks"].values())
            # Between two snapshots a straight line stands for the truth: a few seconds' charge.
            assert later == pytest.approx(before, abs=3.0)


def test_what_is_forgotten_is_said_to_be() -> None:
    works = Works(LINES["first"][0], seed=1)
    past = Past(works, speed=0.01)  # ten minutes of wall time are six seconds of line time
    while works.line_s < 20.0:
        works.advance_to(works.line_s + 0.1)
        past.note()
    snapshot, is_known = past.at(15.05)
    assert is_known
    assert snapshot.line_s == pytest.approx(15.05)
    oldest, is_known = past.at(5.0)
    assert not is_known
    assert 13.0 < oldest.line_s < 14.1
    opening, is_known = past.at(0.25)
    assert is_known
    assert opening.line_s == pytest.approx(0.25)


async def test_troubles_are_listed_begun_and_cleared() -> None:
    async with Plant("first") as plant, Control(plant) as control:
        begun, listed, cleared, after = await ask(
            control.address,
            {"do": "trouble", "name": "heater-fails"},
            {"ask": "troubles"},
            {"do": "clear", "name": "heater-fails"},
            {"ask": "troubles"},
        )
        assert begun["ok"]
        assert cleared["ok"]
        assert [t["name"] for t in listed["troubles"] if t["on"]] == ["heater-fails"]
        assert not [t for t in after["troubles"] if t["on"]]


@pytest.mark.parametrize(
    ("question", "word"),
    [
        ({"do": "trouble", "name": "flood"}, "flood"),
        ({"ask": "weather"}, "truth"),
        ([1, 2], "object"),
        ({"ask": "truth", "at_monotonic_ns": "noon"}, "read"),
    ],
)
async def test_a_faulty_question_is_answered_in_words(question: object, word: str) -> None:
    async with Plant("first") as plant, Control(plant) as control:
        (answer,) = await ask(control.address, question)
        assert word in answer["error"]


def listening(plant: Plant) -> list[bool]:
    return [server.listens for server in (*plant.servers.values(), *plant.opcua.values())]


@pytest.mark.parametrize("line", LINES)
async def test_every_trouble_can_begin_and_leaves_no_trace_once_cleared(line: str) -> None:
    def state(plant: Plant) -> list[Any]:
        wrong = [part.wrong for part in plant.works.parts.values() if part.wrong is not None]
        arrays = [
            getattr(some, name).tolist() for some in wrong for name in some.__annotations__
        ]
        silent = [sorted(server.station.silent) for server in plant.servers.values()]
        silent += [sorted(server.station.frozen) for server in plant.servers.values()]
        arrays.append(plant.works.slopes.under_way)
        served = [(server.frozen, dict(server.wrong)) for server in plant.opcua.values()]
        return [arrays, silent, served, dict(plant.values.faults), dict(plant.links)]

    async with Plant(line) as plant:
        sound = state(plant)
        for trouble in plant.troubles():
            if trouble.name in ONCE:
                continue
            await plant.trouble(trouble.name)
            assert state(plant) != sound or not all(listening(plant)), trouble.name
            await plant.clear(trouble.name)
            assert state(plant) == sound, trouble.name
            assert all(listening(plant))


async def test_any_link_can_be_dropped_and_silenced_by_its_name_and_comes_back() -> None:
    async with Plant("first", speed=100.0) as plant, Control(plant) as control:
        name, server = next(iter(plant.servers.items()))
        host, _, port = server.address.rpartition(":")
        await ask(control.address, {"do": "drop", "name": name})
        with pytest.raises(OSError, match="onnect"):
            await asyncio.open_connection(host, int(port))
        await ask(control.address, {"do": "listen", "name": name})
        _, writer = await asyncio.open_connection(host, int(port))
        writer.close()

        await ask(control.address, {"do": "silence", "name": name})
        unit = next(iter(server.station.units))
        read = b"\x03\x00\x00\x00\x01"
        assert server.station.answer(unit, read) is None
        await ask(control.address, {"do": "speak", "name": name})
        assert server.station.answer(unit, read) is not None
        (told,) = await ask(control.address, {"do": "drop", "name": "nowhere"})
        assert name in told["error"]
