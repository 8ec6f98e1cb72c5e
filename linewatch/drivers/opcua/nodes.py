"""Ids of nodes: those that every server has (OPC 10000-6, annex A), and configured ones."""

from __future__ import annotations

import base64

from asyncua import ua
from asyncua.ua.object_ids import ObjectIds

NAMESPACES = ua.NodeId(ua.Int32(ObjectIds.Server_NamespaceArray))
STATE = ua.NodeId(ua.Int32(ObjectIds.Server_ServerStatus_State))
OBJECTS = ua.NodeId(ua.Int32(ObjectIds.ObjectsFolder))
SERVER = ua.NodeId(ua.Int32(ObjectIds.Server))
HIERARCHY = ua.NodeId(ua.Int32(ObjectIds.HierarchicalReferences))
HAS_PROPERTY = ua.NodeId(ua.Int32(ObjectIds.HasProperty))

_LIMITS = "Server_ServerCapabilities_OperationLimits_"
MOST: dict[str, ua.NodeId] = {
    "read": ua.NodeId(ua.Int32(getattr(ObjectIds, f"{_LIMITS}MaxNodesPerRead"))),
    "monitor": ua.NodeId(ua.Int32(getattr(ObjectIds, f"{_LIMITS}MaxMonitoredItemsPerCall"))),
    "translate": ua.NodeId(
        ua.Int32(getattr(ObjectIds, f"{_LIMITS}MaxNodesPerTranslateBrowsePathsToNodeIds"))
    ),
}
"""Where a server says how much it takes in one call, by our word for the call."""


def node_id(index: int, text: str) -> ua.NodeId:
    """Return a node's id from its text within a namespace: 's=Bath.pH', whatever is in it."""
    kind, _, name = text.partition("=")
    namespace = ua.Int16(index)
    match kind:
        case "i":
            return ua.NodeId(ua.Int32(int(name)), namespace, ua.NodeIdType.Numeric)
        case "g":
            return ua.NodeId(ua.Guid(name), namespace, ua.NodeIdType.Guid)
        case "b":
            content = ua.ByteString(base64.b64decode(name))
            return ua.NodeId(content, namespace, ua.NodeIdType.ByteString)
        case _:
            return ua.NodeId(ua.String(name), namespace, ua.NodeIdType.String)


def node_text(node: ua.NodeId) -> str:
    """Return a node's id as a configuration has it, without its namespace."""
    match node.NodeIdType:
        case ua.NodeIdType.String:
            return f"s={node.Identifier!s}"
        case ua.NodeIdType.Guid:
            return f"g={node.Identifier!s}"
        case ua.NodeIdType.ByteString:
            content = node.Identifier
            return (
                f"b={base64.b64encode(content if isinstance(content, bytes) else b'').decode()}"
            )
        case _:
            return f"i={node.Identifier!s}"
