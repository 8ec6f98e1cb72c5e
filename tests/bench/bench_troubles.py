"""Where each trouble shows, and after how long, against the time in which it should.

    python tests/bench/bench_troubles.py [--markdown] [--keep FILE] [NAME ...]

Runs the works undisturbed and once for each party of troubles that do not touch one another
(`troubles_due.py`), and tells for each trouble the first alarm, finding or state of a link that
speaks of it and that the undisturbed works did not have, with its delay in line time.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from troubles_due import DUE, PARTIES, Party

from linewatch import history
from linewatch.core import units
from linewatch.core.events import Event, EventKind
from linewatch.core.readings import is_bad, is_good
from linewatch.core.view import LinePicture

NS = 10**9
STARTS_S = 12.0
"""Plant and collector are up within so much wall time; no trouble begins earlier."""
NEWS = {EventKind.METER_DRIFT, EventKind.FINDING, EventKind.LINK_STATE}
Shown = list[tuple[float, str]]


class TooBusy(Exception):
    """The troubles began before the run."""


def seen(party: Party, names: tuple[str, ...]) -> Shown:
    """Return what one run tells: line time since the troubles began [s], and what.

    A machine that is too busy to start in time is given more of it, twice.
    """
    for starts_s in (STARTS_S, 2.0 * STARTS_S):
        try:
            return _seen(party, names, starts_s)
        except (subprocess.CalledProcessError, TooBusy):
            continue
    return _seen(party, names, 4.0 * STARTS_S)


def _seen(party: Party, names: tuple[str, ...], starts_s: float) -> Shown:
    with tempfile.TemporaryDirectory() as folder:
        at_s = starts_s * party.speed
        span_s = units.parse(party.span, "s") + at_s
        asked = [f"--trouble={name}@{at_s:.0f}s" for name in names]
        done = subprocess.run(
            [
                *(sys.executable, "-m", "linewatch", "demo", "--headless", "--json"),
                *(
                    "--for",
                    f"{span_s:.0f}s",
                    "--speed",
                    str(party.speed),
                    "--store",
                    folder,
                    *asked,
                ),
            ],
            capture_output=True,
            check=True,
        )
        # The plant's clock has run for a while when the collector's begins.
        at_s -= json.loads(done.stdout)["plant_began_s"]
        if at_s < 0.0:
            raise TooBusy
        store = Path(folder)
        desk = history.open_desk(store, history.lines(store)[0])
        shown: Shown = []
        number, begin_ns, begin_utc_ns = 0, None, 0
        while stored := desk.changes(number, 1000):
            for each in stored:
                number, event = each.number, each.event
                if begin_ns is None:
                    begin_ns, begin_utc_ns = event.mono_ns, event.utc_ns
                if told := _told(event):
                    shown.append(((event.mono_ns - begin_ns) / NS - at_s, told))
        return shown + list(_in_doubt(desk.picture(), begin_utc_ns, at_s))


def _in_doubt(
    picture: LinePicture, begin_utc_ns: int, at_s: float
) -> Iterator[tuple[float, str]]:
    """Yield the figures that stand with a mark of doubt, and since when."""
    owners = (*picture.tanks, *picture.rectifiers)
    for figure in (each for owner in owners for each in owner.figures.values()):
        is_doubtful = not is_good(figure.quality) and not is_bad(figure.quality)
        if is_doubtful and figure.good_utc_ns is not None:
            since_s = (figure.good_utc_ns - begin_utc_ns) / NS - at_s
            yield since_s, f"~ before {figure.tag}, as long as it lasts"


def _told(event: Event) -> str:
    if event.kind is EventKind.ALARM and event.values.get("move") == "occur":
        return str(event.values.get("alarm"))
    if event.kind in NEWS:
        return f"{event.kind} {event.subject}: {event.text}"
    return ""


def verdict(name: str, troubled: Shown, usual: Shown) -> dict[str, object]:
    """Return what speaks of a trouble first, and whether in time."""
    due = DUE[name]
    # An alarm that the undisturbed works has too counts only if it has it much later.
    known = {}
    for at_s, told in usual:
        known.setdefault(told, at_s)
    new = [
        (at_s, told)
        for at_s, told in troubled
        if at_s >= -3.0
        and re.search(due.on, told)
        and ("bad-quality" not in told or due.unreadable)
        and (told not in known or known[told] - at_s > 60.0)
    ]
    delay_s, told = min(new, default=(None, ""))
    return {
        "trouble": name,
        "shown": told,
        "delay_s": None if delay_s is None else max(0.0, delay_s),
        "within_s": due.within_s,
        "since": due.since,
        "holds": delay_s is not None and delay_s <= due.within_s,
        "more": len({told for _, told in new}) - 1,
    }


def span_text(seconds: float) -> str:
    """Return a span in the unit that reads best."""
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"


def row(found: dict[str, object], *, markdown: bool) -> str:
    """Return one line of the table."""
    delay_s = found["delay_s"]
    after = "not shown" if delay_s is None else span_text(delay_s)
    due = f"{span_text(found['within_s'])} ({found['since']})"
    if not found["within_s"]:
        after, due = "never", str(found["since"])
    told = str(found["shown"])[:70]
    if markdown:
        mark = "" if found["holds"] or not found["within_s"] else " **no**"
        return f"| `{found['trouble']}` | {told} | {after}{mark} | {due} |"
    mark = "  " if found["holds"] or not found["within_s"] else "! "
    return f"{mark}{found['trouble']:<24}{after:<12}{due:<44}{told}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("names", nargs="*", help="troubles; all without")
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--keep", type=Path, help="a file for all that was found, as JSON")
    asked = parser.parse_args()
    chosen = [name for name in DUE if not asked.names or name in asked.names]
    parties = {DUE[name].party for name in chosen}
    jobs = {(PARTIES[key], ()) for key in parties}
    jobs |= {
        (PARTIES[key], tuple(name for name in chosen if DUE[name].party == key))
        for key in parties
    }
    with ThreadPoolExecutor(2) as pool:
        runs = dict(zip(jobs, pool.map(lambda job: seen(*job), jobs), strict=True))
    found = []
    for name in chosen:
        key = DUE[name].party
        party = PARTIES[key]
        names = tuple(each for each in chosen if DUE[each].party == key)
        found.append(verdict(name, runs[party, names], runs[party, ()]))
    if asked.markdown:
        print("| trouble | shows first as | after | wanted within |\n| --- | --- | --- | --- |")
    for each in found:
        print(row(each, markdown=asked.markdown))
    due = [each for each in found if each["within_s"]]
    print(f"\n{sum(bool(each['holds']) for each in due)} of {len(due)} show in time")
    if asked.keep:
        asked.keep.write_text(json.dumps(found, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
