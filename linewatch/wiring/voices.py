"""Says one notice by one way, or tells why nobody heard it. No secret leaves this file.

What a service or a library says about a failure may hold its address and password; of it only
numbers and the names of errors are told.
"""

from __future__ import annotations

import contextlib
import logging
import re
import subprocess
from typing import TYPE_CHECKING, Protocol

from linewatch.core.errors import LinewatchError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from linewatch.config.notices import VoiceSettings

MARKS = re.compile(r"\berror[=: ]+(\d{1,4})\b|\b([A-Z][A-Za-z]*(?:Error|Exception|Timeout))\b")
"""What may be told of a library's words: a status, or the name of an error."""


class NotHeard(LinewatchError):
    """A notice did not reach anybody.

    Args:
        way: Id of the way.
        happened: What happened, without a secret.
    """

    def __init__(self, way: str, happened: str) -> None:
        self.way, self.happened = way, happened
        super().__init__(f"tell {way}: {happened}; see its entry in the file of notices")


class Voice(Protocol):
    """Something that says a notice."""

    def say(self, title: str, text: str) -> None:
        """Say it.

        Raises:
            NotHeard: it was not taken.
        """


class Command:
    """A program of the user's own."""

    def __init__(self, settings: VoiceSettings) -> None:
        self._settings = settings

    def say(self, title: str, text: str) -> None:
        """Start it, with what is to be said on its standard input.

        Raises:
            NotHeard: it cannot be started, ends with a fault, or takes too long.
        """
        settings = self._settings
        try:
            done = subprocess.run(  # noqa: S603 - the user's own program, no shell
                settings.command,
                input=f"{title}\n{text}\n".encode(),
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                timeout=settings.patience_s,
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise NotHeard(
                settings.id, f"it had not ended after {settings.patience_s:g} s"
            ) from None
        except OSError as error:
            why = error.strerror or type(error).__name__
            raise NotHeard(settings.id, f"it cannot be started: {why}") from None
        if done.returncode:
            raise NotHeard(settings.id, f"it ended with code {done.returncode}")


class Service:
    """A service of the apprise library, e-mail among them."""

    def __init__(self, settings: VoiceSettings) -> None:
        import apprise

        self._settings = settings
        # Whatever the library would write down holds addresses.
        logging.getLogger("apprise").propagate = False
        self._service = apprise.Apprise()
        try:
            is_known = self._service.add(settings.url)
        except Exception as error:  # noqa: BLE001 - any fault of a library is this fault
            raise NotHeard(settings.id, type(error).__name__) from None
        if not is_known:
            raise NotHeard(settings.id, "its url names no service that the library knows")

    def say(self, title: str, text: str) -> None:
        """Hand it to the service.

        Raises:
            NotHeard: it was not taken.
        """
        with _words_of_library() as words:
            try:
                taken = self._service.notify(title=title, body=text)
            except Exception as error:  # noqa: BLE001 - any fault of a library is this fault
                raise NotHeard(self._settings.id, type(error).__name__) from None
        if not taken:
            marks = [status or name for said in words for status, name in MARKS.findall(said)]
            why = f" ({', '.join(dict.fromkeys(marks))})" if marks else ""
            raise NotHeard(self._settings.id, f"the service did not take it{why}")


@contextlib.contextmanager
def _words_of_library() -> Iterator[list[str]]:
    words: list[str] = []

    class Listener(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            words.append(record.getMessage())

    logger, listener = logging.getLogger("apprise"), Listener()
    level = logger.level
    logger.addHandler(listener)
    logger.setLevel(logging.DEBUG)
    try:
        yield words
    finally:
        logger.removeHandler(listener)
        logger.setLevel(level)


def voice_of(settings: VoiceSettings) -> Voice:
    """Return what says notices by a way.

    Raises:
        NotHeard: its url names no service.
    """
    return Command(settings) if settings.command else Service(settings)
