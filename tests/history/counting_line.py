"""A tiny stand-in for a collector: counts, batches and commits as fast as the disk allows.

    python tests/history/counting_line.py STORE [seconds of line time a batch]

It is what the kill tests kill. Every block carries the next whole number, so that a lost or
doubled block shows; the memory holds the sum. A number is printed once it is known to be
committed: what was printed may never be missing afterwards. Ends when standard input closes.
"""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

import numpy as np

from linewatch import history
from linewatch.core.commands import WriteNote
from linewatch.core.events import Event, EventKind
from linewatch.core.ports import Batch, Order, RunStart, Tick
from linewatch.core.readings import Layout, Moment, Readings

LINE = "counting"
NS = 10**9
BEGIN_UTC_NS = 1_772_000_000 * NS
COUNTER = Layout(link="count", device="counter", tags=("counter.count",), period_ns=NS)
QUALITY = np.zeros(1, dtype=np.uint8)


class Counting:
    """Counts up; its memory is how far it got and the sum of all numbers so far."""

    def __init__(self, memory) -> None:
        text = memory.get("counting", b"0 0").decode()
        self.last, self.sum = (int(part) for part in text.split())

    def memory(self) -> dict[str, bytes]:
        return {"counting": f"{self.last} {self.sum}".encode()}

    def at(self) -> Moment:
        return Moment(utc_ns=BEGIN_UTC_NS + self.last * NS, mono_ns=self.last * NS)

    def next_block(self) -> Readings:
        self.last += 1
        self.sum += self.last
        at = self.at()
        return Readings(
            layout=COUNTER,
            utc_ns=at.utc_ns,
            mono_ns=at.mono_ns,
            value=np.array([float(self.last)]),
            quality=QUALITY,
        )


def batch_of(counting: Counting, blocks: int, requests) -> Batch:
    """Return the next batch; it carries out what people asked."""
    entries, outcomes = [], {}
    for request in requests:
        entries.append(Order(request=request.number, command=request.command, at=counting.at()))
        outcomes[request.number] = ""
    entries += [counting.next_block() for _ in range(blocks)]
    entries.append(Tick(at=counting.at()))
    at = counting.at()
    event = Event(
        kind=EventKind.NOTE,
        subject="counter",
        utc_ns=at.utc_ns,
        mono_ns=at.mono_ns,
        text=str(counting.last),
    )
    return Batch(
        entries=entries,
        events=[event],
        memory=counting.memory(),
        totals={"counter": {"sum": counting.sum, "last": counting.last}},
        outcomes=outcomes,
    )


def count(store: Path, blocks: int, stop) -> None:
    """Count until told to stop; print what is known to be committed."""
    journal = history.open_journal(store, LINE)
    counting = Counting(journal.memory())
    desk = history.open_desk(store, LINE)
    run = RunStart(run_id=os.urandom(8).hex(), at=counting.at(), fingerprint="", speed=1.0)
    journal.append(Batch(entries=[run], events=(), memory={}))
    sys.stdout.write("begun\n")
    sys.stdout.flush()
    taken = set()
    while not stop():
        number = desk.request(WriteNote(who="ab", subject="counter", text=str(counting.last)))
        new = [each for each in journal.requests() if each.number not in taken]
        taken.update(each.number for each in new)
        journal.append(batch_of(counting, blocks, new))
        journal.settle()
        if desk.outcome(number).done:
            sys.stdout.write(f"stored {counting.last} {number}\n")
            sys.stdout.flush()
    journal.close()
    desk.close()


def main() -> None:
    ended = threading.Event()

    def watch() -> None:
        sys.stdin.read()
        ended.set()

    threading.Thread(target=watch, daemon=True).start()
    blocks = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    count(Path(sys.argv[1]), blocks, ended.is_set)


if __name__ == "__main__":
    main()
