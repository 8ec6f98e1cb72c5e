"""A collector with notices: one that hangs, one that tells of its end."""

from __future__ import annotations

import json
import signal
import sys
from pathlib import Path

import pytest

from linewatch.wiring.viewer import desk_when_ready
from tests.story.test_lives import LINE, Collector, line_file, plant, until

__all__ = ["line_file", "plant"]


def python(code: str) -> str:
    return json.dumps([sys.executable, "-c", code])


@pytest.fixture
def notices(tmp_path: Path) -> Path:
    """Write a file of notices: a way that works, and a sign of life that hangs."""
    heard = str(tmp_path / "heard")
    write = f"import sys; open({heard!r}, 'a').write(sys.stdin.readline())"
    file = tmp_path / "notices.toml"
    file.write_text(
        f'[[way]]\nid = "phone"\ncommand = {python(write)}\nleast = "highest"\n'
        f"[heartbeat]\ncommand = {python('import time; time.sleep(60)')}\n"
        'every = "1 s"\npatience = "1 s"\n',
        encoding="utf-8",
    )
    return file


def test_what_hangs_delays_no_scan_and_a_killed_collector_is_told_of(
    tmp_path: Path, line_file: Path, notices: Path
) -> None:
    collector = Collector(line_file, tmp_path / "store", "--notices", str(notices))
    try:
        desk = desk_when_ready(tmp_path / "store", LINE)
        until(lambda: desk.picture().not_heard, bool, tries=800)
        picture = desk.picture()
        assert picture.not_heard == {"heartbeat": "it had not ended after 1 s"}
        assert picture.scan_ms < 500.0
        assert picture.poll_s < 5.0
        until(lambda: desk.picture().utc_ns > picture.utc_ns, bool)
    finally:
        collector.end(signal.SIGKILL)

    heard = tmp_path / "heard"
    until(lambda: heard.exists() and heard.read_text(), bool, tries=800)
    assert "NOT WATCHED" in heard.read_text(encoding="utf-8")


def test_a_faulty_file_of_notices_stops_the_start_with_a_sentence(
    tmp_path: Path, line_file: Path
) -> None:
    file = tmp_path / "notices.toml"
    file.write_text('[[way]]\nid = "phone"\n', encoding="utf-8")
    collector = Collector(line_file, tmp_path / "store", "--notices", str(file))
    _, said = collector.process.communicate(timeout=30.0)

    assert collector.process.returncode == 1
    assert "phone: say either url or command" in said
    assert "Traceback" not in said
