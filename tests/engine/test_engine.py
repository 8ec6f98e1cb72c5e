"""The loop of a collector: what it tells of itself."""

from __future__ import annotations

import asyncio

from linewatch import history
from linewatch.core.events import EventKind
from linewatch.core.line import Line
from linewatch.core.plan import LinePlan
from linewatch.core.ports import RunStart
from linewatch.core.readings import Moment
from linewatch.engine.clock import NS, SystemClock
from linewatch.engine.engine import Engine

PLAN = LinePlan(
    line_id="bare",
    name="Bare line",
    fingerprint="f" * 64,
    layouts=(),
    tags={},
    tanks=(),
    rectifiers=(),
    baths=(),
    conditions=(),
)


class StoppedClock(SystemClock):
    """A clock that goes on while nobody runs, as it does for a process that was stopped."""

    stopped_s = 0.0

    def now(self) -> Moment:
        moment = super().now()
        away_ns = round(self.stopped_s * NS)
        return Moment(utc_ns=moment.utc_ns + away_ns, mono_ns=moment.mono_ns + away_ns)

    def wall_s(self) -> float:
        return super().wall_s() + self.stopped_s


async def collect(store, stopped_s: float):
    """Let a collector run, stop it once for so long, and return what was recorded."""
    clock, stop = StoppedClock(), asyncio.Event()
    journal = history.open_journal(store, "bare")
    run = RunStart(run_id="r", at=clock.now(), fingerprint=PLAN.fingerprint, speed=1.0)
    engine = Engine(lambda kept: Line(PLAN, kept), (), clock, journal, run)

    publish = engine.publish

    def shown() -> None:
        publish()
        stop.set()

    def begun(_: Engine) -> None:
        clock.stopped_s = stopped_s
        engine.publish = shown

    engine.on_begin = begun
    await engine.run(stop)
    journal.close()
    desk = history.open_desk(store, "bare")
    events = [stored.event for stored in desk.latest()]
    desk.close()
    return events


async def test_a_collector_that_stood_says_for_how_long(tmp_path):
    events = await collect(tmp_path, 12.0)

    (stood,) = [each for each in events if each.kind is EventKind.COLLECTOR_STOOD]
    assert stood.text == "the collector itself stood for 12 s; nothing was read meanwhile"
    assert stood.subject == "bare"


async def test_a_collector_that_was_held_up_for_a_moment_says_nothing(tmp_path):
    events = await collect(tmp_path, 1.0)

    assert [each.kind for each in events] == [EventKind.RUN_STARTED]


async def test_what_a_collector_said_of_itself_is_told_again_by_a_replay(tmp_path):
    events = await collect(tmp_path, 12.0)

    replayed = history.replay(tmp_path, "bare", lambda _: PLAN)

    assert list(replayed.events) == events
