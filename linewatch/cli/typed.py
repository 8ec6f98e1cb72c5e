"""What is typed on a command line: numbers, and what is said of what cannot be meant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import CoercionError, MissingArgumentError, Parameter, UnusedCliTokensError

from linewatch.core import units
from linewatch.core.errors import Refused, UnitMismatch

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cyclopts import Argument, ArgumentCollection, CycloptsError, Token


def _number(_kind: object, tokens: Sequence[Token]) -> float:
    """Return a number as the screen and a laboratory's file take it."""
    return units.number(tokens[0].value)


def _whole(_kind: object, tokens: Sequence[Token]) -> int:
    return units.whole(tokens[0].value)


Number = Annotated[float, Parameter(converter=_number)]
Whole = Annotated[int, Parameter(converter=_whole)]


def at_least_one(option: str, count: int) -> int:
    """Return a count that is asked for.

    Raises:
        Refused: it is less than 1.
    """
    if count < 1:
        raise Refused(f"{option} {count}", "write 1 or more")
    return count


def fault(error: CycloptsError) -> str:
    """Return in a sentence what cannot be meant, and what to write instead."""
    command = " ".join(("linewatch", *(error.command_chain or ())))
    if isinstance(error, MissingArgumentError) and error.argument is not None:
        return _missing(error, command)
    if isinstance(error, CoercionError) and error.token is not None:
        token = error.token
        name = token.keyword or _shown(error.argument)
        if isinstance(error.__cause__, UnitMismatch):
            return f"{name}: {error.__cause__}"
    if isinstance(error, UnusedCliTokensError):
        more = ", ".join(map(repr, error.unused_tokens or ()))
        return f"{more}: more was written than is asked for; see `{command} --help`"
    return " ".join(str(error).split())


def _missing(error: MissingArgumentError, command: str) -> str:
    argument = error.argument
    assert argument is not None  # noqa: S101 - asked for by the caller
    if error.keyword is not None or argument.tokens:
        return (
            f"{error.keyword or argument.name} needs a value after it; see `{command} --help`"
        )
    arguments: ArgumentCollection | Sequence[Argument] = ()
    if error.app is not None:
        arguments = error.app.assemble_argument_collection()
    wanted = [each for each in arguments if each.required]
    usage = " ".join((command, *(_shown(each, is_usage=True) for each in wanted)))
    return f"{_shown(argument)} is missing; write `{usage}`, and see `{command} --help`"


def _shown(argument: Argument | None, *, is_usage: bool = False) -> str:
    """Return an argument as the usage shows it: FILE; an option by its own name."""
    if argument is None:
        return "what was written"
    bare = argument.name.lstrip("-").upper()
    is_option = argument.field_info.kind is argument.field_info.KEYWORD_ONLY
    if not is_option:
        return bare
    return f"{argument.name} {bare}" if is_usage else argument.name
