"""Rinses and levels as a picture holds them; no NaN, no bad number."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

LOADS_MEANT: Final = 10
"""Loads that a mean on screen goes over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RinsePicture:
    """What the conductivity of a rinse tells, by the means of its last loads."""

    tank: str
    source: str = ""
    """The tank that loads came from."""
    source_us: float | None = None
    source_from: str = ""
    """'measured', 'read by hand', 'its window'; '' if nobody knows what it conducts."""
    loads: int = 0
    """Loads told of, since the record began."""
    beyond: int = 0
    """How many of them left it above its limit."""
    untold: int = 0
    """How many of them brought what nobody can tell; no mean goes over them."""
    why_untold: str = ""
    """Why, of the last of those."""
    step_us: float | None = None
    before_us: float | None = None
    exit_us: float | None = None
    """When loads leave."""
    limit_us: float | None = None
    interval_s: float | None = None
    dwell_s: float | None = None
    volume_l: float | None = None
    film_ml: float | None = None
    """What a load carries in."""
    film_pm_ml: float | None = None
    film_ml_per_m2: float | None = None
    film_pm_ml_per_m2: float | None = None
    flow_l_per_min: float | None = None
    """By its meter."""
    decay_flow_l_per_min: float | None = None
    """By the decay between loads."""
    decay_flow_pm_l_per_min: float | None = None
    decay_s: float | None = None
    """Time in which it falls to 37 % of what is above its water."""
    feed_us: float | None = None
    """The water that runs in."""
    needed_l_per_min: float | None = None
    """Water that just keeps it at its limit when loads leave."""
    staged_l_per_min: float | None = None
    """Water that two counterflow stages would need for the same."""
    next_stage: str = ""
    """The stage whose water runs in."""
    ratio: float | None = None
    """How many times as dirty it is as that stage."""
    theory_ratio: float | None = None
    missing: tuple[str, ...] = ()
    """What is missing to tell more."""

    @property
    def over_loads(self) -> str:
        """Return over which loads its means go: 'the 2 loads so far', 'the last ten loads'."""
        if not self.loads:
            return "no load as yet"
        told = self.loads - self.untold
        tail = " whose step was told" if self.untold else " so far"
        if told >= LOADS_MEANT:
            return f"the last ten loads{tail if self.untold else ''}"
        if told == 1:
            return f"the one load{tail}"
        return f"the {told} loads{tail}" if told else "no load whose step was told"

    @property
    def untold_words(self) -> str:
        """Return of how many loads nobody can tell what they brought, and why; '': of none."""
        if not self.untold:
            return ""
        last = "; of the last" if self.untold > 1 else ""
        of = f"{self.untold} of {self.loads} loads"
        return f"what {of} carried in is not known{last}: {self.why_untold}"

    @property
    def is_beyond(self) -> bool:
        """Say whether loads leave it, on average, above its limit."""
        return (
            self.exit_us is not None
            and self.limit_us is not None
            and self.exit_us > self.limit_us
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelPicture:
    """Where the water of one tank goes, by its level."""

    tank: str
    evaporates_l_per_h: float | None = None
    """By temperature and surface; a rule that may be wrong by a factor of two."""
    falls_l_per_h: float | None = None
    """What it loses while nothing moves and nobody fills, over the last half hour of looks."""
    usual_l_per_h: float | None = None
    """What it usually loses so at this temperature; None: not learned yet."""
    leaks_l_per_h: float | None = None
    """Beyond what is usual, where it is more than the tank's own scatter; 0: none is seen."""
    leaks_unknown: str = ""
    """Why nobody can say whether it loses more than usual; '' where it can be said."""
    topped_up_l_per_h: float | None = None
    """What was filled in, by the rises of the level over the last hours."""
    dragged_l_per_h: float | None = None
    """What loads carried out of it, as the rinse after it tells, or as it is configured."""
    dragged_from: str = ""
    """'rinse rinse-5', 'configuration'."""
    room_l_per_h: float | None = None
    """Rinse water that could come back: what evaporates makes room for it."""
    returns_ratio: float | None = None
    """Share of the drag-out that so much of the rinse after it holds [1]."""
