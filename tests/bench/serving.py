"""Servers of a measurement, in a process of their own: a benchmark's own `--serve`."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@contextlib.contextmanager
def serving(file: str | Path, *arguments: str) -> Iterator[Any]:
    """Start servers; yield what they say first (their ports); they end with the block."""
    servers = subprocess.Popen(
        [sys.executable, str(file), "--serve", *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        yield json.loads(servers.stdout.readline())
    finally:
        servers.stdin.close()
        servers.wait()
