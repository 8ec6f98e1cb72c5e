"""The small plated line, recorded as fast as it goes by the real `Line`, to be killed.

    python tests/history/plated_collector.py STORE

Prints the charge that is known to be committed. Goes on where the record ends.
"""

from __future__ import annotations

import sys
import threading
import uuid
from pathlib import Path

from linewatch import history
from linewatch.core.commands import WriteNote
from tests.history.plated_line import BEGIN_UTC_NS, NS, LiveLine, Plant, plan

LINE = "plated"


def main() -> None:
    ended = threading.Event()

    def watch() -> None:
        sys.stdin.read()
        ended.set()

    threading.Thread(target=watch, daemon=True).start()
    store = Path(sys.argv[1])
    journal = history.open_journal(store, LINE)
    desk = history.open_desk(store, LINE)
    last = journal.last_moment()
    plant = Plant(seed=last.mono_ns % 1000 if last else 0)
    if last is not None:
        plant.second = last.mono_ns / NS + 7.0
        plant.step_ns = last.utc_ns - last.mono_ns - BEGIN_UTC_NS
    live = LiveLine(journal, plan(), plant)
    live.begin(uuid.uuid4().hex)
    while not ended.is_set():
        live.run(60.0, batch=50)
        live.ask(desk, WriteNote(who="ab", subject="nickel", text="seen"))
        charge = live.line.totals()["r2"]["cathodic_uas"]
        sys.stdout.write(f"stored {charge} {desk.actions()[-1].number}\n")
        sys.stdout.flush()
    journal.close()
    desk.close()


if __name__ == "__main__":
    main()
