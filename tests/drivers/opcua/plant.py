"""A real OPC UA server on 127.0.0.1, in a thread and event loop of its own."""

import asyncio
import threading
from collections.abc import Callable, Coroutine
from datetime import UTC, datetime
from typing import Any

from asyncua import Server, ua

from linewatch.config.links import DevicePoll, LinkSettings, TagRead
from linewatch.config.model import DeviceSection, LinkSection, Read
from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.readings import Layout
from linewatch.drivers.opcua.driver import OpcuaDriver
from linewatch.engine.clock import SystemClock

BATH = "urn:test:bath"
WATER = "urn:test:water"
NS = 1_000_000_000


def world_time() -> datetime:
    """Return the time of the world, as a server's clock has it."""
    return datetime.fromtimestamp(SystemClock().system_utc_ns() / 1e9, UTC)


class Plant:
    """A server with some variables; acted upon from the test's own thread."""

    def __init__(
        self, *uris: str, port: int = 0, prepare: Callable[[Server], Any] | None = None
    ):
        self.loop = asyncio.new_event_loop()
        self.thread = threading.Thread(target=self.loop.run_forever, daemon=True)
        self.thread.start()
        self.port = port
        self.server: Server
        self.index: dict[str, int] = {}
        self.run(self._start(uris or (BATH, WATER), prepare))

    def run(self, work: Coroutine[Any, Any, Any]) -> Any:
        """Run something in the server's loop and wait for it."""
        return asyncio.run_coroutine_threadsafe(work, self.loop).result(timeout=20)

    async def _start(self, uris: tuple[str, ...], prepare: Any) -> None:
        self.server = Server()
        await self.server.init()
        self.server.set_endpoint(f"opc.tcp://127.0.0.1:{self.port}/")
        if prepare is not None:
            await prepare(self.server)
        for uri in uris:
            self.index[uri] = await self.server.register_namespace(uri)
        await self.server.start()
        self.port = self.server.bserver._server.sockets[0].getsockname()[1]

    @property
    def address(self) -> str:
        """The endpoint."""
        return f"opc.tcp://127.0.0.1:{self.port}"

    def node(self, name: str, uri: str = BATH) -> ua.NodeId:
        """The id of a variable in this run of the server."""
        return ua.NodeId(name, self.index[uri])

    def add(self, name: str, value: Any, uri: str = BATH, browse: str | None = None) -> None:
        """Add a variable."""

        async def add() -> None:
            await self.server.nodes.objects.add_variable(
                self.node(name, uri), ua.QualifiedName(browse or name, self.index[uri]), value
            )

        self.run(add())

    def add_unit(self, name: str, code: int, uri: str = BATH) -> None:
        """State a variable's unit, as the standard does."""
        unit = ua.EUInformation("http://www.opcfoundation.org/UA/units/un/cefact", code)

        async def add() -> None:
            variable = self.server.get_node(self.node(name, uri))
            await variable.add_property(
                ua.NodeId(f"{name}.EU", self.index[uri]),
                ua.QualifiedName("EngineeringUnits", 0),
                unit,
            )

        self.run(add())

    def remove(self, name: str, uri: str = BATH) -> None:
        """Take a variable away, with whatever hangs on it."""

        async def remove() -> None:
            await self.server.delete_nodes(
                [self.server.get_node(self.node(name, uri))], recursive=True
            )

        self.run(remove())

    def write(
        self,
        name: str,
        value: Any,
        *,
        status: int = 0,
        source: datetime | str | None = "now",
        uri: str = BATH,
    ) -> None:
        """Let a variable have another value, status and source time."""
        variant = value if isinstance(value, ua.Variant) else ua.Variant(value)
        data = ua.DataValue(
            variant,
            ua.StatusCode(status),
            SourceTimestamp=world_time() if source == "now" else source,
        )

        async def write() -> None:
            await self.server.write_attribute_value(self.node(name, uri), data)

        self.run(write())

    def stop(self) -> None:
        """Stop the server, its loop and its thread."""
        self.run(self.server.stop())
        self.loop.call_soon_threadsafe(self.loop.stop)
        self.thread.join(timeout=10)
        self.loop.close()


def settings_for(
    address: str,
    tags: dict[str, dict[str, Any]],
    *,
    period: float = 0.1,
    device: str = "server",
    **link: Any,
) -> LinkSettings:
    """Return the settings of a link whose tags are read from nodes."""
    section = LinkSection(
        **{
            "id": "ua",
            "protocol": "opcua",
            "address": address,
            "namespace": BATH,
            "sampling": "50 ms",
            **link,
        }
    )
    period_ns = round(period * NS)
    reads = []
    for name, read in tags.items():
        measurement = MEASUREMENTS[name.split(".")[1]]
        reads.append(
            TagRead(
                tag=name,
                unit=measurement.unit,
                low=measurement.low,
                high=measurement.high,
                period_ns=period_ns,
                read=Read(**read),
            )
        )
    layout = Layout(link="ua", device=device, tags=tuple(tags), period_ns=period_ns)
    poll = DevicePoll(
        device=DeviceSection(id=device, link="ua"), tags=tuple(reads), layouts=(layout,)
    )
    return LinkSettings(link=section, devices=(poll,))


async def until(driver: OpcuaDriver, met: Callable[[Any], bool]) -> Any:
    """Return the first block that meets a condition; the test's own time limit ends it."""
    async for block in driver.readings():
        if met(block):
            return block
    raise AssertionError("the driver ended")
