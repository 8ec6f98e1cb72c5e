"""The demonstration: a plant that is not there, its collector and a screen."""

from __future__ import annotations

import asyncio
import contextlib
import re
import shutil
from typing import TYPE_CHECKING, Any

import filelock

from linewatch.core.errors import StoreUnusable
from linewatch.ui.text import counted
from linewatch.wiring.places import shipped
from linewatch.wiring.plant import running_plant
from linewatch.wiring.processes import end_child, start_child, told_by
from linewatch.wiring.viewer import desk_when_ready, load_screen, watch

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from linewatch.config import Works


_HEAD = re.compile(r"\S+\s+\S+\s+")
"""Name and group of a trouble, before its sentence."""


@contextlib.contextmanager
def _hold(folder: Path, *, fresh: bool) -> Iterator[Path]:
    """Hold a demo's folder: one demo at a time may use it; empty it if it is to be fresh."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    lock = filelock.FileLock(folder.with_name(folder.name + ".lock"))
    try:
        lock.acquire(blocking=False)
    except filelock.Timeout:
        raise StoreUnusable(
            str(folder),
            "another demo is using it",
            "end that one, or name a folder with --store",
        ) from None
    try:
        if fresh:
            shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True, exist_ok=True)
        yield folder
    finally:
        lock.release()


def demo(  # noqa: PLR0913 - one call from the command line
    store: Path,
    *,
    fresh: bool,
    speed: float,
    troubles: Sequence[str],
    seed: int,
    line: str,
    say: Callable[[str], None],
) -> int:
    """Show the demo line until the screen is closed; leave no process behind.

    `say` is told what is under way, and at the end what has ended and where its record lies.
    """
    say("starting an invented plant; nothing real is read …")
    load_screen()
    with (
        _hold(store, fresh=fresh) as folder,
        running_plant(
            speed=speed, troubles=troubles, seed=seed, line=line, log=folder / "plant.log"
        ) as plant,
    ):
        if speed != 1.0:
            # Seconds of a server's start would be minutes of an unreadable line.
            plant.wait_until_all_listen()
        works, file = _configured(folder, line, plant.links)
        count = counted(len(plant.links), "link")
        say(f"starting its collector and {count} to the plant …")
        collector = start_child(
            "linewatch",
            [
                "collect",
                str(file),
                "--store",
                str(folder),
                "--speed",
                f"{speed:g}",
            ],
            log=folder / "collector.log",
        )
        try:
            desk = desk_when_ready(folder, works.plan.line_id, collector)
            code = watch(desk, where=folder)
        finally:
            end_child(collector)
    say(_ended(folder, fresh=fresh))
    return code


def _ended(folder: Path, *, fresh: bool) -> str:
    """Return what has ended with the screen of a demonstration, and where its record lies."""
    until = "; the next demonstration begins it anew" if fresh else ""
    return (
        "the demonstration has ended: the invented plant, its collector and the screen."
        f" Its record lies in {folder}{until}."
    )


def headless(  # noqa: PLR0913 - one call from the command line
    store: Path,
    *,
    fresh: bool,
    speed: float,
    for_s: float,
    troubles: Sequence[str],
    seed: int,
    line: str,
) -> dict[str, Any]:
    """Run the demo line for a span of line time; return totals beside the plant's truth."""
    from linewatch.wiring.headless import run_headless

    with (
        _hold(store, fresh=fresh) as folder,
        running_plant(
            speed=speed, troubles=troubles, seed=seed, line=line, log=folder / "plant.log"
        ) as plant,
    ):
        # A run whose totals are compared begins with everything in place.
        plant.wait_until_all_listen()
        works, _ = _configured(folder, line, plant.links)
        return asyncio.run(run_headless(works, folder, plant, for_s=for_s, speed=speed))


CONFIGURATIONS = {"works": "demo.toml", "first": "first-line.toml"}
"""The configuration of each invented plant."""


def _configured(folder: Path, line: str, links: Mapping[str, str]) -> tuple[Works, Path]:
    """Write the demo's configuration with the plant's addresses; return it and its file."""
    # Here, not at the top: the plant is started before a configuration is needed.
    from linewatch import config

    works = config.read(shipped(CONFIGURATIONS[line])).with_addresses(links)
    file = folder / "demo.toml"
    file.write_text(works.text, encoding="utf-8")
    return works, file


def troubles_told(line: str) -> str:
    """Return the troubles that can be asked for; positions as the screen calls them."""
    from linewatch import config

    plan = config.read(shipped(CONFIGURATIONS[line])).plan
    called = {tank.id: tank.called for tank in plan.tanks}
    rows = told_by("linewatch_sim", ["--troubles", "--line", line]).splitlines()
    return "\n".join(with_names(row, called) for row in rows)


def with_names(row: str, called: Mapping[str, str]) -> str:
    """Return a row of the list of troubles with names for the ids in its sentence.

    Ids that are a word of the language are left: they are the name.
    """
    head = _HEAD.match(row)
    told = row[head.end() :] if head is not None else row
    ids = sorted((each for each in called if "-" in each), key=len, reverse=True)
    if ids:
        one = rf"(?<![\w-])({'|'.join(map(re.escape, ids))})(?![\w-])"
        told = re.sub(one, lambda found: called[found[1]], told)
    return f"{head[0] if head is not None else ''}{told}"
