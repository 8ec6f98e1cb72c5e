"""What a person says from the command line, and what becomes of it."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from linewatch.core.commands import AnyCommand
    from linewatch.core.ports import Desk

ANSWERED_S = 5.0
LOOK_S = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What became of something said."""

    done: bool
    text: str

    def remarked(self, remark: str) -> str:
        """Return the text with a remark on what was saved: 'saved: Ni 81 g/L, above …'."""
        if not self.done or not remark:
            return self.text
        saved, semicolon, rest = self.text.partition(";")
        return f"{saved}: {remark}{semicolon}{rest}"


def say(desk: Desk, command: AnyCommand) -> Answer:
    """Leave something that a person says, and wait for what becomes of it.

    Raises:
        StoreUnusable: the store does not take it; nothing was left.
    """
    number = desk.request(command)
    if not desk.alive():
        return Answer(
            done=True, text="saved; no collector runs, it is taken as soon as one does"
        )
    until = time.monotonic() + ANSWERED_S
    while time.monotonic() < until:
        outcome = desk.outcome(number)
        if outcome.done:
            return Answer(done=True, text="saved")
        if outcome.refused:
            return Answer(done=False, text=f"refused: {outcome.refused}")
        time.sleep(LOOK_S)
    return Answer(done=True, text="saved; the collector has not taken it yet")
