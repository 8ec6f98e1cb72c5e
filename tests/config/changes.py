"""Changes that spoil the example."""

from collections.abc import Callable
from typing import Any


def put(*path: Any) -> Callable[[Any], None]:
    """Return a change that sets the value at a path; the value stands last."""
    *keys, last, value = path

    def change(document: Any) -> None:
        for key in keys:
            document = document[key]
        document[last] = value

    return change


def delete(*path: Any) -> Callable[[Any], None]:
    """Return a change that takes the key at a path away."""
    *keys, last = path

    def change(document: Any) -> None:
        for key in keys:
            document = document[key]
        del document[last]

    return change


def append(table: str, item: dict[str, object]) -> Callable[[Any], None]:
    """Return a change that adds a section."""
    return lambda document: document[table].append(item)


OPCUA = {
    "id": "ua",
    "protocol": "opcua",
    "address": "opc.tcp://127.0.0.1:4840",
    "security": "none",
}


def opcua_tag(**read: Any) -> Callable[[Any], None]:
    """Return a change that adds an OPC UA link with one tag."""
    read = {"namespace": "urn:bath", **read}

    def change(document: Any) -> None:
        document["link"].append(OPCUA)
        item = {key: value for key, value in read.items() if value is not None}
        tag = {"measures": "nickel-1.ph", "read": item}
        document["device"].append({"id": "server", "link": "ua", "tag": [tag]})

    return change
