"""A plant that runs: its parts, its servers, its troubles and its truth."""

from __future__ import annotations

import asyncio
import contextlib
import time
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from linewatch_sim.clock import LineClock
from linewatch_sim.lines import LINES
from linewatch_sim.memory import Past
from linewatch_sim.modbus import Server, Station
from linewatch_sim.opcua import OpcuaServer
from linewatch_sim.registers import memories
from linewatch_sim.troubles import Planned, Trouble, UnknownTrouble, done
from linewatch_sim.truth import truth_at
from linewatch_sim.values import Values
from linewatch_sim.works import COARSE_S, Works

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from types import TracebackType

FASTEST_FINE = 200.0
"""Up to this speed a machine carries fine steps."""
LATE_WALL_S = 1.0
"""Later than this [wall time] the plant catches up in coarse steps."""
TICK_S = 0.05
"""The plant goes on at least so often [wall time], asked or not."""


class UnknownLink(LookupError):
    """No link has this name."""


class Plant:
    """A simulated plant on real sockets; an asynchronous context manager.

    Args:
        line: Name of the line: a key of `lines.LINES`.
        speed: Seconds of line time in a second of wall time.
        seed: Seed of everything that is left to chance.
        troubles: Troubles that begin by themselves.

    Raises:
        UnknownTrouble: a planned trouble does not exist.
    """

    def __init__(
        self,
        line: str = "first",
        *,
        speed: float = 1.0,
        seed: int = 1,
        troubles: Iterable[Planned] = (),
    ) -> None:
        row, known = LINES[line]
        self._known: dict[str, Trouble] = {trouble.name: trouble for trouble in known}
        self._planned = sorted(troubles, key=lambda one: one.begins_s)
        for one in self._planned:
            self.trouble_named(one.name)
        self._speed = speed
        self.works = Works(row, seed)
        self.values = Values(self.works)
        self.active: dict[str, float] = {}
        """Troubles that are on, with the line time at which each began."""
        self.servers: dict[str, Server] = {
            link.id: Server(
                Station(units, self.advance),
                serial_frames=link.protocol == "modbus-rtu-over-tcp",
            )
            for link, units in zip(row.links, memories(row, self.values).values(), strict=True)
            if link.protocol != "opcua"
        }
        self.opcua: dict[str, OpcuaServer] = {
            link.id: OpcuaServer(
                [node for node in row.nodes if node.link == link.id], self.values
            )
            for link in row.links
            if link.protocol == "opcua"
        }
        self.clock = LineClock(speed=speed)
        self.past = Past(self.works, speed)
        self._ends: list[tuple[float, str]] = []
        self._work: asyncio.Task[None] | None = None

    @property
    def links(self) -> Mapping[str, str]:
        """Return where each link listens, by link id."""
        return {name: server.address for name, server in self._all_servers().items()}

    def _all_servers(self) -> Mapping[str, Server | OpcuaServer]:
        return {**self.servers, **self.opcua}

    async def __aenter__(self) -> Plant:
        """Open the servers and let the plant's time begin."""
        for server in self._all_servers().values():
            await server.listen()
        self.clock = LineClock(speed=self._speed)
        self._work = asyncio.create_task(self._go_on(), name="plant")
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop the plant and close its servers."""
        if self._work is not None:
            self._work.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._work
        for server in self._all_servers().values():
            await server.drop()

    def advance(self) -> None:
        """Step the plant up to this moment."""
        now_s = self.clock.now_s()
        late_wall_s = (now_s - self.works.line_s) / self._speed
        coarsely = self._speed > FASTEST_FINE or late_wall_s > LATE_WALL_S
        stride_s = max(self.past.grid_s, COARSE_S if coarsely else 0.0)
        while self.works.line_s + stride_s <= now_s:
            self.works.advance_to(self.works.line_s + stride_s, coarsely=coarsely)
            self.past.note()
        self.works.advance_to(now_s, coarsely=coarsely)
        # Whoever asks often keeps the plant so close to the clock that the loop above never
        # turns; the past is kept all the same.
        self.past.note()

    def truth(self, at_monotonic_ns: int | None = None) -> dict[str, Any]:
        """Return what was true at a moment of the monotonic clock; None: now."""
        self.advance()
        moment = time.monotonic_ns() if at_monotonic_ns is None else at_monotonic_ns
        return truth_at(self.works, self.past, self.clock.at(moment))

    def trouble_named(self, name: str) -> Trouble:
        """Return a trouble by its name.

        Raises:
            UnknownTrouble: there is none.
        """
        if name not in self._known:
            raise UnknownTrouble(name, tuple(self._known))
        return self._known[name]

    def troubles(self) -> tuple[Trouble, ...]:
        """Return everything that may go wrong here."""
        return tuple(self._known.values())

    def visits(self) -> list[dict[str, Any]]:
        """Return the last finished stays of loads at tanks, oldest first."""
        self.advance()
        return [asdict(visit) for visit in self.works.visits]

    def wire(self) -> dict[str, dict[str, int]]:
        """Return what was asked over each link: requests, and attempts to write."""
        return {
            name: {
                "requests": server.station.requests,
                "writes_refused": server.station.writes_refused,
            }
            for name, server in self.servers.items()
        } | {
            name: {"writes_refused": server.writes_refused}
            for name, server in self.opcua.items()
        }

    async def trouble(self, name: str) -> None:
        """Let a trouble begin."""
        trouble = self.trouble_named(name)
        if name not in self.active:
            self.advance()
            self.active[name] = self.works.line_s
            await done(trouble.begin(self))

    async def clear(self, name: str) -> None:
        """Let a trouble be mended."""
        trouble = self.trouble_named(name)
        if name in self.active:
            self.advance()
            del self.active[name]
            await done(trouble.end(self))

    async def set_listening(self, link: str, *, on: bool) -> None:
        """Let a link drop, or come back on its port."""
        server = self._all_servers()[link]
        await (server.listen() if on else server.drop())

    async def drop(self, link: str) -> None:
        """Let any link hang up and refuse new connections, as a device that is off does.

        Raises:
            UnknownLink: there is none of that name.
        """
        self._check_link(link, self._all_servers())
        await self.set_listening(link, on=False)

    async def listen(self, link: str) -> None:
        """Let a dropped link come back.

        Raises:
            UnknownLink: there is none of that name.
        """
        self._check_link(link, self._all_servers())
        await self.set_listening(link, on=True)

    async def silence(self, link: str) -> None:
        """Let every unit of a link be silent though it stays connected, as a cut wire does.

        Raises:
            UnknownLink: no link with units has that name.
        """
        self._check_link(link, self.servers)
        station = self.servers[link].station
        station.silent.update(station.units)

    async def speak(self, link: str) -> None:
        """Let every unit of a link answer again.

        Raises:
            UnknownLink: no link with units has that name.
        """
        self._check_link(link, self.servers)
        self.servers[link].station.silent.clear()

    @staticmethod
    def _check_link(link: str, known: Mapping[str, object]) -> None:
        if link not in known:
            raise UnknownLink(f"no such link is called {link!r}; there are: {', '.join(known)}")

    async def _go_on(self) -> None:
        while True:
            self.advance()
            for one in [p for p in self._planned if p.begins_s <= self.works.line_s]:
                self._planned.remove(one)
                await self.trouble(one.name)
                if one.lasts_s is not None:
                    self._ends.append((one.begins_s + one.lasts_s, one.name))
            for end_s, name in [e for e in self._ends if e[0] <= self.works.line_s]:
                self._ends.remove((end_s, name))
                await self.clear(name)
            await asyncio.sleep(TICK_S)
