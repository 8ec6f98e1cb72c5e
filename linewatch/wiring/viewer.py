"""A screen on a line's store: it reads, leaves requests, and owns nothing."""

from __future__ import annotations

import contextlib
import json
import time
from functools import partial
from importlib import import_module
from threading import Thread
from typing import TYPE_CHECKING

from linewatch.core.commands import EndCollecting
from linewatch.core.errors import StoreUnusable
from linewatch.wiring import places

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Sequence
    from pathlib import Path

    from linewatch.core.ports import Desk
    from linewatch.core.view import LinePicture
    from linewatch.history.chain import Action

READY_S = 15.0
"""How long a collector may take to make its store and its first picture."""
LOOK_S = 0.05


def open_desk(store: Path, line_id: str) -> Desk:
    """Open the reading side of a line's store.

    Raises:
        StoreUnusable: there is no such line in the store, or it is from a newer program.
    """
    from linewatch import history

    return history.open_desk(store, line_id)


def shown(desk: Desk, store: Path, line_id: str) -> LinePicture:
    """Return the present picture of a line.

    Raises:
        StoreUnusable: there never was one.
    """
    picture = desk.picture()
    if picture is None:
        raise StoreUnusable(
            str(store), f"it has no picture of {line_id} yet", "start a collector first"
        )
    return picture


def acts(store: Path, line_id: str) -> Sequence[Action]:
    """Return the people's journal of a line, oldest first.

    Raises:
        StoreUnusable: there is no such line in the store, or it is from a newer program.
    """
    from linewatch import history

    with contextlib.closing(history.open_desk(store, line_id)) as desk:
        return desk.actions()


def desk_when_ready(
    store: Path, line_id: str, collector: subprocess.Popen[str] | None = None
) -> Desk:
    """Wait until a collector that is starting has its store open; return the desk.

    Raises:
        StoreUnusable: it ended, or its store did not appear in time.
    """
    until = time.monotonic() + READY_S
    while True:
        try:
            desk = open_desk(store, line_id)
            if desk.picture() is not None and desk.alive():
                return desk
            happened = "the collector shows no picture yet"
        except StoreUnusable as unusable:
            happened = unusable.happened
        if collector is not None and collector.poll() is not None:
            said = _last_words(store)
            raise StoreUnusable(str(store), f"the collector ended: {said}", "see collector.log")
        if time.monotonic() > until:
            raise StoreUnusable(str(store), happened, "see collector.log in that folder")
        time.sleep(LOOK_S)


def picture_in(store: Path, line_id: str) -> LinePicture:
    """Return the present picture of a recorded line.

    Raises:
        StoreUnusable: there is no such line in the store, or never was a picture of it.
    """
    return shown(open_desk(store, line_id), store, line_id)


def load_screen() -> None:
    """Begin to load what a screen needs, while others start: it takes half a second."""
    Thread(target=lambda: import_module("linewatch.ui.start"), daemon=True).start()


def after(desk: Desk, where: Path) -> str:
    """Return what goes on, and what does not, when the screen of a line was closed."""
    goes_on = (
        "the recording goes on: `linewatch view` shows it again, `linewatch stop` ends it"
        if desk.alive()
        else "no collector runs: nothing is recorded"
    )
    return f"the screen is closed; {goes_on}. The record lies in {where}."


def watch(desk: Desk, *, where: Path) -> int:
    """Show the screen until it is closed; return the exit code."""
    from linewatch.ui import terminal

    terminal.put_off_the_search()
    from linewatch.ui.start import Wishes, run_app
    from linewatch.wiring import loads, preferences, records
    from linewatch.wiring.figures import FiguresDesk

    wanted = preferences.preferences()
    picture = desk.picture()
    wishes: Wishes = {
        "first_run": preferences.is_first_run(),
        "keys": wanted.keys,
        "save": preferences.save,
        "units": wanted.units,
    }
    if picture is not None:
        wishes["explain"] = loads.explainer(where, picture.line_id)
        wishes["against"] = partial(loads.objections_to, desk)
    if wanted.theme is not None:
        wishes["theme"] = wanted.theme
    if wanted.bell is not None:
        wishes["bell"] = wanted.bell
    if wanted.plain is not None:
        wishes["is_plain"] = wanted.plain
    if picture is not None:
        desk = FiguresDesk(desk, records.plan_source(where, picture.line_id))
    return run_app(desk, where=str(where), **wishes)


def _last_words(store: Path) -> str:
    log = store / "collector.log"
    lines = log.read_text(encoding="utf-8").strip().splitlines() if log.exists() else []
    return lines[-1] if lines else "it said nothing"


def is_collecting(store: Path, line_id: str) -> bool:
    """Say whether a collector holds the line."""
    try:
        return open_desk(store, line_id).alive()
    except StoreUnusable:
        return False


def choose(store: Path | None, line_id: str | None) -> tuple[Path, str]:
    """Return the store and line that a person means.

    Without a store named: the store of real lines, then the demo's. Without a line named: the
    only one there, or the only one that is being collected.

    Raises:
        StoreUnusable: there is none, or more than one could be meant.
    """
    from linewatch import history

    stores = [store] if store is not None else [places.default_store(), places.demo_store()]
    found = [(place, each) for place in stores for each in history.lines(place)]
    known = sorted({each for _, each in found})
    if line_id is not None:
        found = [(place, each) for place, each in found if each == line_id]
    if len(found) == 1:
        return found[0]
    running = [(place, each) for place, each in found if is_collecting(place, each)]
    candidates = running or found
    if len(candidates) == 1:
        return candidates[0]
    where = " and ".join(str(place) for place in stores)
    if not candidates:
        wanted = f"no record of line {line_id}" if line_id is not None else "no line's record"
        remedy = "start one with `linewatch run FILE`, or name --store"
        if known:
            remedy = f"there are {', '.join(known)}" if known[1:] else f"there is {known[0]}"
        raise StoreUnusable(where, f"{wanted} is there", remedy)
    names = ", ".join(sorted({each for _, each in candidates}))
    raise StoreUnusable(where, f"several lines are there: {names}", "name one with --line")


def end_collecting(store: Path, line_id: str, *, who: str) -> None:
    """Ask a line's collector to end, and wait until it has.

    Raises:
        StoreUnusable: no collector runs, or it does not end.
    """
    desk = open_desk(store, line_id)
    if not desk.alive():
        raise StoreUnusable(str(store), f"no collector of {line_id} runs", "nothing to stop")
    desk.request(EndCollecting(who=who, why="linewatch stop"))
    until = time.monotonic() + READY_S
    while desk.alive():
        if time.monotonic() > until:
            raise StoreUnusable(
                str(store),
                f"the collector of {line_id} does not end",
                "see collector.log there",
            )
        time.sleep(LOOK_S)


def as_json(picture: LinePicture, *, alive: bool) -> str:
    """Return a picture as JSON, with whether a collector stands behind it."""
    parts = plain(picture)
    return json.dumps({"collecting": alive, **parts}, indent=1)


def plain(part: object) -> dict[str, object]:
    """Return a picture, or what holds parts of one, as dictionaries, lists and numbers."""
    import msgspec

    from linewatch.core.figures import Figures

    def made(part: object) -> object:
        if isinstance(part, Figures):
            return dict(part)
        raise NotImplementedError(type(part))

    parts: dict[str, object] = msgspec.to_builtins(part, enc_hook=made)
    return parts
