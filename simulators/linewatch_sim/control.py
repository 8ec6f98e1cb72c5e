"""The control port: one JSON object a line in, one a line out. For tests and demonstrations."""

from __future__ import annotations

import asyncio
import contextlib
import json
from typing import TYPE_CHECKING, Any

from linewatch_sim.modbus import HOST
from linewatch_sim.troubles import UnknownTrouble

if TYPE_CHECKING:
    from linewatch_sim.plant import Plant


async def answer(plant: Plant, question: Any) -> dict[str, Any]:  # noqa: ANN401 - any JSON
    """Return the answer to one question."""
    match question:
        case {"ask": "truth", **rest}:
            return plant.truth(rest.get("at_monotonic_ns"))
        case {"ask": "troubles"}:
            return {
                "troubles": [
                    {
                        "name": t.name,
                        "row": t.row,
                        "tells": t.tells,
                        "on": t.name in plant.active,
                    }
                    for t in plant.troubles()
                ]
            }
        case {"ask": "visits"}:
            return {"visits": plant.visits()}
        case {"ask": "wire"}:
            return {"links": plant.wire()}
        case {"do": "trouble", "name": str(name)}:
            await plant.trouble(name)
            return {"ok": True, "line_s": plant.works.line_s}
        case {"do": "clear", "name": str(name)}:
            await plant.clear(name)
            return {"ok": True, "line_s": plant.works.line_s}
    return {"error": 'ask "truth", "troubles", "visits" or "wire"; do "trouble" or "clear"'}


class Control:
    """The control port of a running plant."""

    def __init__(self, plant: Plant) -> None:
        self._plant = plant
        self._server: asyncio.Server | None = None
        self._peers: set[asyncio.StreamWriter] = set()
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
            for peer in list(self._peers):
                peer.transport.abort()
            await self._server.wait_closed()
        while self._peers:
            await asyncio.sleep(0)

    async def _meet(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._peers.add(writer)
        try:
            with contextlib.suppress(ConnectionError, ValueError):
                while line := await reader.readline():
                    writer.write(json.dumps(await self._answer(line)).encode() + b"\n")
                    await writer.drain()
        finally:
            self._peers.discard(writer)
            writer.close()

    async def _answer(self, line: bytes) -> dict[str, Any]:
        try:
            return await answer(self._plant, json.loads(line))
        except json.JSONDecodeError as error:
            return {"error": f"no JSON: {error}"}
        except UnknownTrouble as error:
            return {"error": str(error)}
