"""A real terminal: whatever ends the screen leaves it usable, and a lost one ends it."""

import asyncio
import os
import pty
import re
import signal
import subprocess
import sys
import termios

import pytest

from linewatch.ui.terminal import Means, means, when_asked_to_end

SCREEN = """
import sys
from linewatch.ui.start import run_app
from tests.ui import invented
sys.exit(run_app(invented.InventedDesk(invented.troubled(long=True))))
"""
READY = "Invented works"
BARE = {
    name: value
    for name, value in os.environ.items()
    if name not in {"TERM", "COLORTERM", "NO_COLOR"}
}


class Watched:
    """A screen in a pseudo-terminal of 120 x 40 cells."""

    def __init__(self, environment=None):
        self.master, slave = pty.openpty()
        termios.tcsetwinsize(slave, (40, 120))
        self.before = termios.tcgetattr(slave)
        self.slave = slave
        self.process = subprocess.Popen(
            [sys.executable, "-c", SCREEN],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
            env={**BARE, "TERM": "xterm-256color", "LC_ALL": "C.UTF-8", **(environment or {})},
        )
        self.written = b""

    def read_until(self, words):
        while words.encode() not in self.written:
            self.written += os.read(self.master, 65536)

    def read_to_end(self):
        """Read what is still written while the process ends."""
        os.set_blocking(self.master, False)
        while self.process.poll() is None:
            self._read_some()
        self._read_some()

    def _read_some(self):
        try:
            self.written += os.read(self.master, 65536)
        except BlockingIOError:
            return


@pytest.fixture
def watched():
    screens = []

    def start(environment=None):
        screens.append(Watched(environment))
        return screens[-1]

    yield start
    for each in screens:
        if each.process.poll() is None:
            each.process.kill()
        each.process.wait()
        for descriptor in (each.master, each.slave):
            if descriptor >= 0:
                os.close(descriptor)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_signal_ends_the_screen_and_leaves_the_terminal_usable(watched, number):
    screen = watched()
    screen.read_until(READY)

    os.kill(screen.process.pid, number)
    screen.read_to_end()

    assert screen.process.returncode == 128 + number
    assert termios.tcgetattr(screen.slave) == screen.before
    after = screen.written.decode(errors="replace")
    for mode in ("?1049", "?1000", "?1003", "?1006", "?2004"):
        assert after.rfind(f"\x1b[{mode}l") > after.rfind(f"\x1b[{mode}h"), mode
    assert after.rfind("\x1b[?25h") > after.rfind("\x1b[?25l")


def test_a_terminal_that_goes_away_without_a_signal_ends_the_screen(watched):
    """The terminal is nobody's controlling terminal here, so no hangup is sent."""
    screen = watched()
    screen.read_until(READY)

    os.close(screen.slave)
    screen.slave = -1
    os.close(screen.master)
    screen.master = -1

    assert screen.process.wait(timeout=30) == 129


def test_without_a_terminal_the_screen_says_what_to_use_instead():
    done = subprocess.run(
        [sys.executable, "-c", SCREEN],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=30,
    )

    assert done.returncode == 2
    assert "linewatch show" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("environment", "encoding", "theme", "is_plain"),
    [
        ({"TERM": "xterm-256color"}, "utf-8", "night", False),
        ({"TERM": "tmux-256color"}, "UTF-8", "night", False),
        ({"TERM": "xterm", "COLORTERM": "truecolor"}, "utf-8", "night", False),
        ({"TERM": "linux"}, "utf-8", "sixteen", True),
        ({"TERM": "xterm-256color", "LC_ALL": "C"}, "utf-8", "night", True),
        ({"TERM": "xterm-256color", "LC_ALL": "C.UTF-8", "LANG": "C"}, "utf-8", "night", False),
        ({"TERM": "xterm-256color", "LC_ALL": "", "LANG": "POSIX"}, "utf-8", "night", True),
        ({"TERM": "xterm"}, "utf-8", "sixteen", False),
        ({"TERM": "xterm-256color", "NO_COLOR": "1"}, "utf-8", "plainest", False),
        ({"TERM": "vt100"}, "utf-8", "plainest", True),
        ({"TERM": "dumb"}, "utf-8", "plainest", True),
        ({}, "ascii", "plainest", True),
        ({"TERM": "xterm-256color"}, "ANSI_X3.4-1968", "night", True),
    ],
)  # fmt: skip
def test_the_look_follows_what_the_terminal_can_show(environment, encoding, theme, is_plain):
    assert means(environment, encoding, "linux") == Means(theme=theme, is_plain=is_plain)


def test_a_console_of_windows_needs_no_name_to_show_everything():
    assert means({}, "utf-8", "win32") == Means(theme="night", is_plain=False)


async def test_where_the_loop_hears_no_signals_the_older_means_is_taken(monkeypatch):
    loop = asyncio.get_running_loop()

    def refuse(*_):
        raise NotImplementedError

    monkeypatch.setattr(loop, "add_signal_handler", refuse)
    heard = loop.create_future()
    before = signal.getsignal(signal.SIGTERM)
    put_back = when_asked_to_end(heard.set_result)
    try:
        os.kill(os.getpid(), signal.SIGTERM)
        assert await heard == 128 + signal.SIGTERM
    finally:
        put_back()

    assert signal.getsignal(signal.SIGTERM) == before


@pytest.mark.parametrize(
    "environment",
    [
        {"TERM": "xterm-256color", "NO_COLOR": "1"},
        {"TERM": "xterm-256color", "COLORTERM": "truecolor", "NO_COLOR": "1"},
        {"TERM": "dumb"},
        {"TERM": "vt100"},
    ],
)
def test_where_no_colour_is_wanted_none_is_sent_not_even_by_a_form(watched, environment):
    screen = watched(environment)
    screen.read_until(READY)
    os.write(screen.master, b"a")
    screen.read_until("standing: 6")
    os.write(screen.master, b"i")
    screen.read_until("initials")
    os.kill(screen.process.pid, signal.SIGTERM)
    screen.read_to_end()

    codes = re.findall(rb"\x1b\[([0-9;]*)m", screen.written)
    colours = [
        code for code in codes if re.search(rb"(^|;)([34][0-8]|9[0-7]|10[0-7])(;|$)", code)
    ]
    assert len(codes) > 20
    assert colours == []
