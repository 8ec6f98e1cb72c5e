"""`linewatch rinse`: what loads carry into rinses, the water that it takes, and levels."""

from __future__ import annotations

import json

from linewatch.cli import app
from linewatch.cli.check import Json
from linewatch.cli.loads import Files
from linewatch.cli.record import Begin, Store


@app.command
def rinse(
    tank: str = "",
    *,
    from_: Begin = "",
    to: Files = (),
    line: str | None = None,
    store: Store = None,
    json_: Json = False,
) -> int:
    """Print all rinses and levels, or one rinse with the loads that went through it.

    Args:
        tank: Number, name or id of a rinse; all of them if absent.
        from_: Loads since: "2026-03-01 06:00", "06:00"; the last day if absent.
        to: Files to write instead: .html or .pdf; may be repeated.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
        json_: Print as JSON.
    """
    from linewatch.cli import paper
    from linewatch.cli.tables import clock
    from linewatch.core.pages import Shown
    from linewatch.wiring import rinses, viewer

    found = rinses.asked(*viewer.choose(store, line), tank, from_)
    if json_:
        print(json.dumps(viewer.plain(found), indent=1))
        return 0
    return paper.give(rinses.page(found, Shown("metric", clock)), to)
