"""What every view is: rows between the bands, and what is remembered of it while away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from linewatch.core.electrochemistry.explanation import Explanation
from linewatch.core.ports import Sealed, StoredEvent
from linewatch.core.view import LinePicture
from linewatch.ui.draw.rows import Look, Row
from linewatch.ui.draw.shifts import Shift
from linewatch.ui.draw.trend import Curve
from linewatch.ui.keys import Keys

if TYPE_CHECKING:
    from linewatch.core.events import EventKind
    from linewatch.ui.screens.live import LiveScreen


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """All that a view may draw from."""

    picture: LinePicture
    look: Look
    choice: str = ""
    """What the cursor is on."""
    events: Sequence[StoredEvent] = ()
    """The newest events, oldest first."""
    curves: Mapping[str, Curve] = field(default_factory=dict)
    """What was fetched of the past, by tag."""
    why: Sequence[Explanation] = ()
    """What was fetched of how the figures here were worked out."""
    keys: Keys = field(default_factory=Keys)
    where: str = ""
    """Where the record lies, in words."""
    past: Mapping[str, Sequence[StoredEvent]] = field(default_factory=dict)
    """What was fetched of what happened in the span of a curve, by tag."""
    shift: Shift = field(default_factory=Shift)
    sealed: Sealed | None = None
    """Where the people's journal ends."""


class Wish(NamedTuple):
    """A piece of the past that a view wants to show."""

    tag: str
    start_ns: int
    end_ns: int
    width: int
    """In how many columns."""
    about: tuple[str, ...] = ()
    """Whose events within the span are wanted too."""
    is_curve: bool = True
    """False: only events are wanted, and `tag` merely names them."""
    loads: int = 0
    """How many of the newest events about loads are wanted, whichever load they are of."""
    kinds: tuple[EventKind, ...] = ()
    """Which kinds of events are wanted; () for all."""


class View:
    """One way of looking at the line. It draws what it is told and remembers the cursor."""

    NAME: ClassVar[str] = ""
    """Its name in the table of keys and in the title."""

    def __init__(self, subject: str = "") -> None:
        self.subject = subject
        """What the view as a whole is about; '' if it is about the line."""
        self.choice = subject
        self.top = 0
        self.lower_top = 0

    def title(self, _scene: Scene) -> str:
        """Return what the title says after the line's name."""
        return self.NAME

    def head(self, _scene: Scene) -> Sequence[Row]:
        """Return rows that stay above the body."""
        return ()

    def body(self, _scene: Scene) -> Sequence[Row]:
        """Return the rows that the cursor moves in."""
        return ()

    def lower(self, _scene: Scene) -> Sequence[Row]:
        """Return what stands under the body about the row that is chosen."""
        return ()

    def idle(self, _scene: Scene) -> frozenset[str]:
        """Return the keys that would do nothing now: the footer leaves them out."""
        return frozenset()

    def about(self, choice: str) -> str:
        """Return what a note, a trend or a question is about: 'tank nickel-1'."""
        return choice or self.subject

    def wants(self, _choice: str, _now_ns: int) -> Sequence[Wish]:
        """Return the pieces of the past that the view shows."""
        return ()

    def do(self, _key_id: str, _screen: LiveScreen) -> bool:
        """Do what a key means in this view alone; say whether it means anything."""
        return False
