"""A serial port: pymodbus' transport over pyserial, made to end as a socket does."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from pymodbus.transport.serialtransport import SerialTransport

if TYPE_CHECKING:
    import asyncio

    from linewatch.config.model import LinkSection

try:
    from termios import error as terminal_error
except ImportError:  # not on Windows
    terminal_error = OSError  # type: ignore[assignment,misc]

DATA_BITS = 8


class Port(SerialTransport):
    """One serial port while it is open.

    The transport it builds on tells nobody when it is closed in order, and can fail half way
    through closing once its device is gone; then the loop would go on watching a dead handle.
    """

    def setup(self) -> None:
        """Begin to read."""
        self._handle = -1 if self.force_poll else self.sync_serial.fileno()
        super().setup()

    def close(self, exc: Exception | None = None) -> None:
        """Close the port, whether or not its device is still there."""
        port, self.sync_serial = self.sync_serial, None
        if port is None:
            return
        self.intern_write_buffer.clear()
        if self.poll_task is not None:
            self.poll_task.cancel()
            self.poll_task = None
        else:
            self.async_loop.remove_reader(self._handle)
            self.async_loop.remove_writer(self._handle)
        with contextlib.suppress(OSError, terminal_error):
            port.close()
        self.async_loop.call_soon(self.intern_protocol.connection_lost, exc)


def open_port(
    loop: asyncio.AbstractEventLoop, protocol: asyncio.Protocol, link: LinkSection
) -> Port:
    """Open a link's serial port, with nothing in it that was sent before.

    Raises:
        OSError: the port is not there, is in use, or refuses the settings.
    """
    port = None
    try:
        port = Port(
            loop,
            protocol,
            link.address,
            link.baud,
            DATA_BITS,
            link.parity,
            link.stop_bits,
            link.timeout,
        )
        port.sync_serial.reset_input_buffer()
        port.setup()
    except terminal_error as error:
        if port is not None:
            port.sync_serial.close()
        # Neither an OSError nor one of pyserial's own.
        raise OSError(f"the port refuses its settings: {error}") from error
    return port
