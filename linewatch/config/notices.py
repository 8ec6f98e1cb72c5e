"""The file that says who is told of alarms outside the screen; it lies apart from the line's.

A line's configuration is kept in the record for good and shown to whoever asks. Addresses and
passwords must not be: they stand in this file alone, or in variables of the environment that
it names (`url = "env:SHIFT_PHONE"`).
"""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field, ValidationError, field_validator

from linewatch.config.model import Duration, Id, Period, Section
from linewatch.config.text import text_of
from linewatch.core.errors import ConfigurationFaulty
from linewatch.core.notices import Quiet, Way

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

ENVIRONMENT = "env:"
Clock = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]
Priority = Literal["low", "medium", "high", "highest"]


class QuietSection(Section):
    """Hours in which only what is urgent is told; the rest waits for their end."""

    begin: Clock
    """When it begins by the local clock: "22:00"."""
    end: Clock
    """When it ends; before `begin` it is the next morning."""
    least: Priority = "highest"
    """Least priority that is told nevertheless."""


class VoiceSection(Section):
    """How something is said: by a service of the apprise library, or by a command."""

    url: str | None = None
    """A service and its address as the apprise library writes them; or env:NAME."""
    command: list[str] = Field(default_factory=list)
    """A program and its arguments; what is to be said comes on its standard input."""
    patience: Period = 30.0
    """How long it may take."""

    @field_validator("command")
    @classmethod
    def _has_program(cls, value: list[str]) -> list[str]:
        if value and not value[0].strip():
            raise ValueError("the first entry is the program to start")
        return value


class WaySection(VoiceSection):
    """A way of being heard."""

    id: Id
    least: Priority = "high"
    """Least priority of an alarm that is told this way."""
    after: Duration = 0.0
    """How long nobody must have acknowledged it before it is told this way."""
    gather: Duration = 30.0
    """Least time between two notices; what comes in between is told together."""
    quiet: QuietSection | None = None


class HeartbeatSection(VoiceSection):
    """A sign of life for somebody outside, who tells when it stays away."""

    every: Period = 60.0
    """How often, while a collector records."""


class NoticesFile(Section):
    """The whole file."""

    way: list[WaySection] = Field(default_factory=list)
    heartbeat: HeartbeatSection | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceSettings:
    """How something is said. Its text never shows the address."""

    id: str
    url: str
    command: tuple[str, ...]
    patience_s: float

    @property
    def kind(self) -> str:
        """Return what it is, without a secret: 'command ring', 'mailtos'."""
        if self.command:
            return f"command {self.command[0]}"
        return self.url.partition(":")[0]

    def __repr__(self) -> str:
        """Return it without address and arguments."""
        return f"VoiceSettings({self.id}, {self.kind})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Notices:
    """What the file says."""

    ways: tuple[Way, ...]
    voices: tuple[VoiceSettings, ...]
    """Of each way."""
    heartbeat: VoiceSettings | None
    heartbeat_s: float


def read_notices(path: Path, environment: Mapping[str, str] | None = None) -> Notices:
    """Return what a file says.

    Raises:
        ConfigurationFaulty: all that is wrong with it.
    """
    known = os.environ if environment is None else environment
    try:
        found = NoticesFile.model_validate(tomllib.loads(text_of(path)))
    except tomllib.TOMLDecodeError as error:
        raise ConfigurationFaulty(str(path), (str(error),)) from error
    except ValidationError as error:
        # What was typed may be a secret: the place and the fault alone are told.
        faults = tuple(
            f"{'.'.join(map(str, each['loc']))}: {each['msg']}" for each in error.errors()
        )
        raise ConfigurationFaulty(str(path), faults) from None
    faults_: list[str] = []
    voices = [_voice(each, each.id, known, faults_) for each in found.way]
    ids = [each.id for each in found.way]
    faults_ += [
        f"way {each}: it stands there twice" for each in set(ids) if ids.count(each) > 1
    ]
    beat = found.heartbeat
    heartbeat = _voice(beat, "heartbeat", known, faults_) if beat is not None else None
    if "heartbeat" in ids:
        faults_.append("way heartbeat: that is the name of the sign of life; take another")
    if faults_:
        raise ConfigurationFaulty(str(path), tuple(faults_))
    return Notices(
        ways=tuple(_way(each) for each in found.way),
        voices=tuple(voices),
        heartbeat=heartbeat,
        heartbeat_s=beat.every if beat is not None else 0.0,
    )


def _way(section: WaySection) -> Way:
    quiet = section.quiet
    return Way(
        id=section.id,
        least=section.least,
        after_s=section.after,
        gather_s=section.gather,
        quiet=Quiet(
            begin_min=_minute(quiet.begin), end_min=_minute(quiet.end), least=quiet.least
        )
        if quiet is not None
        else None,
    )


def _minute(clock: str) -> int:
    hour, _, minute = clock.partition(":")
    return int(hour) * 60 + int(minute)


def _voice(
    section: VoiceSection, name: str, environment: Mapping[str, str], faults: list[str]
) -> VoiceSettings:
    url = section.url or ""
    if bool(url) == bool(section.command):
        faults.append(f"{name}: say either url or command")
    if url.startswith(ENVIRONMENT):
        variable = url.removeprefix(ENVIRONMENT)
        url = environment.get(variable, "")
        if not url:
            faults.append(f"{name}: the environment has no variable {variable}")
    return VoiceSettings(
        id=name, url=url, command=tuple(section.command), patience_s=section.patience
    )
