"""Who may hear the raw frames of a link: a file that a person asked for.

Rule 1: an ear only hears. What it is told has been sent, or has arrived, already; it answers
        nothing, waits for nothing and raises nothing, so that it cannot change a poll.
Rule 2: while nobody captures there is no ear, and a frame costs nothing more.
"""

from __future__ import annotations

from typing import Protocol


class Ear(Protocol):
    """Hears frames."""

    def __call__(self, unit: int | None, frame: bytes, *, is_ours: bool) -> None:
        """Hear bytes that were sent, or that arrived in one piece.

        Args:
            unit: The unit that was asked; None: nobody was.
            frame: The bytes.
            is_ours: They were sent.
        """
