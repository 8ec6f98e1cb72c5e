"""What may be wrong with what serves the lines; as it stands at first, all is well."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import TypeAlias

from linewatch_sim.parts import AtOne, AtZero


@dataclass(slots=True)
class UtilityWrong:
    """One place for each subject; what a subject does not have, nothing asks for."""

    empty: AtZero
    """A reagent no longer arrives, though its pump runs."""
    coated: AtOne
    """Factor on the time constant of a stage's probes."""
    wet_glass: AtZero
    """The pH glass is broken and shows 7."""
    surge: AtOne
    """At neutralising: factor on the flow of all streams."""
    slug: AtZero
    """At neutralising: acid that somebody dumps into the general stream [mol/L]."""
    runs_on: AtZero
    """Share of its strength at which a dosing pump runs, whatever its controller says."""
    strength: AtOne
    """Factor on what a stream brings."""
    torn: AtZero
    """Cloth or pad lets through."""
    loaded: AtZero
    """Cloth, pad or resin is at its end."""
    stopped: AtZero
    """A fan or a pump stands."""
    slip: AtZero
    """Share of its speed that a fan loses."""
    starved: AtZero
    """No air comes in for what is drawn out."""


@dataclass(frozen=True, slots=True)
class OneWrong:
    """What is wrong with one subject."""

    empty: float
    coated: float
    wet_glass: float
    surge: float
    slug: float
    runs_on: float
    strength: float
    torn: float
    loaded: float
    stopped: float
    slip: float
    starved: float


At: TypeAlias = Callable[[str], OneWrong]
"""Given a subject, what is wrong with it."""

NOTHING = OneWrong(
    empty=0.0,
    coated=1.0,
    wet_glass=0.0,
    surge=1.0,
    slug=0.0,
    runs_on=0.0,
    strength=1.0,
    torn=0.0,
    loaded=0.0,
    stopped=0.0,
    slip=0.0,
    starved=0.0,
)


def one_of(wrong: UtilityWrong, place: int) -> OneWrong:
    """Return what is wrong with the subject at a place."""
    return OneWrong(*(float(getattr(wrong, field.name)[place]) for field in fields(wrong)))


def all_of(wrong: UtilityWrong, subjects: Sequence[str]) -> dict[str, OneWrong]:
    """Return what is wrong with every subject."""
    return {subject: one_of(wrong, k) for k, subject in enumerate(subjects)}
