"""The small plated line with people at its alarms, to be killed.

    python tests/history/acting_collector.py STORE

Shelves, brings back and acknowledges without end. Prints the number of the last act that is
known to be committed, and how often an alarm was shelved by then. Goes on where the record
ends.
"""

from __future__ import annotations

import sys
import threading
import uuid
from pathlib import Path

from linewatch import history
from linewatch.core.commands import Acknowledge, Shelve, Unshelve
from tests.history.plated_line import BEGIN_UTC_NS, NS, LiveLine, Plant, plan

LINE = "plated"
ALARM = "nickel.level.low"


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
        live.ask(desk, Acknowledge(who="cd", alarm="*"))
        live.ask(desk, Unshelve(who="ab", alarm=ALARM))
        live.ask(desk, Shelve(who="ab", alarm=ALARM, for_s=3600.0, why="gauge is cleaned"))
        acts = desk.actions()
        shelved = sum(
            1 for act in acts if act.what == "Shelve" and not act.parts.get("refused")
        )
        sys.stdout.write(f"stored {acts[-1].number} {shelved}\n")
        sys.stdout.flush()
    journal.close()
    desk.close()


if __name__ == "__main__":
    main()
