"""What is kept of one rinse: the load that is in it, its looks, and means of its last loads."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any, Final

from linewatch.core.water.seen import LOADS_MEANT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.water.rinsing import Ranged

MIXED_S: Final = 60.0
"""A rinse is mixed so long after a load came in; without air it takes up to 90 s. Common
practice."""
FILMS: Final = ("film", "per_m2")
TAUGHT: Final = frozenset(
    {"step_us", "before_us", *(f"{key}_{end}" for key in FILMS for end in ("low", "high"))}
)
"""Means that go over the loads whose step is told."""


@dataclass(slots=True)
class Coming:
    """A load that came in and whose step is still to be told."""

    utc_ns: int
    at_s: float
    before_us: float
    before_pm: float
    load: str = ""
    source: str = ""
    source_us: list[float] | None = None
    """What that tank conducted when it came: value, least, most [µS/cm]; None: unknown."""
    source_from: str = ""
    area_dm2: float | None = None
    tolerance: float = 0.05
    part: str = ""
    after_us: float | None = None
    """The rinse after it, brought back to its coming; None: not enough looks yet."""
    after_pm: float = 0.0
    exit_us: float | None = None
    """The rinse when it was lifted out."""
    dwell_s: float | None = None
    why: str = ""
    """Why its step cannot be told; '': nothing speaks against it."""


@dataclass(slots=True)
class Rinse:
    """What is kept of one rinse."""

    looks: list[list[float]] = field(default_factory=list)
    """The newest looks since all was mixed: time [s], conductivity [µS/cm]."""
    coming: Coming | None = None
    came_s: float = -1.0
    """When the last load came in; -1: none yet."""
    looked_s: float = -1.0
    water_l: float = 0.0
    """What ran through since the last load was told of."""
    unknown_s: float = 0.0
    """Time of that in which no good flow was read."""
    loads: int = 0
    beyond: int = 0
    """How many left it above its limit."""
    has_jumped: bool = False
    """Something else ran into it, and is not out again."""
    jumped_s: float = -1.0
    """When that was; -1: never."""
    untold: int = 0
    """How many of them brought what nobody can tell."""
    why: str = ""
    """Why, of the last of those."""
    means: dict[str, float] = field(default_factory=dict)


def mean(rinse: Rinse, name: str, value: float) -> None:
    """Let a mean go on by one load."""
    count = min(rinse.means.get(f"{name}.n", 0.0) + 1.0, float(LOADS_MEANT))
    mean = rinse.means.get(name, value)
    rinse.means[f"{name}.n"] = count
    rinse.means[name] = mean + (value - mean) / count


def is_mixed(rinse: Rinse, now_s: float) -> bool:
    """Say whether a rinse is mixed again since a load came, or something else ran in."""
    last_s = max(rinse.came_s, rinse.jumped_s)
    return last_s < 0.0 or now_s - last_s >= MIXED_S


def teach(
    rinse: Rinse, step: Ranged, before_us: float, films: dict[str, Ranged | None]
) -> None:
    """Let the means go on by what a load brought."""
    mean(rinse, "step_us", step.value)
    mean(rinse, "before_us", before_us)
    for key, found in films.items():
        if found is not None:
            mean(rinse, f"{key}_low", found.value - found.pm)
            mean(rinse, f"{key}_high", found.value + found.pm)


def _forget_nonsense(means: dict[str, float]) -> None:
    """Forget means that earlier versions took over steps that told nothing."""
    is_nonsense = means.get("step_us", 1.0) <= 0.0 or any(
        means.get(f"{key}_low", 0.0) > means.get(f"{key}_high", 0.0) for key in FILMS
    )
    if is_nonsense:
        for name in list(means):
            if name.partition(".")[0] in TAUGHT:
                del means[name]


def told_words(load: str, step: Ranged, film: Ranged | None, why: str) -> str:
    """Return in words what a load brought."""
    if why:
        return f"what load {load} carried in is not known: {why}"
    text = f"load {load} raised it by {step.value:.0f} µS/cm"
    return f"{text}: {film.value:.0f} ± {film.pm:.0f} mL were carried in" if film else text


def rinse_from(row: Mapping[str, Any]) -> Rinse:
    """Return a rinse from what was remembered of it; what is not known here is passed over."""
    rinse = Rinse(**{key: each for key, each in row.items() if key in _names(Rinse)})
    coming = row.get("coming")
    if coming is not None:
        known = _names(Coming)
        rinse.coming = Coming(**{key: each for key, each in coming.items() if key in known})
    _forget_nonsense(rinse.means)
    return rinse


def _names(kind: type) -> set[str]:
    return {each.name for each in fields(kind)}
