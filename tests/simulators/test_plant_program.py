"""The plant as a program: its first line, its options, its end."""

import json
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from linewatch_sim.lines import LINES

pytestmark = pytest.mark.wire


@contextmanager
def program(*words: str) -> Iterator["subprocess.Popen[str]"]:
    with subprocess.Popen(
        [sys.executable, "-m", "linewatch_sim", *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as child:
        try:
            yield child
        finally:
            child.kill()


def test_the_first_line_tells_where_everything_listens() -> None:
    with program("--line", "first", "--until-stdin-closes") as child:
        assert child.stdout is not None
        ready = json.loads(child.stdout.readline())
        assert ready["ready"] is True
        assert set(ready["links"]) == {"tank-io", "rectifiers"}
        for address in (*ready["links"].values(), ready["control"]):
            host, _, port = address.rpartition(":")
            socket.create_connection((host, int(port)), timeout=5.0).close()


def test_it_ends_when_its_standard_input_closes() -> None:
    with program("--line", "first", "--until-stdin-closes") as child:
        assert child.stdout is not None
        assert child.stdin is not None
        child.stdout.readline()
        child.stdin.close()
        assert child.wait(timeout=20.0) == 0


def test_it_ends_cleanly_when_told_to() -> None:
    with program("--line", "first") as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.readline()
        child.terminate()
        assert child.wait(timeout=20.0) == 0
        assert child.stderr.read() == ""


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--trouble", "flood@5min"), "flood"),
        (("--trouble", "heater-fails@soon"), "soon"),
        (("--speed", "0"), "speed"),
    ],
)
def test_what_it_cannot_do_is_one_sentence_and_exit_2(
    words: tuple[str, ...], told: str
) -> None:
    with program("--line", "first", *words) as child:
        out, errors = child.communicate(timeout=20.0)
        assert child.returncode == 2
        assert out == ""
        assert told in errors
        assert len(errors.strip().splitlines()) == 1


def test_troubles_are_listed_with_a_sentence_each() -> None:
    with program("--line", "first", "--troubles") as child:
        out, _ = child.communicate(timeout=20.0)
        assert child.returncode == 0
        lines = out.strip().splitlines()
        assert len(lines) == len(LINES["first"][1])
        assert all(line.endswith(".") for line in lines)
