"""Who is connected to a server, so that it can hang up on all of them."""

from __future__ import annotations

import asyncio
import contextlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


class Peers:
    """The connections of one server and the tasks that serve them."""

    def __init__(self) -> None:
        self._serving: dict[asyncio.StreamWriter, asyncio.Task[object] | None] = {}
        self.welcome = True
        """False once hung up: whoever was still on the way in is turned away."""

    @contextlib.contextmanager
    def serving(self, writer: asyncio.StreamWriter) -> Iterator[None]:
        """Keep a connection on the list while it is served; close it at the end."""
        self._serving[writer] = asyncio.current_task()
        if not self.welcome:
            writer.transport.abort()
        try:
            yield
        finally:
            del self._serving[writer]
            writer.close()

    async def hang_up(self) -> None:
        """Reset every connection and wait until nobody is served any more."""
        self.welcome = False
        tasks = [task for task in self._serving.values() if task is not None]
        for writer in list(self._serving):
            writer.transport.abort()
        await asyncio.gather(*tasks, return_exceptions=True)
