"""What a rule is: data, and one pure function over the signals of a position.

Rule 1: a function keeps nothing itself; what it must remember is a short row of numbers that
        it is given and returns, so that a replay looks at the same things.
Rule 2: what the newest look cannot tell returns no verdict; then all stays as it was.
Rule 3: a safety rule has no states in which it is quiet, and says that hardware must act.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

from linewatch.core.plan import Priority, Window

LOOK_S = 30.0
"""Line time between two looks [s]."""
Kept: TypeAlias = tuple[float, ...]
"""What one rule remembers of one position; empty at first."""
INTERLOCK = (
    "A hard-wired interlock must exist and act by itself; this is only a second pair of eyes."
)


class Told(NamedTuple):
    """What a look has told."""

    is_there: bool
    value: float
    """What it was told by, in the unit of `Rule.unit`."""
    is_suspected: bool = False
    """Too early for a verdict, but it looks like it: what would follow from it waits."""


@dataclass(slots=True, kw_only=True)
class Seen:
    """What a rule may look at: one tank, rectifier or other subject at one look."""

    now_s: float = 0.0
    """Line time [s]."""
    value: Mapping[str, float | None] = field(default_factory=dict)
    """Good values by measurement kind with its suffix; None where it is not good."""
    doubted: frozenset[str] = frozenset()
    """Kinds of which something says that their readings are not what they look like; a rule
    of danger to people sees them in `value` all the same."""
    window: Mapping[str, Window] = field(default_factory=dict)
    work: bool | None = None
    """A load is in the tank, or in one that the rectifier feeds; None: nothing tells."""
    since_s: float = 0.0
    """How long that has been so [s]."""
    spread: float | None = None
    """How much the rectifier's current moved within a minute [1]."""
    rated_a: float = 0.0
    rated_v: float = 0.0
    nothing_a: float = 0.0
    """Currents of smaller magnitude count as none."""
    is_anodic: bool = False
    """A positive current makes the work the anode."""
    limit: float = 0.0
    """The rule's limit as it is configured here."""


Judge: TypeAlias = "Callable[[Seen, Kept], tuple[Told | None, Kept]]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One row of the library."""

    name: str
    title: str
    """Short text of its alarm."""
    of: tuple[str, ...]
    """Kinds of position, or 'rectifier', that it may watch."""
    needs: tuple[str, ...]
    """Measurement kinds, with suffix, without which it cannot be told."""
    judge: Judge
    limit: float
    unit: str
    """Unit of limit and evidence, which are of one quantity, or `limit_says` of which."""
    evidence: str
    """What the figure of its alarm is, in words."""
    limit_says: str = "limit {}"
    """What the limit beside that figure is, with its figure at {}; empty: none is told."""
    evidence_inside: str = ""
    """The same where the figure is not beyond its limit and another one has told it."""
    beside: tuple[str, ...] = ()
    """Kinds that a tank fed by the rectifier must measure."""
    not_beside: tuple[str, ...] = ()
    """Kinds whose presence there means that another rule watches."""
    fits: Callable[[Mapping[str, Window]], bool] | None = None
    """Whether windows say that this is such a position; None: any."""
    fits_says: str = ""
    """In words, what `fits` asks of a position: 'baths that are heated'."""
    in_cyanide: bool = False
    """It watches only where the liquid holds cyanide."""
    looks: int = 1
    """How many verdicts in a row must tell it; as many tell that it is over."""
    priority: Priority = "medium"
    cause: str
    consequence: str
    consequences: Mapping[str, str] = field(default_factory=dict)
    """What fits single kinds of position, or groups of them as the configuration has them."""
    action: str
    respond_within_s: float
    suppress_when: tuple[str, ...] = ()
    is_safety: bool = False
    doubts: tuple[str, ...] = ()
    """Measurement kinds whose readings are not what they look like while the rule tells."""
    late_s: float = 120.0
    """How late it may tell, after what follows from it has been told already [s]."""
    explains: tuple[str, ...] = ()
    """Alarms of the same position, as 'current.low', that follow from what it tells."""

    def full_action(self) -> str:
        """Return the first checks; of a safety rule with the interlock's sentence."""
        return f"{self.action}. {INTERLOCK}" if self.is_safety else self.action
