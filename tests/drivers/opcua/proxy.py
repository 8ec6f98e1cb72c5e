"""A TCP relay that can stop forwarding, as a network does that swallows packets."""

import asyncio
from types import TracebackType
from typing import Self


class Proxy:
    """Relays to a port until told otherwise."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._open = asyncio.Event()
        self._open.set()
        self._tasks: set[asyncio.Task[None]] = set()
        self._writers: list[asyncio.StreamWriter] = []
        self.sent = bytearray()
        """All that went towards the server."""

    async def __aenter__(self) -> Self:
        self._server = await asyncio.start_server(self._accept, "127.0.0.1", 0)
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    @property
    def address(self) -> str:
        """The endpoint by way of this relay."""
        return f"opc.tcp://127.0.0.1:{self.port}"

    def swallow(self) -> None:
        """Forward nothing any more, in silence."""
        self._open.clear()

    def cut(self) -> None:
        """Close every connection at once."""
        for writer in self._writers:
            writer.transport.abort()

    async def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        onward_reader, onward = await asyncio.open_connection("127.0.0.1", self._to)
        self._writers += [writer, onward]
        for source, sink, sent in (
            (reader, onward, self.sent),
            (onward_reader, writer, bytearray()),
        ):
            task = asyncio.create_task(self._relay(source, sink, sent))
            self._tasks.add(task)

    async def _relay(
        self, source: asyncio.StreamReader, sink: asyncio.StreamWriter, sent: bytearray
    ) -> None:
        try:
            while content := await source.read(65536):
                await self._open.wait()
                sent += content
                sink.write(content)
        except OSError:
            pass
        finally:
            sink.close()

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._server.close()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self.cut()
