"""Where a line's files lie in the store, and whether the store may lie there at all."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

from linewatch.core.errors import StoreUnusable

NETWORK_FILE_SYSTEMS = frozenset(
    name
    for names in (
        "nfs nfs4 cifs smb3 smbfs ncpfs afs coda ceph glusterfs lustre gpfs beegfs davfs",
        "fuse.glusterfs fuse.sshfs fuse.rclone fuse.s3fs fuse.davfs2",
    )
    for name in names.split()
)
"""Names that Linux gives to file systems on other machines. SQLite's write-ahead log needs
memory that its processes share, and locks that hold: neither is had over a network."""
DRIVE_REMOTE = 4
"""Result of the Windows call GetDriveTypeW for a network drive (its documentation)."""


@dataclass(frozen=True, slots=True)
class Places:
    """The paths of one line's record."""

    folder: Path

    @property
    def journal(self) -> Path:
        """The database."""
        return self.folder / "journal.sqlite"

    @property
    def wal(self) -> Path:
        """The database's write-ahead log."""
        return self.folder / "journal.sqlite-wal"

    @property
    def archive(self) -> Path:
        """Closed hours."""
        return self.folder / "archive"

    @property
    def summaries(self) -> Path:
        """One-minute summaries."""
        return self.folder / "summaries"

    @property
    def set_aside(self) -> Path:
        """Files that cannot be trusted."""
        return self.folder / "set-aside"

    @property
    def frames(self) -> Path:
        """Raw frames that somebody asked for; no part of the record."""
        return self.folder / "frames"

    @property
    def lock(self) -> Path:
        """Held by the one collector."""
        return self.folder / "collector.lock"

    @property
    def holder(self) -> Path:
        """Who holds the lock, for people; means nothing while the lock is free."""
        return self.folder / "collector.json"

    @property
    def door(self) -> Path:
        """Touched by whoever leaves a request; see `knock`."""
        return self.folder / "knock"

    def picture(self, slot: int) -> Path:
        """One of the two slots of the present picture."""
        return self.folder / f"picture.{slot}"


def places(store: Path, line_id: str) -> Places:
    """Return where a line's record lies in a store."""
    return Places(store / f"line={line_id}")


def refuse_network(store: Path) -> None:
    """Refuse a store that lies on another machine, where that can be known.

    Raises:
        StoreUnusable: it does.
    """
    kind = _network_kind(store)
    if kind:
        raise StoreUnusable(
            str(store),
            f"it lies on a network file system ({kind}), which cannot keep the record safe",
            "put the store on a disk of this machine with --store DIR",
        )


def _network_kind(store: Path) -> str:
    if sys.platform == "win32":
        import ctypes

        drive = Path(store.absolute().anchor)
        remote = ctypes.windll.kernel32.GetDriveTypeW(str(drive)) == DRIVE_REMOTE
        return "a network drive" if remote else ""
    mounts = Path("/proc/self/mountinfo")
    if not mounts.exists():
        return ""
    return network_kind_in(mounts.read_text(encoding="utf-8", errors="replace"), store)


def network_kind_in(mountinfo: str, store: Path) -> str:
    """Return the kind of network file system under `store`, '' if it is none.

    `mountinfo` is the text of /proc/self/mountinfo, as proc(5) describes it.
    """
    where = store.absolute().resolve()
    best, kind = -1, ""
    for row in mountinfo.splitlines():
        before, _, after = row.partition(" - ")
        fields = before.split()
        if not fields[4:] or not after:
            continue
        # proc(5): the fifth field is the place; blanks and the like stand as octal escapes.
        mount = Path(fields[4].encode().decode("unicode_escape"))
        depth = len(mount.parts)
        # Of several mounts on one place the last one hides the others.
        if depth >= best and (mount == where or mount in where.parents):
            best, kind = depth, after.split()[0]
    return kind if kind in NETWORK_FILE_SYSTEMS else ""


def recorded_lines(store: Path) -> tuple[str, ...]:
    """Return the ids of the lines that have a journal in a store."""
    found = store.glob("line=*/journal.sqlite")
    return tuple(sorted(path.parent.name.removeprefix("line=") for path in found))
