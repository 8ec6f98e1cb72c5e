"""The demonstration: a plant that is not there, its collector and a screen."""

from __future__ import annotations

import asyncio
import contextlib
import shutil
from typing import TYPE_CHECKING, Any

import filelock

from linewatch import config
from linewatch.core.errors import StoreUnusable
from linewatch.wiring.places import shipped
from linewatch.wiring.plant import running_plant
from linewatch.wiring.processes import end_child, start_child
from linewatch.wiring.viewer import desk_when_ready, watch

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path


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


def demo(
    store: Path,
    *,
    fresh: bool,
    speed: float,
    troubles: Sequence[str],
    seed: int,
    line: str,
) -> int:
    """Show the demo line until the screen is closed; leave no process behind."""
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
            return watch(desk, where=folder)
        finally:
            end_child(collector)


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


def _configured(folder: Path, line: str, links: Mapping[str, str]) -> tuple[config.Works, Path]:
    """Write the demo's configuration with the plant's addresses; return it and its file."""
    works = config.read(shipped(CONFIGURATIONS[line])).with_addresses(links)
    file = folder / "demo.toml"
    file.write_text(works.text, encoding="utf-8")
    return works, file
