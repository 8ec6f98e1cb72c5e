"""What refers to something else: it must exist, once, and fit."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from linewatch.config.faults import shown

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from linewatch.config.faults import Faults
    from linewatch.config.model import RectifierSection
    from linewatch.config.sections import Sections

_SUBJECT_TABLES = ("tank", "rectifier", "bath")


def check_references(
    sections: Sections, recipes: Mapping[str, object], line_id: str, faults: Faults
) -> None:
    """Refuse doubled ids, and references to what does not exist."""
    _check_doubled(sections, line_id, faults)
    links, baths = sections.ids.get("link", ()), sections.ids.get("bath", ())
    for device in sections.devices:
        _exists(f"device.{device.id}.link", "link", device.link, links, faults)
    for bath in sections.baths:
        _exists(f"bath.{bath.id}.recipe", "recipe", bath.recipe, recipes, faults)
    for tank in sections.tanks:
        key = f"tank.{tank.id}"
        _exists(f"{key}.bath", "bath", tank.bath, baths, faults)
        _exists(f"{key}.recipe", "recipe", tank.recipe, recipes, faults)
        if tank.bath is not None and tank.recipe is not None:
            faults.add(f"{key}.recipe", "its bath has one already", "leave one of them out")
    for rectifier in sections.rectifiers:
        _check_feeds(rectifier, sections.ids.get("tank", ()), faults)
    _check_catalogue(sections, faults)
    _check_subjects(sections, line_id, faults)
    _check_addresses(sections, faults)


def _exists(
    key: str, what: str, name: str | None, known: Collection[str], faults: Faults
) -> None:
    if name is not None and name not in known:
        faults.unknown(key, what, name, known)


def _check_doubled(sections: Sections, line_id: str, faults: Faults) -> None:
    for table in ("link", "device", "recipe", "route", "part"):
        for name, times in Counter(sections.ids.get(table, ())).items():
            if times > 1:
                faults.add(
                    f"{table}.{name}", f"{times} of them have this id", "rename the others"
                )
    # Tanks, rectifiers, baths and the line share one set of names: notes, tags and alarms
    # name any of them.
    owners: dict[str, list[str]] = {line_id: ["the line"]} if line_id else {}
    for table in _SUBJECT_TABLES:
        for name in sections.ids.get(table, ()):
            owners.setdefault(name, []).append(f"a {table}")
    for name, those in owners.items():
        if len(those) > 1:
            faults.add(
                f"{those[-1].split()[-1]}.{name}",
                f"{' and '.join(those)} have this id",
                "give each a name of its own",
            )


def _check_feeds(rectifier: RectifierSection, tanks: Collection[str], faults: Faults) -> None:
    key = f"rectifier.{rectifier.id}.feeds"
    for feed in rectifier.feeds:
        _exists(key, "tank", feed.tank, tanks, faults)
    for tank, times in Counter(feed.tank for feed in rectifier.feeds).items():
        if times > 1:
            faults.add(key, f"tank {shown(tank)} stands {times} times", "write it once")
    total = sum(feed.share for feed in rectifier.feeds)
    if abs(total - 100.0) > 0.01:  # noqa: PLR2004 - percent, as a person rounds it
        faults.add(key, f"the shares add up to {total:g} %", "let them add up to 100 %")


def _check_catalogue(sections: Sections, faults: Faults) -> None:
    """Refuse routes and parts that name what is not there, or do not fit."""
    tanks, baths = sections.ids.get("tank", ()), sections.ids.get("bath", ())
    tracks = {tank.track for tank in sections.tanks if tank.track}
    for route in sections.routes:
        for number, step in enumerate(route.step, start=1):
            key = f"route.{route.id}.step.{number}"
            for tank in step.tanks:
                _exists(f"{key}.tanks", "tank", tank, tanks, faults)
            if None not in (step.shortest, step.longest) and step.shortest > step.longest:  # type: ignore[operator]
                faults.add(f"{key}.shortest", "is longer than `longest`", "swap the two")
    for part in sections.parts:
        key = f"part.{part.id}"
        _exists(f"{key}.route", "route", part.route, sections.ids.get("route", ()), faults)
        _exists(f"{key}.usual_on", "track", part.usual_on or None, tracks, faults)
        for bath in part.target:
            _exists(f"{key}.target.{bath}", "bath", bath, baths, faults)
        if part.pieces is not None and part.weight is not None:
            faults.add(
                f"{key}.weight", "its loads are counted in pieces too", "leave one of them out"
            )


def _check_subjects(sections: Sections, line_id: str, faults: Faults) -> None:
    """Refuse tags that tell something about nothing."""
    subjects = {
        *sections.ids.get("tank", ()),
        *sections.ids.get("rectifier", ()),
        *sections.ids.get("bath", ()),
        *(tank.track for tank in sections.tanks if tank.track),
        *((line_id,) if line_id else ()),
    }
    for device in sections.devices:
        measured = {
            tag.measures
            for other in sections.devices
            if other.link == device.link
            for tag in other.tag
        }
        for tag in device.tag:
            key = f"device.{device.id}.tag.{tag.measures}"
            subject = tag.measures.partition(".")[0]
            if subject not in subjects:
                faults.unknown(f"{key}.measures", "tank or rectifier", subject, subjects)
            junction = tag.read.cold_junction
            if junction is not None and junction not in measured:
                faults.unknown(
                    f"{key}.read.cold_junction", "tag of its link", junction, measured
                )


def _check_addresses(sections: Sections, faults: Faults) -> None:
    for link in sections.links:
        key = f"link.{link.id}.address"
        if link.protocol == "opcua":
            if not link.address.startswith("opc.tcp://"):
                faults.add(
                    key,
                    f"{shown(link.address)} is no OPC UA endpoint",
                    'write "opc.tcp://host:port"',
                )
            if "security" not in link.model_fields_set:
                faults.add(
                    f"link.{link.id}.security",
                    "missing",
                    'write "sign-and-encrypt", or "none" where nobody else reaches the network',
                )
            if (link.own_certificate is None) != (link.own_key is None):
                faults.add(
                    f"link.{link.id}.own_key",
                    "a certificate and its key go together",
                    "write both `own_certificate` and `own_key`, or neither",
                )
            if link.security != "none" and link.certificate is None:
                faults.add(
                    f"link.{link.id}.certificate",
                    "missing",
                    "with security, name the server's certificate; no other is trusted",
                )
        elif link.protocol != "modbus-rtu" and not _is_host_and_port(link.address):
            faults.add(key, f"{shown(link.address)} is no host and port", 'write "host:port"')


def _is_host_and_port(address: str) -> bool:
    host, _, port = address.rpartition(":")
    return bool(host) and port.isascii() and port.isdigit() and 0 < int(port) <= 65535  # noqa: PLR2004
