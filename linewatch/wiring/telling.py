"""Keeps the teller of notices alive beside a collector."""

from __future__ import annotations

import contextlib
import logging
import threading
from typing import TYPE_CHECKING, Final

from linewatch.wiring.preferences import folder
from linewatch.wiring.processes import start_child

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Iterator
    from pathlib import Path

log = logging.getLogger(__name__)
FILE: Final = "notices.toml"
LOOK_S: Final = 5.0


def default_file() -> Path:
    """Return where a person's file of notices lies."""
    return folder() / FILE


@contextlib.contextmanager
def telling(file: Path | None, store: Path, line_id: str) -> Iterator[None]:
    """Let notices be told while a collector runs; a teller that ends is started again.

    Args:
        file: The file of notices; None: nobody is told.
        store: The collector's store.
        line_id: Its line.
    """
    if file is None:
        yield
        return
    over = threading.Event()
    arguments = ["notices", "run", "--file", str(file), "--store", str(store)]
    arguments += ["--line", line_id]

    def start() -> subprocess.Popen[str]:
        store.mkdir(parents=True, exist_ok=True)
        return start_child("linewatch", arguments, log=store / "notices.log")

    def keep() -> None:
        child = start()
        while not over.wait(LOOK_S):
            if child.poll() is not None:
                log.warning("the teller of notices ended with code %s", child.returncode)
                child = start()
        # It is not waited for: it looks whether the collector ended as it should, and ends.
        for stream in (child.stdin, child.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()
        child.returncode = 0

    keeper = threading.Thread(target=keep, name="teller", daemon=True)
    keeper.start()
    try:
        yield
    finally:
        over.set()
        keeper.join(LOOK_S)
