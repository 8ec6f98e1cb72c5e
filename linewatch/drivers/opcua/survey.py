"""What a server has: its variables with their ids, for the person who commissions a link."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asyncua import ua

from linewatch.config.blocks import tag_block
from linewatch.core.readings import QUALITY_WORDS
from linewatch.drivers.opcua import nodes
from linewatch.drivers.opcua.identity import unit_in
from linewatch.drivers.opcua.meaning import number_of, quality_of
from linewatch.drivers.opcua.session import Session
from linewatch.drivers.text import cleaned

if TYPE_CHECKING:
    from linewatch.config.model import LinkSection
    from linewatch.core.ports import Clock

MOST_VARIABLES = 5000
MOST_STEPS = 20
"""A tree of nodes deeper than this goes round in circles."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Variable:
    """One variable of a server."""

    path: str
    """Names from the Objects folder down: "Treatment / Final / pH"."""
    node: str
    """Its id as a configuration has it, without the namespace: 's=Final.pH'."""
    namespace: str
    """URI of its namespace."""
    unit: str
    """As the server states it, '' if it states none that is known."""
    value: str
    """What it is now, cleaned."""
    quality: str
    """How the server stands to it, in words."""
    is_number: bool
    """Whether it can be a tag."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What was found of a server."""

    variables: tuple[Variable, ...]
    is_whole: bool
    """False if the server has more than was listed."""


async def survey(link: LinkSection, clock: Clock) -> Survey:
    """Connect to a server and list its variables.

    Raises:
        LinkLost: nobody answers, or the session ends.
    """
    session = Session(link, clock, lambda _place, _data: None, lambda _happened: None)
    try:
        await session.open()
        uris = await session.namespaces()
        found, is_whole = await _variables(session)
        return Survey(variables=await _described(session, found, uris), is_whole=is_whole)
    finally:
        await session.close()


async def _variables(session: Session) -> tuple[dict[ua.NodeId, str], bool]:
    """Walk down from the Objects folder, level by level; the server's own nodes left out."""
    found: dict[ua.NodeId, str] = {}
    seen = {nodes.OBJECTS, nodes.SERVER}
    level = {nodes.OBJECTS: ""}
    for _ in range(MOST_STEPS):
        below: dict[ua.NodeId, str] = {}
        children = await session.children(list(level))
        for path, references in zip(level.values(), children, strict=True):
            for each in references:
                node = ua.NodeId(
                    each.NodeId.Identifier, each.NodeId.NamespaceIndex, each.NodeId.NodeIdType
                )
                if node in seen:
                    continue
                seen.add(node)
                name = cleaned(str(each.BrowseName.Name))
                below[node] = f"{path} / {name}" if path else name
                # Namespace 0 is the standard's own: nothing of the plant stands there.
                if each.NodeClass == ua.NodeClass.Variable and int(node.NamespaceIndex):
                    found[node] = below[node]
        if len(found) > MOST_VARIABLES:
            return dict(list(found.items())[:MOST_VARIABLES]), False
        if not below:
            return found, True
        level = below
    return found, False


async def _described(
    session: Session, found: dict[ua.NodeId, str], uris: list[str]
) -> tuple[Variable, ...]:
    wanted = list(found)
    values = await session.read(wanted)
    properties = await session.properties(wanted, "EngineeringUnits")
    asked = [node for node in properties if node is not None]
    told = iter(await session.read(asked, doing="asking for units"))
    own = {node for node in properties if node is not None}
    described = []
    for node, value, unit in zip(wanted, values, properties, strict=True):
        stated = unit_in(next(told)) if unit is not None else ""
        index = int(node.NamespaceIndex)
        if node in own:
            continue
        status = 0 if value.StatusCode is None else int(value.StatusCode.value)
        content = None if value.Value is None else value.Value.Value
        described.append(
            Variable(
                path=found[node],
                node=nodes.node_text(node),
                namespace=uris[index] if index < len(uris) else "",
                unit=stated,
                value=cleaned(str(content)),
                quality=QUALITY_WORDS[quality_of(status)],
                is_number=number_of(content) is not None,
            )
        )
    return tuple(described)


def surveyed_block(variable: Variable) -> str:
    """Return a configuration block for a variable, ready but for the name of its quantity."""
    read = {"node": variable.node, "namespace": variable.namespace}
    if variable.unit:
        read["unit"] = variable.unit
    return tag_block({"measures": "tank.quantity", "read": read}, variable.path)
