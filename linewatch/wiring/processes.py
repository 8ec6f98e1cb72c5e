"""Starting and ending other processes, on every system.

Rule 1: a child that must not outlive its parent is given a pipe as standard input and ends
        when the pipe closes; that works after a kill -9 too, and on every system.
Rule 2: a process is ended by its own id, never by its name.
"""

from __future__ import annotations

import contextlib
import getpass
import os
import signal
import subprocess
import sys
import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

END_S = 5.0
"""How long a child may take to end by itself."""


def start_child(
    module: str, arguments: Sequence[str], *, log: Path | None = None
) -> subprocess.Popen[str]:
    """Start `python -m module` as a child that ends when this process does."""
    with contextlib.ExitStack() as stack:
        errors = (
            subprocess.DEVNULL
            if log is None
            else stack.enter_context(log.open("a", encoding="utf-8"))
        )
        return subprocess.Popen(  # noqa: S603 - our own module, our own arguments
            [sys.executable, "-m", module, *arguments, "--until-stdin-closes"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=errors,
            text=True,
        )


def end_child(child: subprocess.Popen[str]) -> None:
    """End a child: ask by closing its standard input, then insist."""
    for stream in (child.stdin, child.stdout):
        if stream is not None:
            with contextlib.suppress(OSError):
                stream.close()
    insistence: tuple[Callable[[], None], ...] = (child.terminate, child.kill)
    for insist in insistence:
        with contextlib.suppress(subprocess.TimeoutExpired):
            child.wait(END_S)
            return
        insist()
    child.wait()


def start_detached(module: str, arguments: Sequence[str], *, log: Path) -> int:
    """Start `python -m module` so that it outlives this process; return its id."""
    detached = 0
    if sys.platform == "win32":
        detached = subprocess.DETACHED_PROCESS | subprocess.CREATE_NEW_PROCESS_GROUP
    log.parent.mkdir(parents=True, exist_ok=True)
    with log.open("a", encoding="utf-8") as errors:
        child = subprocess.Popen(  # noqa: S603 - our own module, our own arguments
            [sys.executable, "-m", module, *arguments],
            stdin=subprocess.DEVNULL,
            stdout=errors,
            stderr=errors,
            start_new_session=os.name == "posix",
            creationflags=detached,
        )
    # It is meant to go on alone: nobody here waits for it.
    child.returncode = 0
    return child.pid


def when_stdin_closes(call: Callable[[], None]) -> None:
    """Call from a thread once standard input is at its end: the parent has gone."""

    def watch() -> None:
        with contextlib.suppress(OSError, ValueError):
            while os.read(0, 4096):
                pass
        call()

    threading.Thread(target=watch, name="standard input", daemon=True).start()


def when_asked_to_end(call: Callable[[], None]) -> None:
    """Call on SIGTERM, SIGINT and, where it exists, SIGHUP."""
    for name in ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)
        if number is not None:
            # Only the main thread may set handlers; elsewhere the parent looks after us.
            with contextlib.suppress(ValueError):
                signal.signal(number, lambda *_: call())


def told_by(module: str, arguments: Sequence[str]) -> str:
    """Run `python -m module` to its end; return what it printed."""
    return subprocess.run(  # noqa: S603 - our own module
        [sys.executable, "-m", module, *arguments],
        check=True,
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env=os.environ | {"PYTHONIOENCODING": "utf-8"},
    ).stdout


def user() -> str:
    """Return who is logged in, for the record."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        # A service may run under an id that has no name.
        return "unknown"
