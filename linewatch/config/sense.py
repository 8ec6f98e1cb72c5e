"""Numbers of one section that make no sense together."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from linewatch.config.faults import shown

if TYPE_CHECKING:
    from linewatch.config.faults import Faults
    from linewatch.config.model import LineSection, RectifierSection, TankSection
    from linewatch.config.sections import Sections


def check_sense(sections: Sections, faults: Faults) -> None:
    """Refuse numbers that contradict each other within a section."""
    if sections.line is not None:
        _check_line(sections.line, faults)
    for tank in sections.tanks:
        _check_tank(tank, faults)
    for rectifier in sections.rectifiers:
        _check_rectifier(rectifier, faults)
    _check_ports(sections, faults)


def _check_line(line: LineSection, faults: Faults) -> None:
    if line.flood_end > line.flood_start:
        faults.add(
            "line.flood_end",
            f"{line.flood_end:g} is above flood_start {line.flood_start:g}",
            "a flood ends with fewer alarms than it begins with",
        )


def _check_tank(tank: TankSection, faults: Faults) -> None:
    shortest, longest = tank.shortest_dwell, tank.longest_dwell
    if shortest is not None and longest is not None and not shortest <= longest:
        faults.add(
            f"tank.{tank.id}.shortest_dwell",
            f"{shortest:g} s is above longest_dwell {longest:g} s",
            "let them rise",
        )


def _check_rectifier(rectifier: RectifierSection, faults: Faults) -> None:
    key = f"rectifier.{rectifier.id}"
    if not rectifier.zero_cutoff < rectifier.rated_current:
        faults.add(
            f"{key}.zero_cutoff",
            f"{rectifier.zero_cutoff:g} A is no less than the rated current",
            "write the sensor's offset, a few amperes",
        )
    if (rectifier.pulse_on is None) != (rectifier.pulse_off is None):
        missing = "pulse_on" if rectifier.pulse_on is None else "pulse_off"
        faults.add(f"{key}.{missing}", "missing", "a pulse has an on-time and an off-time")
    modulus = rectifier.meter_modulus
    if modulus is not None and not rectifier.meter_resolution < modulus:
        faults.add(
            f"{key}.meter_resolution",
            f"{rectifier.meter_resolution:g} A.h is no less than meter_modulus",
            "write the smallest step that the meter counts",
        )


def _check_ports(sections: Sections, faults: Faults) -> None:
    """One serial port has one owner: two links on it would talk across each other."""
    ports = Counter(link.address for link in sections.links if link.protocol == "modbus-rtu")
    for port, times in ports.items():
        if times > 1:
            those = [link.id for link in sections.links if link.address == port]
            faults.add(
                f"link.{those[-1]}.address",
                f"{shown(port)} is the port of {' and '.join(those)}",
                "put all units of one bus on one link",
            )
