"""Commands for the electrician who puts a device into service: probe, import-tags."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from linewatch.cli import app
from linewatch.cli.typed import Whole
from linewatch.core.errors import Refused


@app.command
def probe(  # noqa: PLR0913 - one keyword an option
    address: str,
    *,
    protocol: Literal["modbus-tcp", "modbus-rtu-over-tcp", "modbus-rtu"] = "modbus-tcp",
    unit: Whole = 1,
    table: Literal["holding", "input", "coil", "discrete"] = "holding",
    first: Whole = 0,
    count: Whole = 16,
    baud: Whole = 19200,
    parity: Literal["N", "E", "O"] = "E",
    timeout: str = "1 s",
) -> int:
    """Read a device that has no map yet, and show what its registers may mean. Read only.

    An address that begins with opc.tcp:// is asked for its variables instead.

    Args:
        address: "host:port", a serial port, or "opc.tcp://host:port".
        protocol: How a Modbus device is reached.
        unit: Modbus unit id.
        table: Modbus table.
        first: First address on the wire, from 0.
        count: How many addresses.
        baud: Speed of a serial line.
        parity: Parity of a serial line.
        timeout: How long to wait for an answer.
    """
    from linewatch.wiring import commissioning

    if address.startswith("opc.tcp://"):
        print(commissioning.surveyed(address, timeout))
        return 0
    if not 0 < count <= commissioning.MOST_ADDRESSES or not 0 <= first <= commissioning.LAST:
        raise Refused(
            f"probe {address}",
            f"{count} addresses from {first} cannot be read;"
            f" at most {commissioning.MOST_ADDRESSES}, from 0 to {commissioning.LAST}",
        )
    device = {"unit": unit}
    link = {"protocol": protocol, "baud": baud, "parity": parity, "timeout": timeout}
    print(commissioning.probed(address, link, device, (table, first, count)))
    return 0


@app.command
def import_tags(file: Path, *, link: str = "link-1", device: str = "") -> int:
    """Turn a register list (CSV or spreadsheet) into configuration, faults told by row.

    Args:
        file: The list; its first row names the columns.
        link: Id of the link that the devices are on.
        device: Id of the device of rows that name none.
    """
    from linewatch.config.register_list import configuration_of, read_register_list

    print(configuration_of(read_register_list(file, device), link))
    return 0
