"""What a person is told before a screen is there, and after it was closed."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

SCREEN = b"\x1b[?1049h"
"""What a program writes that takes the whole terminal."""
MOST_S = 60.0


def in_a_terminal(*arguments: str, keys: bytes, when: bytes, home: Path) -> tuple[bytes, int]:
    """Run linewatch in a terminal, press keys when something is shown; return all it wrote."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))
    own = {name: str(home / name) for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME")}
    process = subprocess.Popen(
        [sys.executable, "-m", "linewatch", *arguments],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        env={**os.environ, **own, "TERM": "xterm-256color"},
    )
    os.close(slave)
    written = b""
    try:
        while select.select([master], [], [], MOST_S)[0]:
            try:
                piece = os.read(master, 65536)
            except OSError:
                # The other end is closed: it has ended.
                break
            written += piece
            if keys and when in written:
                os.write(master, keys)
                keys = b""
        return written, process.wait(MOST_S)
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()
        os.close(master)


def test_a_demonstration_says_what_starts_and_what_has_ended_and_where_its_record_lies(
    tmp_path: Path,
):
    store = tmp_path / "record"

    written, code = in_a_terminal(
        *("demo", "--line", "first", "--store", str(store)),
        keys=b"q",
        when=b"recording",
        home=tmp_path,
    )

    before, _, rest = written.partition(SCREEN)
    after = b" ".join(rest.rpartition(b"\x1b[?1049l")[2].split())
    assert code == 0
    assert b"starting an invented plant" in before
    assert b"starting its collector" in before
    assert b"the demonstration has ended: the invented plant, its collector" in after
    assert str(store).encode() in after.replace(b" ", b"")
    assert b"begins it anew" not in after

    written, code = in_a_terminal(
        "view", "--store", str(store), keys=b"q", when=b"help", home=tmp_path
    )

    after = b" ".join(written.rpartition(b"\x1b[?1049l")[2].split())
    assert code == 0
    assert b"the screen is closed; no collector runs: nothing is recorded" in after
