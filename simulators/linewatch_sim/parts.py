"""What every part of a plant has in common: elements, quantities, and what may be wrong.

A part keeps its state in arrays with one place for each of its elements. `QUANTITIES` says
what an instrument could read there; `wrong` holds what a trouble may change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields
from typing import Annotated, Any, Protocol, TypeAlias, TypeVar, get_type_hints

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Quantity: TypeAlias = Callable[[Any, int], float]
"""Given a part and an element's place, what an instrument there would read."""

AtOne: TypeAlias = Annotated[Floats, 1.0]
"""What may be wrong: 1 is as it should be."""
AtZero: TypeAlias = Annotated[Floats, 0.0]
"""What may be wrong: 0 is as it should be."""

T = TypeVar("T")


class Part(Protocol):
    """One part of a plant."""

    @property
    def ids(self) -> Sequence[str]:
        """Its elements: tanks, rectifiers, stages."""

    @property
    def wrong(self) -> object:
        """Arrays that a trouble may change, one place for each element."""

    @property
    def quantities(self) -> Mapping[str, Quantity]:
        """What can be read, by kind."""


def columns(kind: type[T], rows: Iterable[object]) -> T:
    """Return a dataclass of arrays: each field holds that attribute of every row.

    An attribute that is None becomes not-a-number.
    """
    some = list(rows)
    return kind(
        **{
            field.name: np.array(
                [
                    np.nan if (value := getattr(row, field.name)) is None else value
                    for row in some
                ],
                dtype=float,
            )
            for field in fields(kind)  # type: ignore[arg-type]
        }
    )


def usual(kind: type[T], count: int) -> T:
    """Return a dataclass of arrays in which nothing is wrong: all AtOne 1, all AtZero 0."""
    hints = get_type_hints(kind, include_extras=True)
    return kind(**{name: np.full(count, hint.__metadata__[0]) for name, hint in hints.items()})
