"""The stored schema is the model's, and knows what the shipped files say."""

import json
import tomllib
from typing import Any

from linewatch.config.library import shipped
from linewatch.config.schema import NAME, schema_text


def test_the_stored_schema_is_not_stale():
    assert (shipped() / NAME).read_text(encoding="utf-8") == schema_text()


def test_every_key_of_the_example_is_in_the_schema():
    schema = json.loads(schema_text())
    unknown: list[str] = []

    def walk(value: Any, node: dict[str, Any], path: str) -> None:
        if "$ref" in node:
            node = schema["$defs"][node["$ref"].rsplit("/", 1)[1]]
        if isinstance(value, dict):
            for key, each in value.items():
                inner = node.get("properties", {}).get(key, node.get("additionalProperties"))
                if not isinstance(inner, dict):
                    unknown.append(f"{path}.{key}")
                else:
                    walk(each, inner, f"{path}.{key}")
        elif isinstance(value, list) and "items" in node:
            for each in value:
                walk(each, node["items"], path)

    walk(tomllib.loads((shipped() / "example.toml").read_text(encoding="utf-8")), schema, "")

    assert unknown == []


def test_quantities_are_texts_for_the_editor():
    definitions = json.loads(schema_text())["$defs"]

    assert definitions["RectifierSection"]["properties"]["rated_current"] == {
        "type": "string",
        "examples": ["12 A"],
    }
