"""What every calculation of the desk is made of, and how a question is worked out.

Rule 1: inputs come as people write them and are turned into the input's own unit here; a
        calculation sees numbers only.
Rule 2: no input has a default. Leaving out an optional one leaves out a part of the answer.
Rule 3: an answer is kept in metric units; US units are the same answer, said otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from linewatch.core import units
from linewatch.core.electrochemistry.alloys import deposit_named
from linewatch.core.electrochemistry.explanation import Explanation, GivenInput
from linewatch.core.electrochemistry.metals import Deposit
from linewatch.core.errors import OutsideValidity, Refused, UnitMismatch

InputKind: TypeAlias = Literal["quantity", "ratio", "count", "number", "deposit"]
"""A quantity with its unit, a share ("95 %" or "0.95"), a whole number, a plain number, or
a metal or alloy."""

LARGEST_COUNT = 1_000_000
WHOLE_PERCENT = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One thing that a calculation asks for."""

    name: str
    """As it is written on the command line: 'area-per-part'."""
    words: str
    """What it is, in one line."""
    example: str
    """As a person would write it."""
    kind: InputKind = "quantity"
    unit: str = ""
    """Unit in which a quantity is kept; a name that core/units.py knows."""
    symbol: str = ""
    """As it stands in the formula."""
    is_optional: bool = False
    """It can be left out: another input stands in for it, or a part of the answer is left out
    with it. `words` says which."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One figure that a calculation gives."""

    name: str
    value: float
    unit: str
    """A name that core/units.py knows; empty for a plain number."""
    plus_or_minus: float | None = None
    """Expanded uncertainty (k = 2) in the same unit, if limits of error were given."""

    def shown_in(self, system: str) -> Answer:
        """Return the same answer in a system of units.

        Args:
            system: "metric" or "us".

        Returns:
            The answer; itself, where the two systems share the unit.
        """
        unit = units.shown_unit(self.unit, system)
        if unit == self.unit:
            return self
        doubt = self.plus_or_minus
        if doubt is not None:
            # A ± is a difference: it scales with the unit and has no zero point.
            doubt *= units.UNITS[self.unit].factor / units.UNITS[unit].factor
        return Answer(
            name=self.name,
            value=units.convert(self.value, self.unit, unit),
            unit=unit,
            plus_or_minus=doubt,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """A question with its answers and the reason for the first of them."""

    answers: tuple[Answer, ...]
    explanation: Explanation


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """The inputs of one question, read and in their own units."""

    calculation: str
    inputs: tuple[Input, ...]
    numbers: Mapping[str, float]
    deposits: Mapping[str, Deposit]

    def has(self, *names: str) -> bool:
        """Say whether all of these inputs were given."""
        return all(name in self.numbers or name in self.deposits for name in names)

    def has_any(self, *names: str) -> bool:
        """Say whether at least one of these inputs was given."""
        return any(self.has(name) for name in names)

    def number(self, name: str) -> float:
        """Return an input in its own unit.

        Args:
            name: Name of the input.

        Returns:
            The number.

        Raises:
            Refused: it was not given.
        """
        if name not in self.numbers:
            raise self.missing(name)
        return self.numbers[name]

    def number_or(self, name: str, otherwise: float) -> float:
        """Return an optional input, or what leaving it out means."""
        return self.numbers.get(name, otherwise)

    def deposit(self) -> Deposit:
        """Return the metal or alloy.

        Returns:
            The deposit.

        Raises:
            Refused: it was not given.
        """
        if "metal" not in self.deposits:
            raise self.missing("metal")
        return self.deposits["metal"]

    def missing(self, name: str) -> Refused:
        """Return the refusal that names a missing input."""
        asked = next(each for each in self.inputs if each.name == name)
        return Refused(
            f"calculate {self.calculation}",
            f'{name} is missing ({asked.words}); an example: {name} "{asked.example}"',
        )

    def typed(self) -> tuple[GivenInput, ...]:
        """Return what was typed in, as an explanation tells it."""
        return tuple(
            GivenInput(
                name=each.words,
                symbol=each.symbol,
                value=self.numbers[each.name],
                unit=each.unit,
                source="typed in",
            )
            for each in self.inputs
            if each.name in self.numbers
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculation:
    """One calculation of the desk: what it asks, how it works and where it comes from."""

    name: str
    """As it is written on the command line: 'thickness'."""
    words: str
    """What it answers, in one line."""
    inputs: tuple[Input, ...]
    formula: str
    sources: tuple[str, ...]
    work: Callable[[Given], Worked]
    """Turns read inputs into answers."""

    def work_out(self, texts: Mapping[str, str]) -> Worked:
        """Return the answers to a question.

        Args:
            texts: What a person wrote, by the name of the input: {"charge": "2400 A.h"}.

        Returns:
            Answers and explanation.

        Raises:
            Refused: an input is missing, not known, or given twice over.
            UnitMismatch: a text is no quantity of the input's dimension.
            OutsideValidity: a number is outside what the formula holds for.
        """
        known = {each.name: each for each in self.inputs}
        numbers: dict[str, float] = {}
        deposits: dict[str, Deposit] = {}
        for name, text in texts.items():
            if name not in known:
                raise Refused(
                    f"calculate {self.name}", f"no input {name!r}; use {', '.join(known)}"
                )
            asked = known[name]
            if asked.kind == "deposit":
                deposits[name] = deposit_named(text)
            else:
                numbers[name] = _number(text, asked)
        return self.work(
            Given(calculation=self.name, inputs=self.inputs, numbers=numbers, deposits=deposits)
        )


def _number(text: str, asked: Input) -> float:
    if asked.kind == "ratio":
        if text.strip().endswith("%"):
            percent = units.parse(text, "%")
            if not 0.0 <= percent <= WHOLE_PERCENT:
                raise OutsideValidity(asked.name, percent, 0.0, WHOLE_PERCENT, "%")
            return percent / WHOLE_PERCENT
        share = units.parse(text, "")
        if share > 1.0:
            raise UnitMismatch(text, "share", f'write it as "{share:g} %"')
        return share
    number = units.parse(text, asked.unit)
    if asked.kind == "count" and not number.is_integer():
        raise UnitMismatch(text, "whole number", f'write {asked.name} as "{asked.example}"')
    if asked.kind == "count" and not 1 <= number <= LARGEST_COUNT:
        raise OutsideValidity(asked.words, number, 1, LARGEST_COUNT, "")
    return number
