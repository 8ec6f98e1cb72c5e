"""The configuration's JSON schema, for editors that complete and check while one types.

The stored copy is `config/linewatch.schema.json`; name it in an editor, or on the first line
of a file: `#:schema linewatch.schema.json`. Make it anew with
`python -m linewatch.config.schema`.
"""

from __future__ import annotations

import json
import sys
from typing import Any

from linewatch.config.library import shipped
from linewatch.config.model import Configuration

NAME = "linewatch.schema.json"


def schema_text() -> str:
    """Return the schema as it is stored, in the order of the model."""
    schema = _tidy(Configuration.model_json_schema(mode="validation"))
    schema["title"] = "linewatch configuration"
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def _tidied(value: object) -> object:
    if isinstance(value, list):
        return [_tidied(each) for each in value]
    return _tidy(value) if isinstance(value, dict) else value


def _tidy(node: dict[str, Any]) -> dict[str, Any]:
    """Leave out what TOML cannot say, and names that only repeat the key."""
    choices = [each for each in node.get("anyOf", ()) if each != {"type": "null"}]
    if len(choices) == 1:
        node = {**node, **choices[0]}
        del node["anyOf"]
    if node.get("default") is None or _is_converted(node):
        node.pop("default", None)
    if isinstance(node.get("title"), str):
        del node["title"]
    return {key: _tidied(each) for key, each in node.items()}


def _is_converted(node: dict[str, Any]) -> bool:
    """Say whether a default stands in our unit while the file has a text."""
    return node.get("type") == "string" and not isinstance(node["default"], str)


def main() -> int:
    """Store the schema beside the other shipped files."""
    file = shipped() / NAME
    file.write_text(schema_text(), encoding="utf-8", newline="\n")
    sys.stdout.write(f"{file}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
