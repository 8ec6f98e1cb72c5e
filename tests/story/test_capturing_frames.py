"""Somebody suspects a rectifier: its raw frames are in a file, and the record holds."""

import re
from pathlib import Path

from linewatch.core.commands import CaptureFrames
from tests.story.test_lives import collector, desk_of, line_file, plant, until

_ = (collector, line_file, plant)
ROW = re.compile(r"\S+Z [<>] +(\d+|-) ([0-9a-f]{2} ?)+")


def test_frames_are_captured_shown_and_ended_and_the_record_still_holds(
    linewatch, tmp_path: Path, collector
):
    store = tmp_path / "store"
    desk = desk_of(store)
    asked = desk.request(
        CaptureFrames(who="MK", subject="rectifier-nickel-1", for_s=600.0, why="odd values")
    )
    assert asked >= 1

    def capture():
        links = {each.id: each for each in desk.picture().links}
        return links["rectifiers"].capture

    shown = until(capture, lambda each: each is not None and each.frames > 20)
    assert shown.subject == "rectifier-nickel-1"
    assert shown.ended == ""
    desk.request(CaptureFrames(who="MK", subject="rectifier-nickel-1", for_s=0.0))
    ended = until(capture, lambda each: each.ended != "")
    assert ended.ended == "ended by MK"
    said = collector.end()
    assert "Traceback" not in said
    file = Path(shown.file)
    assert file.parent == store / "line=first-line" / "frames"
    rows = [row for row in file.read_text(encoding="ascii").splitlines() if row[0] != "#"]
    assert len(rows) == ended.frames
    assert all(ROW.fullmatch(row) for row in rows)
    assert {row.split()[1] for row in rows} == {">", "<"}
    verified = linewatch("verify", "--store", str(store))
    assert "the record holds" in verified.stdout
    told = linewatch("events", "--store", str(store)).stdout
    assert "raw frames are captured for 10 min" in told
    assert "raw frames captured, ended by MK" in told
