"""`linewatch notices …`: who is told of alarms outside the screen."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from linewatch.cli import notice
from linewatch.cli.record import Store
from linewatch.core.errors import LinewatchError

File = Annotated[Path | None, Parameter(name="--file")]


class NoNotices(LinewatchError):
    """Nothing says who is to be told."""


@notice.command(name="list")
def list_(*, file: File = None, line: str | None = None, store: Store = None) -> int:
    """Print the ways of being heard, without their addresses, and which of them fail.

    Args:
        file: The file of notices; the one in your settings if absent.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.config.notices import read_notices
    from linewatch.core.errors import StoreUnusable
    from linewatch.wiring import viewer

    where = _file(file)
    found = read_notices(where)
    try:
        picture = viewer.open_desk(*viewer.choose(store, line)).picture()
    except StoreUnusable:
        picture = None
    failing = picture.not_heard if picture is not None else {}
    print(f"{where}")
    for way, voice in zip(found.ways, found.voices, strict=True):
        after = (
            f", when nobody acknowledged for {way.after_s / 60:g} min" if way.after_s else ""
        )
        quiet = f", quiet hours but for {way.quiet.least}" if way.quiet else ""
        why = f"  NOT HEARD: {failing[way.id]}" if way.id in failing else ""
        print(f"  {way.id}: {voice.kind}; {way.least} and above{after}{quiet}{why}")
    if found.heartbeat is not None:
        print(f"  heartbeat: {found.heartbeat.kind}, every {found.heartbeat_s:g} s")
    return 0


@notice.command(name="try")
def try_(way: str, *, file: File = None) -> int:
    """Say something by one way now, so that you see whether it is heard.

    Args:
        way: Its id, or heartbeat.
        file: The file of notices; the one in your settings if absent.
    """
    from linewatch.config.notices import read_notices
    from linewatch.wiring.voices import voice_of

    found = read_notices(_file(file))
    voices = {each.id: each for each in found.voices}
    if found.heartbeat is not None:
        voices["heartbeat"] = found.heartbeat
    if way not in voices:
        raise NoNotices(f"try {way}: there is no such way; there are {', '.join(voices)}")
    voice_of(voices[way]).say("linewatch: a trial", "This is a trial. Nothing is wrong.")
    print(f"{way}: it was taken; whether somebody heard it, only they can say")
    return 0


@notice.command
def run(
    *,
    file: File = None,
    line: str | None = None,
    store: Store = None,
    until_stdin_closes: bool = False,
) -> int:
    """Tell of a line's alarms in the foreground, for a service manager.

    A collector starts this by itself when it is given the file; `linewatch run` gives it.

    Args:
        file: The file of notices; the one in your settings if absent.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
        until_stdin_closes: End when standard input does.
    """
    import logging
    import threading

    from linewatch.config.notices import read_notices
    from linewatch.wiring import notices as wired
    from linewatch.wiring import processes, viewer

    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(levelname)s %(message)s")
    found = read_notices(_file(file))
    folder, line_id = viewer.choose(store, line)
    ended = threading.Event()
    processes.when_asked_to_end(ended.set)
    if until_stdin_closes:
        processes.when_stdin_closes(ended.set)
    desk = viewer.desk_when_ready(folder, line_id)
    wired.tell(desk, found, ended, is_child=until_stdin_closes)
    return 0


def _file(file: Path | None) -> Path:
    from linewatch.wiring.telling import default_file

    where = file if file is not None else default_file()
    if file is None and not where.exists():
        raise NoNotices(
            f"read {where}: there is no such file, so nobody is told outside the screen; write"
            " one as the README's section on notices shows, or name --file"
        )
    return where
