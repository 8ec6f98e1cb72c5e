"""Everything linewatch raises on purpose.

The tree::

    LinewatchError
    ├── OutsideValidity    (also ValueError)  a number outside what a formula holds for
    ├── UnitMismatch       (also ValueError)  a quantity of another dimension, or no quantity
    ├── ConfigurationFaulty(also ValueError)  all faults of a configuration at once
    ├── LinkLost           (also ConnectionError)  a driver lost its connection
    ├── StoreUnusable                         the store cannot be opened, or must not be
    ├── CollectorRunning                      another collector holds the line
    └── Refused                               a command that the line does not carry out

An error says who, while doing what, what happened and, when a person can act, what to do.
It keeps its parts as attributes. Anything that is not a LinewatchError is a bug.
"""

from __future__ import annotations

LARGEST_WRITTEN_OUT = 1e9


def file_words(error: Exception) -> str:
    """Return why a file cannot be read or written, in words."""
    for kind, words in (
        (FileNotFoundError, "there is no such file or folder"),
        (IsADirectoryError, "it is a folder; name a file in it"),
        (NotADirectoryError, "a part of its path is a file, not a folder"),
        (PermissionError, "this user has no right to it; ask its owner"),
        (FileExistsError, "there is a file of this name already"),
        (UnicodeError, "it is no text in UTF-8; save it as UTF-8"),
    ):
        if isinstance(error, kind):
            return words
    reason = error.strerror if isinstance(error, OSError) else None
    return (reason or str(error) or "it cannot be used").lower()


def _plain(value: float) -> str:
    """Return a number as people write it: 1000000, not 1e+06."""
    is_whole = abs(value) < LARGEST_WRITTEN_OUT and float(value).is_integer()
    return f"{value:.0f}" if is_whole else f"{value:g}"


class LinewatchError(Exception):
    """Anything that linewatch raises on purpose."""


class OutsideValidity(LinewatchError, ValueError):
    """A number lies outside the range for which a formula holds.

    Args:
        quantity: What the number is, in words.
        value: The number itself; may be NaN.
        low: Lowest valid value.
        high: Highest valid value.
        unit: Unit of all three, empty for a ratio.
    """

    def __init__(self, quantity: str, value: float, low: float, high: float, unit: str) -> None:
        super().__init__(quantity, value, low, high, unit)
        self.quantity = quantity
        self.value = value
        self.low = low
        self.high = high
        self.unit = unit

    def __str__(self) -> str:
        tail = f" {self.unit}" if self.unit else ""
        return (
            f"{self.quantity} is {_plain(self.value)}{tail};"
            f" valid from {_plain(self.low)} to {_plain(self.high)}"
        )


class UnitMismatch(LinewatchError, ValueError):
    """A text is no quantity of the dimension that was asked for.

    Args:
        text: What was written.
        wanted: The dimension or unit asked for, in words.
        remedy: What to write instead.
    """

    def __init__(self, text: str, wanted: str, remedy: str) -> None:
        super().__init__(text, wanted, remedy)
        self.text = text
        self.wanted = wanted
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.text!r} is no {self.wanted}; {self.remedy}"


class ConfigurationFaulty(LinewatchError, ValueError):
    """A configuration has faults; all of them are told at once.

    Args:
        file: The file, as the person named it.
        faults: One sentence a fault: key, value, remedy.
    """

    def __init__(self, file: str, faults: tuple[str, ...]) -> None:
        super().__init__(file, faults)
        self.file = file
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(f"{self.file}: {fault}" for fault in self.faults)


class LinkLost(LinewatchError, ConnectionError):
    """A driver lost its connection, or could not make one.

    Args:
        link: Which link.
        doing: What the driver was doing, as a participle: 'reading register 100'.
        happened: What happened.
        lasting: Waiting will hardly cure it: the peer speaks another protocol.
    """

    def __init__(self, link: str, doing: str, happened: str, *, lasting: bool = False) -> None:
        super().__init__(link, doing, happened)
        self.link = link
        self.doing = doing
        self.happened = happened
        self.lasting = lasting

    def __str__(self) -> str:
        return f"{self.link}: lost the link while {self.doing}: {self.happened}"


class StoreUnusable(LinewatchError):
    """The store cannot be opened, or must not be.

    Args:
        store: Which store.
        happened: What is wrong with it.
        remedy: What to do.
    """

    def __init__(self, store: str, happened: str, remedy: str) -> None:
        super().__init__(store, happened, remedy)
        self.store = store
        self.happened = happened
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.store}: {self.happened}; {self.remedy}"


class CollectorRunning(LinewatchError):
    """Another collector holds the line; two would count every ampere-hour twice.

    Args:
        line: Which line.
        holder: Who holds it, as far as is known: 'process 4711 since 10:42:07'.
    """

    def __init__(self, line: str, holder: str) -> None:
        super().__init__(line, holder)
        self.line = line
        self.holder = holder

    def __str__(self) -> str:
        return (
            f"{self.line}: a collector is already running ({self.holder});"
            " attach to it with `linewatch view`, or end it with `linewatch stop`"
        )


class Refused(LinewatchError):
    """A command that the line does not carry out; nothing has changed.

    Args:
        command: What was asked, in words: 'acknowledge nickel-1.temperature.low'.
        reason: Why not.
    """

    def __init__(self, command: str, reason: str) -> None:
        super().__init__(command, reason)
        self.command = command
        self.reason = reason

    def __str__(self) -> str:
        return f"{self.command}: {self.reason}"
