"""The simulated plant as a child process: started, asked for its truth, ended.

It is another program: linewatch knows its command line and its control port, not its code.
"""

from __future__ import annotations

import contextlib
import json
import socket
import subprocess
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from linewatch.core.errors import LinewatchError
from linewatch.wiring.processes import end_child, start_child

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

PLANT = "linewatch_sim"
LISTENING_S = 20.0
LOOK_S = 0.05


class PlantFailed(LinewatchError):
    """The simulated plant did not start."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningPlant:
    """A plant that runs, and where it listens."""

    process: subprocess.Popen[str]
    links: Mapping[str, str]
    """Address by link id."""
    control: tuple[str, int]

    def ask(self, question: Mapping[str, Any]) -> dict[str, Any]:
        """Ask the plant over its control port and return its answer."""
        with socket.create_connection(self.control, timeout=10.0) as peer:
            peer.sendall(json.dumps(question).encode() + b"\n")
            with peer.makefile("r", encoding="utf-8") as answers:
                answer: dict[str, Any] = json.loads(answers.readline())
        return answer

    def wait_until_all_listen(self) -> None:
        """Wait until every link's address accepts: some of its servers take seconds to start.

        Raises:
            PlantFailed: one did not.
        """
        until_s = time.monotonic() + LISTENING_S
        for link, address in self.links.items():
            host, _, port = address.removeprefix("opc.tcp://").split("/")[0].rpartition(":")
            while not _accepts(host, int(port)):
                if time.monotonic() > until_s:
                    raise PlantFailed(f"the simulated plant's link {link} does not listen")
                time.sleep(LOOK_S)

    def truth(self, wall_s: float) -> dict[str, Any]:
        """Return what truly had happened at a moment of the monotonic clock."""
        return self.ask({"ask": "truth", "at_monotonic_ns": round(wall_s * 1e9)})


def _accepts(host: str, port: int) -> bool:
    try:
        with socket.create_connection((host, port), timeout=LISTENING_S):
            return True
    except OSError:
        return False


@contextlib.contextmanager
def running_plant(
    *, speed: float, troubles: Sequence[str], seed: int, line: str, log: Path | None = None
) -> Iterator[RunningPlant]:
    """Start a plant, yield it once it listens, and end it whatever happens.

    Raises:
        PlantFailed: it ended before it listened; its own words are told.
    """
    arguments = ["--speed", f"{speed:g}", "--seed", str(seed), "--line", line]
    for trouble in troubles:
        arguments += ["--trouble", trouble]
    process = start_child(PLANT, arguments, log=log)
    try:
        assert process.stdout is not None  # noqa: S101 - a pipe was asked for
        first = process.stdout.readline()
        if not first:
            said = log.read_text(encoding="utf-8").strip() if log is not None else ""
            reason = said.splitlines()[-1] if said else "it ended at once"
            raise PlantFailed(f"the simulated plant did not start: {reason}")
        ready = json.loads(first)
        host, _, port = ready["control"].rpartition(":")
        yield RunningPlant(process=process, links=ready["links"], control=(host, int(port)))
    finally:
        end_child(process)
