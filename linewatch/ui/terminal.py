"""The terminal: what it can show, when it asks us to end, when it is gone.

Rule 1: whatever ends the screen, the terminal is left usable.
Rule 2: a screen whose terminal is gone ends; it neither spins nor waits.
"""

from __future__ import annotations

import asyncio
import gc
import os
import signal
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

ENDING: Final = ("SIGTERM", "SIGHUP", "SIGINT", "SIGBREAK")
"""Signals that ask a program to end; each system has some of them."""
SIGNALLED: Final = 128
"""Exit code of a program that a signal ended, less the signal's number (POSIX shells)."""
NO_TERMINAL: Final = 2
FEW_COLOURS: Final = ("linux", "xterm-16color", "ansi", "cygwin", "rxvt", "screen", "xterm")
FEW_SIGNS: Final = ("linux",)
"""The kernel's own console: its font of 256 or 512 signs has no braille and few arrows."""
BARE_LOCALES: Final = ("C", "POSIX")
"""Whose signs are those of ASCII (POSIX, locales), whatever the program writes in."""
NO_COLOURS: Final = ("dumb", "vt", "unknown", "")
MANY_COLOURS: Final = ("truecolor", "24bit", "256color", "direct", "kitty", "alacritty", "foot")


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """What a terminal can show."""

    theme: str
    """Name of a palette."""
    is_plain: bool
    """Seven bits only."""


def means(environment: Mapping[str, str], encoding: str, system: str = sys.platform) -> Means:
    """Return the richest look that a terminal is sure to show.

    Args:
        environment: TERM, COLORTERM, NO_COLOR and the locale, as the terminal's
            environment has them.
        encoding: Encoding of what is written to it: 'utf-8'.
        system: Name of the system; a console of Windows has no TERM and shows everything.
    """
    term = environment.get("TERM", "truecolor" if system == "win32" else "")
    names_colours = f"{environment.get('COLORTERM', '')} {term}"
    is_bare = any(term == each or (each and term.startswith(each)) for each in NO_COLOURS)
    is_plain = (
        is_bare
        or term in FEW_SIGNS
        or encoding.lower().replace("-", "") != "utf8"
        or _locale(environment) in BARE_LOCALES
    )
    if environment.get("NO_COLOR") or is_bare:
        return Means(theme="plainest", is_plain=is_plain)
    if any(each in names_colours for each in MANY_COLOURS):
        return Means(theme="night", is_plain=is_plain)
    if any(term.startswith(each) for each in FEW_COLOURS):
        return Means(theme="sixteen", is_plain=is_plain)
    return Means(theme="night", is_plain=is_plain)


def _locale(environment: Mapping[str, str]) -> str:
    """Return which locale says what signs there are: the first that is set rules (POSIX)."""
    told = (environment.get(name) for name in ("LC_ALL", "LC_CTYPE", "LANG"))
    return next((each for each in told if each), "")


def is_there() -> bool:
    """Say whether a terminal stands behind what is read and what is written."""
    try:
        return os.isatty(sys.__stdin__.fileno()) and os.isatty(sys.__stderr__.fileno())  # type: ignore[union-attr]
    except (OSError, ValueError, AttributeError):
        return False


def when_asked_to_end(end: Callable[[int], None]) -> Callable[[], None]:
    """Call `end` on the loop, with an exit code, when a signal asks the program to end.

    Must be called on the running loop of the main thread. Where a signal or the loop's own
    handling does not exist, the older means is taken, or none.

    Returns:
        What puts things back as they were.
    """
    loop = asyncio.get_running_loop()
    undo: list[Callable[[], object]] = []
    for name in ENDING:
        number = getattr(signal, name, None)
        if number is None:
            continue
        code = SIGNALLED + int(number)
        try:
            loop.add_signal_handler(number, end, code)
        except (NotImplementedError, RuntimeError, ValueError):
            _older(number, loop, end, undo)
        else:
            undo.append(lambda number=number: loop.remove_signal_handler(number))  # type: ignore[misc]

    def put_back() -> None:
        for each in undo:
            each()

    return put_back


def _older(
    number: signal.Signals,
    loop: asyncio.AbstractEventLoop,
    end: Callable[[int], None],
    undo: list[Callable[[], object]],
) -> None:
    """Take the older way of hearing a signal, for systems whose loop hears none."""

    def heard(which: int, _frame: object) -> None:
        loop.call_soon_threadsafe(end, SIGNALLED + which)

    try:
        before = signal.signal(number, heard)
    except (OSError, ValueError):
        return
    undo.append(lambda: signal.signal(number, before))


def put_off_the_search() -> None:
    """Do not search for garbage until `leave_out_of_the_search`: what is loaded is none.

    The searches would take a tenth of the time to the first screen.
    """
    gc.disable()


def leave_out_of_the_search() -> None:
    """Leave what is there at the start out of every search for garbage.

    A full search goes through all of the toolkit, a tenth of a second in which no key is
    answered; afterwards it goes through what has come since.
    """
    gc.collect()
    gc.freeze()
    gc.enable()
