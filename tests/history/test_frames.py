"""Files of raw frames: every row whole, bounded in size and number, never in anybody's way."""

from pathlib import Path

import pytest

from linewatch.history import frames, open_frames

NOON = 1_772_452_800_000_000_000


def rows(path: Path) -> list[str]:
    return [line for line in path.read_text(encoding="ascii").splitlines() if line[:1] != "#"]


def test_a_row_says_when_which_way_of_whom_and_what(tmp_path: Path):
    file = open_frames(tmp_path, "works", "20260302T120000Z-bus", "frames of link bus")
    file.put(NOON + 1_234_567_000, 16, bytes.fromhex("10 03 00 00 00 02 c7 4a"), is_ours=True)
    file.put(NOON + 1_300_000_000, None, b"\x00\xff", is_ours=False)
    file.close(10.0)

    assert file.path == tmp_path / "line=works" / "frames" / "20260302T120000Z-bus.txt"
    assert rows(file.path) == [
        "2026-03-02T12:00:01.234567Z >  16 10 03 00 00 00 02 c7 4a",
        "2026-03-02T12:00:01.300000Z <   - 00 ff",
    ]
    assert "# frames of link bus" in file.path.read_text(encoding="ascii")
    assert (file.frames, file.dropped, file.fault) == (2, 0, "")


def test_a_file_ends_at_its_size_and_says_what_was_left_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(frames, "MOST_BYTES", 2000)
    file = open_frames(tmp_path, "works", "a", "full")
    for k in range(200):
        file.put(NOON + k, 1, bytes(8), is_ours=True)
    file.close(10.0)

    assert file.is_full
    assert file.dropped == 200 - file.frames > 0
    assert len(rows(file.path)) == file.frames
    assert file.path.stat().st_size < 2000 + 300


def test_only_the_newest_files_are_kept(tmp_path: Path):
    for k in range(frames.MOST_FILES + 4):
        open_frames(tmp_path, "works", f"20260302T1200{k:02d}Z-bus", "one more").close(10.0)

    names = sorted(path.name for path in (tmp_path / "line=works" / "frames").iterdir())
    assert len(names) == frames.MOST_FILES
    assert names[0] == "20260302T120004Z-bus.txt"


def test_a_folder_that_cannot_be_made_is_told_and_nobody_waits(tmp_path: Path):
    (tmp_path / "line=works").write_text("in the way", encoding="ascii")
    file = open_frames(tmp_path, "works", "a", "no room")
    file.put(NOON, 1, b"\x01", is_ours=True)
    file.close(10.0)
    file.put(NOON, 1, b"\x01", is_ours=True)

    assert file.fault
    assert file.dropped >= 1
