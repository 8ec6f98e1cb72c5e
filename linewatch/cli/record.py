"""Commands on the record: explain, replay, verify, export, backup, restore, events."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from linewatch.cli import app
from linewatch.cli.check import Json
from linewatch.cli.typed import Whole, at_least_one
from linewatch.core.errors import StoreUnusable

Store = Annotated[Path | None, Parameter(name="--store")]
Begin = Annotated[str, Parameter(name="--from")]
End = Annotated[str, Parameter(name="--to")]
MOST_FAULTS = 40
MOST_BUCKETS = 100_000


@app.command
def explain(
    tank: str,
    figure: str = "",
    *,
    line: str | None = None,
    store: Store = None,
    json_: Json = False,
) -> int:
    """Say why the figures of a tank, rectifier, bath or load are what they are.

    Args:
        tank: Its number, name or id; "load 1041" for a load.
        figure: A word of the figure: charge, deposited, thickness, rate; all if absent.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
        json_: Print as JSON.
    """
    from linewatch.cli.explanations import UNSURE, in_words
    from linewatch.wiring import loads, records, viewer

    folder, line_id = viewer.choose(store, line)
    found = loads.explain_meant(folder, line_id, tank, figure)
    picture_units = records.units(folder, line_id)
    if json_:
        print(json.dumps([dataclasses.asdict(each) for each in found], indent=1))
    else:
        print(
            "\n\n".join(in_words(each, system=picture_units, digits=UNSURE) for each in found)
        )
    return 0


@app.command
def replay(
    *,
    from_: Begin = "",
    to: End = "",
    config: Annotated[Path | None, Parameter(name="--config")] = None,
    line: str | None = None,
    store: Store = None,
    json_: Json = False,
) -> int:
    """Feed recorded readings to the same machine again and print totals and alarms.

    With another configuration it is a rehearsal: the alarms that would have come, beside
    those that did.

    Args:
        from_: When to begin: "2026-03-01 06:00", "06:00"; the record's beginning if absent.
        to: When to end; now if absent.
        config: Another configuration, to rehearse.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
        json_: Print as JSON.
    """
    from linewatch.wiring import records, viewer

    folder, line_id = viewer.choose(store, line)
    rehearsed = records.rehearse(folder, line_id, (from_, to), config)
    print(json.dumps(rehearsed.parts, indent=1) if json_ else rehearsed.text)
    return 0


@app.command(name="alarm-health")
def alarm_health(
    *,
    from_: Begin = "",
    to: End = "",
    line: str | None = None,
    store: Store = None,
    json_: Json = False,
) -> int:
    """Hold a span's alarms against published targets; rehearse what would quieten them.

    Args:
        from_: When to begin: "2026-03-01 06:00"; the record's beginning if absent.
        to: When to end; now if absent.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
        json_: Print as JSON.
    """
    from linewatch.wiring import viewer
    from linewatch.wiring.alarm_health import alarm_health as health

    folder, line_id = viewer.choose(store, line)
    found = health(folder, line_id, (from_, to))
    print(json.dumps(found.parts, indent=1) if json_ else found.text)
    return 0


@app.command
def verify(
    *, from_: Begin = "", to: End = "", line: str | None = None, store: Store = None
) -> int:
    """Replay a span and compare it with what was stored; check every file and the journal.

    Args:
        from_: When to begin; the record's beginning if absent.
        to: When to end; now if absent.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.wiring import records, viewer

    folder, line_id = viewer.choose(store, line)
    verdict = records.verify(folder, line_id, (from_, to))
    print(
        f"{line_id}: {verdict.entries} entries, {verdict.checkpoints} checkpoints,"
        f" {verdict.events} events and {verdict.files} files compared"
    )
    for fault in verdict.faults[:MOST_FAULTS]:
        print(f"  {fault}")
    if len(verdict.faults) > MOST_FAULTS:
        print(f"  and {len(verdict.faults) - MOST_FAULTS} more")
    print("the record holds" if verdict.holds else f"{len(verdict.faults)} faults were found")
    return 0 if verdict.holds else 1


@app.command
def export(  # noqa: PLR0913 - one keyword an option
    file: Path,
    *tags: str,
    what: Literal["readings", "series", "events", "people"] = "readings",
    from_: Begin = "",
    to: End = "",
    zone: str = "",
    width: Whole = 1000,
    line: str | None = None,
    store: Store = None,
) -> int:
    """Write recorded values for other tools: .csv, .parquet or .xlsx by the file's ending.

    Args:
        file: Where to.
        tags: Each a tag, as nickel-1.temperature or "Nickel 1 temperature", or number, name or
            id of a tank or rectifier for all of its tags; every tag if none is named.
        what: Every sample, downsampled series, events, or what people did.
        from_: When to begin; the record's beginning if absent.
        to: When to end; now if absent.
        zone: Time zone of the times, as Europe/Lisbon; the machine's own if absent.
        width: Buckets of a series.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.history.exports import Wish
    from linewatch.history.exports import export as write
    from linewatch.wiring import records, signals, viewer

    folder, line_id = viewer.choose(store, line)
    if not 1 <= width <= MOST_BUCKETS:
        raise StoreUnusable(
            "--width", f"{width} buckets cannot be made", f"write 1 to {MOST_BUCKETS}"
        )
    span = records.whole_span(folder, line_id, (from_, to), zone)
    wish = Wish(
        what=what,
        span=span,
        tags=signals.recorded(folder, line_id, tags),
        width=width,
        zone=zone or records.here(),
    )
    rows = write(folder, line_id, file, wish)
    print(f"{file}: {rows} rows")
    return 0


@app.command
def backup(folder: Path, *, line: str | None = None, store: Store = None) -> int:
    """Copy a line's record into a folder, consistently, while it is being written.

    Args:
        folder: Where to.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.history.backups import backup as copy
    from linewatch.wiring import viewer

    where, line_id = viewer.choose(store, line)
    copied = copy(where, line_id, folder)
    print(f"{copied.folder}: {copied.files} files, {copied.bytes / 1e6:.1f} MB")
    for name in copied.left_out:
        print(f"  left out, because it is not what was recorded: {name}")
    return 1 if copied.left_out else 0


@app.command
def restore(
    folder: Path, *, line: str, why: str, store: Store = None, who: str | None = None
) -> int:
    """Put a backup in place of a record that is gone. That it was done is recorded.

    Args:
        folder: The backup.
        line: Id of the line.
        why: The reason, for the record.
        store: Folder for the record.
        who: Initials, for the record.
    """
    from linewatch.wiring import places, records
    from linewatch.wiring.processes import user

    target = store if store is not None else places.default_store()
    copied = records.restore(folder, target, line, who=who or user(), why=why)
    print(f"{copied.folder}: {copied.files} files are back")
    return 0


@app.command
def events(
    *,
    count: Whole = 40,
    people: bool = False,
    line: str | None = None,
    store: Store = None,
    json_: Json = False,
) -> int:
    """Print the newest events of a line, or what people did.

    Args:
        count: How many.
        people: The people's journal instead: who did what, why, and what it changed.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
        json_: Print as JSON.
    """
    from linewatch.cli import tables
    from linewatch.wiring import viewer
    from linewatch.wiring.acts_told import measures_in

    at_least_one("--count", count)
    folder, line_id = viewer.choose(store, line)
    desk = viewer.open_desk(folder, line_id)
    called = tables.names_of(desk)
    if people:
        acts = viewer.acts(folder, line_id)[-count:]
        if json_:
            print(json.dumps([dataclasses.asdict(each) for each in acts], indent=1))
        else:
            said = "\n".join(
                tables.act_words(each, called, measures_in(desk.picture())) for each in acts
            )
            print(tables.harmless(said) or "nobody did anything")
        return 0
    stored = desk.latest(count)
    if json_:
        print(json.dumps([dataclasses.asdict(each.event) for each in stored], indent=1))
    else:
        for each in stored:
            print(tables.event_words(each, called))
    return 0
