"""A collector: drivers, line and journal round the one loop."""

from __future__ import annotations

import gc
import uuid
from functools import partial
from typing import TYPE_CHECKING

from linewatch.core.alarms.alarm import NOBODY, By
from linewatch.core.errors import ConfigurationFaulty
from linewatch.core.line import Line
from linewatch.core.ports import RunStart
from linewatch.engine.clock import SystemClock
from linewatch.engine.engine import Engine, last_seen
from linewatch.engine.link import LinkPlan
from linewatch.wiring.allocation import keep_large_pieces_apart
from linewatch.wiring.frames import FrameCaptures

if TYPE_CHECKING:
    import asyncio
    from collections.abc import Callable
    from pathlib import Path

    from linewatch.config import Works
    from linewatch.config.links import LinkSettings
    from linewatch.core.ports import Driver


async def collect(
    works: Works,
    store: Path,
    *,
    speed: float = 1.0,
    by: By = NOBODY,
    stop: asyncio.Event,
    began: Callable[[Engine], None] | None = None,
) -> Engine:
    """Collect until `stop` is set or a person ends it; return the engine as it ended.

    Raises:
        CollectorRunning: another collector holds the line.
        StoreUnusable: the store cannot be opened.
    """
    # Here, not at the top: a viewer must not pay for what only a collector needs. SciPy takes
    # half a second to load; in the midst of a run the first fit would hold up every scan.
    import scipy.stats

    from linewatch import history

    _ = scipy.stats

    keep_large_pieces_apart(len(works.plan.tags))
    journal = history.open_journal(store, works.plan.line_id)
    try:
        memory = journal.memory()
        clock = SystemClock(speed=speed, last=last_seen(memory))
        captures = FrameCaptures(
            works.plan, partial(history.open_frames, store, works.plan.line_id), clock
        )
        links = [_link_plan(settings, clock, captures) for settings in works.links]
        journal.record_configuration(
            works.fingerprint,
            works.text,
            who=by.who,
            why=by.why or "collector started",
            at=clock.now(),
            changes=_changed(journal.text_in_force(), works),
        )
        run = RunStart(
            run_id=uuid.uuid4().hex,
            at=clock.now(),
            fingerprint=works.fingerprint,
            speed=speed,
            who=by.who,
        )
        engine = Engine(lambda kept: Line(works.plan, kept), links, clock, journal, run)
        engine.on_begin = began
        engine.captures = captures
        # What is there now stays for good. Left out of every later search for garbage, it no
        # longer makes those so rare that hours of garbage pile up in between.
        gc.collect()
        gc.freeze()
        try:
            await engine.run(stop)
        finally:
            captures.close()
        return engine
    finally:
        journal.close()


def _changed(before: str | None, works: Works) -> list[str]:
    """Return what a configuration changes against the one before, a sentence each."""
    from linewatch import config
    from linewatch.config.changes import changes

    if before is None or before == works.text:
        return []
    try:
        old = config.read_text(before, "the configuration before")
    except ConfigurationFaulty:
        # An earlier linewatch took it; this one no longer reads it.
        return ["the configuration before can no longer be read"]
    return [str(each) for each in changes(old.plan, works.plan)]


def _link_plan(settings: LinkSettings, clock: SystemClock, captures: FrameCaptures) -> LinkPlan:
    from linewatch import drivers

    # Made now, so that loading its modules does not delay the first poll.
    ready = [drivers.open_driver(settings, clock)]

    def open_driver() -> Driver:
        driver = ready.pop() if ready else drivers.open_driver(settings, clock)
        return captures.opened(settings.link.id, driver)

    return LinkPlan(
        id=settings.link.id,
        protocol=settings.link.protocol,
        address=settings.link.address,
        layouts=tuple(layout for device in settings.devices for layout in device.layouts),
        open=open_driver,
    )
