"""Shows the screen in a terminal until it is closed."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from typing import TYPE_CHECKING, TypedDict, Unpack

from linewatch.ui import terminal
from linewatch.ui.app import Against, Explain, LinewatchApp, Options, Save

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.ports import Desk


class Wishes(TypedDict, total=False):
    """What `run_app` may be told besides; see `Options`."""

    initials: str | None
    theme: str
    is_plain: bool
    bell: str
    units: str | None
    keys: Mapping[str, str]
    first_run: bool
    explain: Explain | None
    against: Against | None
    save: Save | None


def run_app(desk: Desk, *, where: str = "", **wishes: Unpack[Wishes]) -> int:
    """Show the screen until it is closed; return the exit code.

    What the terminal can show is found out, unless `theme` and `is_plain` say so.
    """
    if not terminal.is_there():
        sys.stderr.write(
            "linewatch: the screen needs a terminal; `linewatch show` prints the line as text\n"
        )
        return terminal.NO_TERMINAL
    found = terminal.means(os.environ, sys.stdout.encoding or "ascii")
    told = Options(where=where, has_terminal=True, **wishes)
    options = replace(
        told,
        theme=wishes.get("theme", found.theme),
        is_plain=wishes.get("is_plain", found.is_plain),
    )
    code = LinewatchApp(desk, options).run()
    return 0 if code is None else code
