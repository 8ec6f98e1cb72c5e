"""Commands that watch a line: demo, run, collect, view, stop, show."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from linewatch.cli import app
from linewatch.cli.typed import Number, Whole
from linewatch.core import units
from linewatch.core.errors import LinewatchError

if TYPE_CHECKING:
    from linewatch.core.ports import Desk

Store = Annotated[Path | None, Parameter(name="--store")]
Speed = Annotated[Number, Parameter(name="--speed")]


FASTEST = 10_000.0
"""Line time over wall time beyond which nothing could be polled any more."""


class BadOption(LinewatchError):
    """An option of the command line that cannot be meant."""


@app.command
def demo(  # noqa: PLR0913 - one keyword an option
    *,
    speed: Speed = 1.0,
    trouble: tuple[str, ...] = (),
    troubles: bool = False,
    headless: bool = False,
    for_: Annotated[str, Parameter(name="--for")] = "10 min",
    json_: Annotated[bool, Parameter(name="--json")] = False,
    seed: Whole = 1,
    line: Literal["works", "first"] = "works",
    store: Store = None,
) -> int:
    """Show an invented plating line running live: plant, collector and screen in one.

    Args:
        speed: Line time over wall time. Where the machine cannot keep it, readings come a
            minute and more of line time apart and the plant itself falls behind: loads then
            seem overdue, to hang in the air or to come oddly. Up to 20 is safe on most.
        trouble: A trouble by name and line time, as heater-fails@5min; may be repeated.
        troubles: List the troubles that can be asked for, and end.
        headless: Run without a screen, print totals beside the plant's truth at the end.
        for_: How long a headless run lasts, in line time: 2h, 90s, 10min.
        json_: Print the headless run's result as one JSON object.
        seed: Of the plant's chances.
        line: Which invented plant: works, or first for a short line.
        store: Folder for the record; a fresh one of its own if absent.
    """
    from linewatch.wiring import demo as wired
    from linewatch.wiring import places

    if troubles:
        print(wired.troubles_told(line))
        return 0
    _check_speed(speed)
    from linewatch.cli import tables

    folder, fresh = (store, False) if store is not None else (places.demo_store(), True)
    if not headless:
        return wired.demo(
            folder,
            fresh=fresh,
            speed=speed,
            troubles=trouble,
            seed=seed,
            line=line,
            say=_say,
        )
    for_s = units.parse(for_, "s")
    if not for_s > 0.0:
        raise BadOption(f"--for {for_}: a run lasts longer than that; write 10min, 2h")
    result = wired.headless(
        folder,
        fresh=fresh,
        speed=speed,
        for_s=for_s,
        troubles=trouble,
        seed=seed,
        line=line,
    )
    print(json.dumps(result, indent=1) if json_ else tables.headless_table(result))
    return 0


@app.command
def collect(  # noqa: PLR0913 - one keyword an option
    file: Path,
    *,
    store: Store = None,
    speed: Speed = 1.0,
    who: str | None = None,
    why: str = "",
    notices: Path | None = None,
    until_stdin_closes: bool = False,
) -> int:
    """Record a line in the foreground, without a screen: for a service manager.

    Args:
        file: The line's configuration.
        store: Folder for the record.
        speed: Line time over wall time; only for simulated plants.
        who: Initials, for the record, of who starts it.
        why: Why the configuration is another than before, for the record.
        notices: File that says who is told of alarms outside the screen.
        until_stdin_closes: End when standard input does.
    """
    _check_speed(speed)
    import asyncio
    import logging

    from linewatch import config
    from linewatch.config.notices import read_notices
    from linewatch.core.alarms.alarm import By
    from linewatch.wiring import places, processes
    from linewatch.wiring.collector import collect as collecting
    from linewatch.wiring.telling import telling

    logging.basicConfig(
        level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s: %(message)s"
    )
    # Libraries speak at length about what the record tells anyway.
    for chatty in ("pymodbus", "asyncua", "asyncio"):
        logging.getLogger(chatty).setLevel(logging.ERROR)
    works = config.read(file)
    folder = store if store is not None else places.default_store()
    if notices is not None:
        # A faulty file is told of now, not by a child that nobody sees.
        read_notices(notices)

    async def until_stopped() -> None:
        loop = asyncio.get_running_loop()
        stop = asyncio.Event()

        def end() -> None:
            loop.call_soon_threadsafe(stop.set)

        processes.when_asked_to_end(end)
        if until_stdin_closes:
            processes.when_stdin_closes(end)
        by = By(who or processes.user(), why)
        await collecting(works, folder, speed=speed, by=by, stop=stop)

    with telling(notices, folder, works.plan.line_id):
        asyncio.run(until_stopped())
    return 0


@app.command
def run(file: Path, *, store: Store = None, who: str | None = None, why: str = "") -> int:
    """Watch a line: attach to its collector, or start one that stays, then show the screen.

    Args:
        file: The line's configuration.
        store: Folder for the record.
        who: Initials, for the record, of who starts it.
        why: Why the configuration is another than before, for the record.
    """
    from linewatch import config
    from linewatch.ui.text import counted
    from linewatch.wiring import places, viewer
    from linewatch.wiring.processes import start_detached
    from linewatch.wiring.telling import default_file

    viewer.load_screen()
    works = config.read(file)
    folder = store if store is not None else places.default_store()
    if not viewer.is_collecting(folder, works.plan.line_id):
        arguments = ["collect", str(file.resolve()), "--store", str(folder), "--why", why]
        arguments += ["--who", who] if who else []
        notices = default_file()
        arguments += ["--notices", str(notices)] if notices.exists() else []
        count = counted(len(works.links), "link")
        _say(f"starting a collector that stays, and its {count} …")
        start_detached("linewatch", arguments, log=folder / "collector.log")
    else:
        _say("a collector runs; showing its line …")
    desk = viewer.desk_when_ready(folder, works.plan.line_id)
    return _shown(desk, folder)


@app.command
def view(*, line: str | None = None, store: Store = None) -> int:
    """Show the screen of a recorded line; the recording goes on when the screen is closed.

    Args:
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.ui.terminal import put_off_the_search

    put_off_the_search()
    from linewatch.wiring import viewer

    folder, line_id = viewer.choose(store, line)
    return _shown(viewer.open_desk(folder, line_id), folder)


@app.command
def stop(*, line: str | None = None, store: Store = None) -> int:
    """End a line's collector. It stops the recording, never the line.

    Args:
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.wiring import viewer
    from linewatch.wiring.processes import user

    folder, line_id = viewer.choose(store, line)
    viewer.end_collecting(folder, line_id, who=user())
    print(f"{line_id}: the collector has ended; its record is in {folder}")
    return 0


@app.command
def show(
    *,
    line: str | None = None,
    store: Store = None,
    json_: Annotated[bool, Parameter(name="--json")] = False,
    watch: bool = False,
) -> int:
    """Print the line as it is now: for scripts, and for screen readers.

    Args:
        line: Id of the line, if the store holds several.
        store: Folder of the record.
        json_: Print the whole picture as JSON.
        watch: Go on, one line for each thing that changes.
    """
    from linewatch.cli import line_words, tables
    from linewatch.wiring import viewer

    folder, line_id = viewer.choose(store, line)
    desk = viewer.open_desk(folder, line_id)
    picture = viewer.shown(desk, folder, line_id)
    if json_:
        sys.stdout.write(viewer.as_json(picture, alive=desk.alive()) + "\n")
    elif watch:
        tables.follow(desk)
    else:
        print(line_words.line_table(picture, alive=desk.alive()))
    return 0


def _say(text: str) -> None:
    """Tell a person what is under way, before a screen is there or after it has gone."""
    print(f"linewatch: {text}", flush=True)


def _shown(desk: Desk, folder: Path) -> int:
    """Show the screen until it is closed; then say whether the recording goes on."""
    from linewatch.wiring import viewer

    code = viewer.watch(desk, where=folder)
    if code == 0:
        _say(viewer.after(desk, folder))
    return code


def _check_speed(speed: float) -> None:
    if not 0.0 < speed <= FASTEST:
        raise BadOption(f"--speed {speed:g}: write a number above 0, at most {FASTEST:g}")
