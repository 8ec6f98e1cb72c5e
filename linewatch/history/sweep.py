"""What is in the archive's folders and what should be: leftovers, strangers, damage.

Rule 1: a temporary file, and a file of ours whose entries stand in the journal or in another
        file, is what a crash left behind: it is removed, and made again if need be.
Rule 2: any other file that the manifest does not know, and any file that is not what the
        manifest says, is set aside under its name and counted. Nothing here is ever fatal.
"""

from __future__ import annotations

import contextlib
import hashlib
import re
from typing import TYPE_CHECKING, Final

from linewatch.history import parquet
from linewatch.history.archive_hour import TEMPORARY

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from linewatch.history.manifest import Filed
    from linewatch.history.places import Places

_OURS: Final = re.compile(
    r"(?:[0-9]{2}|day|month)-(?P<first>[0-9]+)\.(?:readings|blocks|minutes)\.parquet"
)

_TAIL_BYTES: Final = 4 * 1024 * 1024


def sweep(places: Places, files: Sequence[Filed], archived_to: int) -> list[Path]:
    """Remove what a crash left behind; return the strangers, set aside."""
    known = {each.name for each in files}
    strangers = []
    for file in _files_in(places):
        if file.name.endswith(TEMPORARY):
            remove(file)
            continue
        if file.relative_to(places.folder).as_posix() in known:
            continue
        ours = _OURS.fullmatch(file.name)
        if (
            ours is not None
            and _stands_elsewhere(file, int(ours["first"]), files, archived_to)
            and _bears_our_mark(file)
        ):
            remove(file)
            continue
        strangers.append(put_aside(places, file))
    return strangers


def missing_or_cut(places: Places, files: Sequence[Filed]) -> list[tuple[Filed, str]]:
    """Return the recorded files that are gone or have another length: a quick look."""
    found = []
    for each in files:
        try:
            size = (places.folder / each.name).stat().st_size
        except OSError:
            found.append((each, "it is gone"))
            continue
        if size != each.bytes:
            found.append((each, f"it has {size} bytes instead of {each.bytes}"))
    return found


def is_sound(places: Places, file: Filed) -> bool:
    """Say whether a file is the one that was recorded."""
    try:
        with (places.folder / file.name).open("rb") as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest() == file.sha256
    except OSError:
        return False


def put_aside(places: Places, file: Path) -> Path:
    """Move a file out of the archive, under its name; return where it is now."""
    places.set_aside.mkdir(exist_ok=True)
    target = places.set_aside / file.name
    count = 1
    while target.exists():
        count += 1
        target = places.set_aside / f"{file.name}.{count}"
    # Windows refuses while somebody reads it; then it is tried again at the next start.
    with contextlib.suppress(OSError):
        file.replace(target)
    return target


def remove(file: Path) -> None:
    """Delete a file, or leave it for the next start if somebody is reading it (Windows)."""
    with contextlib.suppress(OSError):
        file.unlink()


def _stands_elsewhere(file: Path, first: int, files: Sequence[Filed], archived_to: int) -> bool:
    """Say whether the journal or a recorded file holds what a file of our naming holds."""
    if first > archived_to:
        return True
    # An hour whose day was merged, or a day that was merged but not yet recorded.
    kind = file.name.split(".")[1]
    return any(each.kind == kind and each.first <= first <= each.last for each in files)


def _bears_our_mark(file: Path) -> bool:
    """Say whether a file ends as ours do; without polars, which a start cannot wait for."""
    with contextlib.suppress(OSError), file.open("rb") as opened:
        opened.seek(max(0, file.stat().st_size - _TAIL_BYTES))
        return parquet.MARK.encode() in opened.read()
    return False


def _files_in(places: Places) -> Iterator[Path]:
    for folder in (places.archive, places.summaries):
        if folder.is_dir():
            yield from sorted(file for file in folder.rglob("*") if file.is_file())
