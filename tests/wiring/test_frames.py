"""Captures of raw frames: who may ask, how long they run, how they end."""

from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import pytest

from linewatch import config, history
from linewatch.config.library import shipped
from linewatch.core.commands import CaptureFrames
from linewatch.core.errors import Refused
from linewatch.core.readings import Moment
from linewatch.history import frames
from linewatch.wiring.frames import FrameCaptures

NS = 10**9
PLAN = config.read(shipped() / "demo.toml").plan
UNIT = "rectifier-nickel-1"
BUS = "rack-rectifiers"


@dataclass
class HandClock:
    """A clock that a test turns."""

    speed: float = 1.0
    at_s: float = 0.0

    def now(self) -> Moment:
        return Moment(utc_ns=round(self.at_s * NS), mono_ns=round(self.at_s * NS))

    def wall_s(self) -> float:
        return self.at_s


@dataclass
class Heard:
    """A driver whose frames can be heard."""

    ear: object = None
    ears: list = field(default_factory=list)

    def listen(self, ear) -> None:
        self.ear = ear
        self.ears.append(ear)


class Deaf:
    """A driver of a protocol that has no frames to hear."""


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def captures(tmp_path: Path, clock: HandClock) -> FrameCaptures:
    made = FrameCaptures(PLAN, partial(history.open_frames, tmp_path, "works"), clock)
    made.opened("services", Deaf())
    return made


def ask(captures: FrameCaptures, subject: str = UNIT, for_s: float = 3600.0) -> None:
    command = CaptureFrames(who="MK", subject=subject, for_s=for_s, why="odd values")
    captures.check(command)
    captures.begin(command)


def test_frames_of_a_rectifiers_link_are_heard_for_an_hour_and_then_no_longer(captures, clock):
    driver = captures.opened(BUS, Heard())
    ask(captures)
    driver.ear(16, b"\x10\x03", is_ours=True)
    clock.at_s = 3599.0
    begun = captures.news()
    driver.ear(16, b"\x10\x83", is_ours=False)
    assert captures.picture(BUS).ended == ""
    clock.at_s = 3600.0
    ended = captures.news()

    assert [link for link, _ in (*begun, *ended)] == [BUS, BUS]
    assert "captured for 60 min" in begun[0][1]
    assert "2 raw frames captured, its time is over" in ended[0][1]
    assert driver.ear is None
    shown = captures.picture(BUS)
    assert (shown.subject, shown.frames, shown.ended) == (UNIT, 2, "its time is over")
    captures.close()
    assert "< " in Path(shown.file).read_text(encoding="ascii")


def test_at_another_speed_a_capture_says_by_which_clock_it_goes(captures, clock):
    clock.speed = 10.0
    captures.opened(BUS, Heard())
    ask(captures)

    assert "captured for 60 min by the clock on the wall: " in captures.news()[0][1]


def test_a_capture_goes_on_when_the_link_comes_back_with_another_driver(captures):
    captures.opened(BUS, Heard())
    ask(captures)
    again = captures.opened(BUS, Heard())
    again.ear(16, b"\x10", is_ours=True)

    assert captures.picture(BUS).frames == 1
    captures.close()
    assert again.ear is None
    assert captures.picture(BUS).ended == "the collector ended"


def test_a_driver_that_comes_when_nothing_is_captured_gets_no_ear(captures):
    assert captures.opened(BUS, Heard()).ears == []


def test_asking_twice_is_refused_and_ending_ends(captures):
    driver = captures.opened(BUS, Heard())
    ask(captures)
    with pytest.raises(Refused, match="being captured already"):
        ask(captures, BUS)
    ask(captures, for_s=0.0)
    assert driver.ear is None
    assert captures.picture(BUS).ended == "ended by MK"
    with pytest.raises(Refused, match="nothing of it is being captured"):
        ask(captures, for_s=0.0)
    captures.close()


def test_what_comes_over_opc_ua_is_refused_with_where_to_look(captures):
    with pytest.raises(Refused, match=r"only Modbus frames can be heard.*linewatch export"):
        ask(captures, "neutralise")


def test_a_full_file_ends_the_capture(captures, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(frames, "MOST_BYTES", 200)
    driver = captures.opened(BUS, Heard())
    ask(captures)
    for _ in range(10):
        driver.ear(16, bytes(8), is_ours=True)
    captures.news()

    assert driver.ear is None
    assert captures.picture(BUS).ended == "the file is full"
    captures.close()
