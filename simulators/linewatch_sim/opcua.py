"""The plant's OPC UA server: a few quantities as variables, with status and source time.

Rule 1: it stands in a thread and an event loop of its own. The library takes seconds to build
        its address space, and nothing else of the plant may wait for that.
Rule 2: its port is known, and held, before it serves: until then a client is refused.
Rule 3: whoever connects may read and subscribe, and nothing more; attempts to write are
        refused and counted.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import math
import socket
import threading
import time
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from collections.abc import Callable, Coroutine, Sequence

    from asyncua import ua
    from asyncua.server.server import Server
    from asyncua.server.user_managers import UserManager

    from linewatch_sim.rows import NodeRow
    from linewatch_sim.values import Get, Values

HOST = "127.0.0.1"
WRITE_EVERY_S = 0.25
"""How often values are renewed [wall time]."""
BUILDS_WITHIN_S = 30.0
UNECE = "http://www.opcfoundation.org/UA/units/un/cefact"

UNITS = {
    "temperature": ("CEL", "°C"),
    "level": ("MMT", "mm"),
    "orp": ("2Z", "mV"),
    "flow": ("L2", "L/min"),
    "pressure": ("BAR", "bar"),
    "draught": ("PAL", "Pa"),
    "motor-current": ("AMP", "A"),
}
"""UN/ECE Recommendation 20 code and sign of the unit that a kind is told in."""
STATES = frozenset({"running", "valve-open", "load-present", "fault"})
"""Kinds that are told as true or false."""
WRONGS = ("uncertain", "bad", "no-source-time", "old-source-time", "future-source-time")
"""What may be wrong with a value on its way."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LONG_AGO = datetime(1601, 1, 1, tzinfo=UTC)


class OpcuaServer:
    """One server; it can be dropped and comes back on the same port.

    Args:
        rows: Its variables.
        values: Where their values come from.
    """

    def __init__(self, rows: Sequence[NodeRow], values: Values) -> None:
        self._rows = tuple(rows)
        self._gets: tuple[Get, ...] = tuple(values.getter(row.what) for row in rows)
        self._known = {row.what for row in rows}
        self.wrong: dict[str, str] = {}
        """What is wrong with a value on its way, by its name: one of WRONGS."""
        self.frozen = False
        """Values are no longer renewed, though the server lives."""
        self.reversed_namespaces = False
        """From the next start on namespaces stand in the other order."""
        self.writes_refused = 0
        self.port = 0
        self._held: socket.socket | None = None
        self._thread: threading.Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._server: Server | None = None
        self._ended: asyncio.Event | None = None
        self._serves = threading.Event()

    @property
    def address(self) -> str:
        """Return the endpoint."""
        return f"opc.tcp://{HOST}:{self.port}"

    @property
    def listens(self) -> bool:
        """Tell whether it is up, or on its way."""
        return self._thread is not None

    async def listen(self) -> None:
        """Take a port, first any free one, later the same; begin to serve a little later."""
        if self._thread is not None:
            return
        self._held = _holding(self.port)
        self.port = self._held.getsockname()[1]
        self._serves.clear()
        began = threading.Event()
        self._thread = threading.Thread(
            target=self._run, args=(began,), name="opcua", daemon=True
        )
        self._thread.start()
        began.wait()

    async def serving(self) -> None:
        """Wait until it serves.

        Raises:
            TimeoutError: it never did.
        """
        if not await asyncio.to_thread(self._serves.wait, BUILDS_WITHIN_S):
            raise TimeoutError("the OPC UA server did not come up")

    async def drop(self) -> None:
        """Close every session and stop to listen."""
        thread, self._thread = self._thread, None
        if thread is None:
            return
        assert self._loop is not None and self._ended is not None  # noqa: S101, PT018 - it runs
        self._loop.call_soon_threadsafe(self._ended.set)
        await asyncio.to_thread(thread.join, BUILDS_WITHIN_S)

    def spoil(self, what: str, wrong: str | None) -> None:
        """Let a value arrive with something wrong, or as it should with None.

        Raises:
            KeyError: it has no such value.
            ValueError: that cannot be wrong with a value.
        """
        if what not in self._known:
            raise KeyError(what)
        if wrong is None:
            self.wrong.pop(what, None)
        elif wrong in WRONGS:
            self.wrong[what] = wrong
        else:
            raise ValueError(f"{wrong!r} is none of {', '.join(WRONGS)}")

    async def forget_subscriptions(self) -> None:
        """Forget every subscription and tell nobody; sessions go on."""
        server = self._server

        async def forget() -> None:
            if server is not None:
                service = server.iserver.subscription_service
                await service.delete_subscriptions(list(service.subscriptions))

        await self._inside(forget())

    async def _inside(self, work: Coroutine[Any, Any, None]) -> None:
        assert self._loop is not None  # noqa: S101 - it serves
        await asyncio.wrap_future(asyncio.run_coroutine_threadsafe(work, self._loop))

    # --- inside its own thread ------------------------------------------------------------

    def _run(self, began: threading.Event) -> None:
        # The library tells of things that are meant to be so here: no encryption, no password.
        logging.getLogger("asyncua").setLevel(logging.CRITICAL)
        asyncio.run(self._live(began))

    async def _live(self, began: threading.Event) -> None:
        self._loop, self._ended = asyncio.get_running_loop(), asyncio.Event()
        began.set()
        assert self._held is not None  # noqa: S101 - taken before the thread began
        with self._held as held:
            server = await self._built()
            held.close()
            if self._ended.is_set():
                return
            await server.start()
        self._server = server
        try:
            await self._renew_values(server, self._ended)
        finally:
            self._server = None
            await server.stop()

    async def _built(self) -> Server:
        from asyncua import ua
        from asyncua.common.callback import CallbackType
        from asyncua.server.server import Server

        server = Server(user_manager=_readers())
        await server.init()
        server.set_endpoint(f"opc.tcp://{HOST}:{self.port}")
        server.set_server_name("Plant")
        server.set_security_policy([ua.SecurityPolicyType.NoSecurity])
        server.subscribe_server_callback(CallbackType.PreWrite, self._count_write)
        uris = list(dict.fromkeys(row.namespace for row in self._rows))
        if self.reversed_namespaces:
            uris.reverse()
        index = {uri: await server.register_namespace(uri) for uri in uris}
        self._ids = tuple(
            ua.NodeId(ua.String(row.node), ua.Int16(index[row.namespace])) for row in self._rows
        )
        for row, node in zip(self._rows, self._ids, strict=True):
            await _add(server, row, node)
        return server

    def _count_write(self, event: Any, _: object) -> None:  # noqa: ANN401 - the library's own
        self.writes_refused += bool(event.is_external)

    async def _renew_values(self, server: Server, ended: asyncio.Event) -> None:
        while not ended.is_set():
            if not (self.frozen and self._serves.is_set()):
                now = _EPOCH + timedelta(microseconds=time.time_ns() // 1000)
                for row, node, get in zip(self._rows, self._ids, self._gets, strict=True):
                    data = _data(row, get(), now, self.wrong.get(row.what))
                    await server.write_attribute_value(node, data)
            self._serves.set()
            await self._pause(ended)

    async def _pause(self, ended: asyncio.Event) -> None:
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(WRITE_EVERY_S):
                await ended.wait()


def _readers() -> UserManager:
    """Let everybody in, as one who may read."""
    from asyncua.crypto.permission_rules import User, UserRole
    from asyncua.server.user_managers import UserManager

    class Readers(UserManager):
        def get_user(self, *_: object, **__: object) -> User:
            return User(role=UserRole.User)

    return Readers()


def _holding(port: int) -> socket.socket:
    """Return a socket that holds a port, so that nobody else takes it meanwhile."""
    held = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    held.bind((HOST, port))
    return held


async def _add(server: Server, row: NodeRow, node: ua.NodeId) -> None:
    """Add a variable, with the unit that its kind is told in."""
    from asyncua import ua

    name = ua.QualifiedName(row.node.rsplit(".", 1)[-1], node.NamespaceIndex)
    nothing: object = False if _is_state(row) else 0.0
    variable = await server.nodes.objects.add_variable(node, name, nothing)
    if row.kind in UNITS:
        code, sign = UNITS[row.kind]
        information = ua.EUInformation(
            UNECE, int.from_bytes(code.encode(), "big"), ua.LocalizedText(sign)
        )
        await variable.add_property(
            ua.NodeId(ua.String(f"{row.node}.EngineeringUnits"), node.NamespaceIndex),
            ua.QualifiedName("EngineeringUnits", 0),
            information,
        )


def _is_state(row: NodeRow) -> bool:
    return row.kind in STATES


def _data(row: NodeRow, value: float, now: datetime, wrong: str | None) -> ua.DataValue:
    from asyncua import ua
    from asyncua.ua.status_codes import StatusCodes

    status = StatusCodes.Good
    if math.isnan(value):
        status, value = StatusCodes.BadSensorFailure, 0.0
    elif wrong == "uncertain":
        status = StatusCodes.UncertainSensorNotAccurate
    elif wrong == "bad":
        status = StatusCodes.BadDeviceFailure
    told = value > 0.5 if _is_state(row) else value  # noqa: PLR2004 - half way between states
    source = _source_times[wrong](now) if wrong in _source_times else now
    return ua.DataValue(
        ua.Variant(told),
        ua.StatusCode(ua.UInt32(status)),
        SourceTimestamp=cast("ua.DateTime | None", source),
    )


_source_times: dict[str | None, Callable[[datetime], datetime | None]] = {
    "no-source-time": lambda _: None,
    "old-source-time": lambda _: _LONG_AGO,
    "future-source-time": lambda now: now + timedelta(days=400),
}
