"""The control port: one JSON object a line in, one a line out. For tests and demonstrations."""

from __future__ import annotations

import asyncio
import contextlib
import json
from typing import TYPE_CHECKING, Any

from linewatch_sim.modbus import HOST
from linewatch_sim.peers import Peers
from linewatch_sim.plant import UnknownLink
from linewatch_sim.troubles import UnknownTrouble

if TYPE_CHECKING:
    from collections.abc import Callable

    from linewatch_sim.plant import Plant


async def answer(plant: Plant, question: dict[str, Any]) -> dict[str, Any]:
    """Return the answer to one question."""
    asked, done = ASKED.get(question.get("ask")), question.get("do")
    if asked is not None:
        return asked(plant, question)
    act = {
        "trouble": plant.trouble,
        "clear": plant.clear,
        "drop": plant.drop,
        "listen": plant.listen,
        "silence": plant.silence,
        "speak": plant.speak,
    }.get(str(done))
    if act is None:
        return {
            "error": f"ask one of {', '.join(map(str, ASKED))}; do trouble or clear of one,"
            " drop or listen, silence or speak of a link"
        }
    await act(str(question.get("name")))
    return {"ok": True, "line_s": plant.works.line_s}


def _truth(plant: Plant, question: dict[str, Any]) -> dict[str, Any]:
    moment = question.get("at_monotonic_ns")
    return plant.truth(None if moment is None else int(moment))


def _troubles(plant: Plant, _: dict[str, Any]) -> dict[str, Any]:
    known = (
        {"name": t.name, "group": t.group, "tells": t.tells, "on": t.name in plant.active}
        for t in plant.troubles()
    )
    return {"troubles": list(known)}


ASKED: dict[object, Callable[[Plant, dict[str, Any]], dict[str, Any]]] = {
    "truth": _truth,
    "troubles": _troubles,
    "visits": lambda plant, _: {"visits": plant.visits()},
    "wire": lambda plant, _: {"links": plant.wire()},
}


class Control:
    """The control port of a running plant."""

    def __init__(self, plant: Plant) -> None:
        self._plant = plant
        self._server: asyncio.Server | None = None
        self._peers = Peers()
        self.address = ""

    async def __aenter__(self) -> Control:
        """Begin to listen."""
        self._server = await asyncio.start_server(self._meet, HOST, 0)
        port = self._server.sockets[0].getsockname()[1]
        self.address = f"{HOST}:{port}"
        return self

    async def __aexit__(self, *exception: object) -> None:
        """Close the port and every connection."""
        if self._server is not None:
            self._server.close()
            await self._peers.hang_up()
            await self._server.wait_closed()

    async def _meet(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with self._peers.serving(writer), contextlib.suppress(ConnectionError, ValueError):
            while line := await reader.readline():
                writer.write(json.dumps(await self._answer(line)).encode() + b"\n")
                await writer.drain()

    async def _answer(self, line: bytes) -> dict[str, Any]:
        try:
            question = json.loads(line)
            if not isinstance(question, dict):
                return {"error": "one JSON object a line"}
            return await answer(self._plant, question)
        except (ValueError, TypeError) as error:
            return {"error": f"cannot be read: {error}"}
        except (UnknownTrouble, UnknownLink) as error:
            return {"error": str(error)}
