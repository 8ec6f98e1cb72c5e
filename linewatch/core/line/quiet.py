"""How long nothing but values and charge changes: where many blocks may be taken as stacks.

Rule 1: within a quiet window the order of blocks of different layouts means nothing. No value
        leaves its box, no quality changes, nothing falls due, nobody turns stale; every ledger
        hears one layout only. So each layout's blocks may be taken together, and the ticks
        between them left out but the last.
Rule 2: in doubt a window is not quiet. What is not quiet is taken one by one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from linewatch.core.line.machine import Line
    from linewatch.core.line.watch import Watch
    from linewatch.core.readings import Layout, Stack


def quiet_until_ns(line: Line, stacks: Sequence[Stack], end_ns: int) -> int:
    """Return the line time before which a window is quiet.

    The wall clock is not looked at: a window in which it was set is not for this function.

    Args:
        line: As it is before the window.
        stacks: All blocks of the window, one stack a layout.
        end_ns: Line time of the window's end.

    Returns:
        Line time [ns]: all entries of the window before it may be taken as stacks, and a tick
        before it, taken after them, stands for all ticks. Not after `line.now_ns` if there is
        no such time.
    """
    told = {stack.layout for stack in stacks}
    if line.alarms.flood.is_on or _share_a_ledger(line, told):
        return line.now_ns
    until_ns = min(end_ns, line.next_ns)
    for layout, watch in line.watches.items():
        if layout not in told and not watch.is_settled:
            until_ns = min(until_ns, watch.heard_ns + watch.least_patience_ns)
    for stack in stacks:
        heard = line.watches.get(stack.layout)
        if heard is None or heard.mono_ns < 0:
            return line.now_ns
        until_ns = min(until_ns, _quiet_rows_until_ns(heard, stack))
    return until_ns


def take_quiet(line: Line, stacks: Sequence[Stack]) -> None:
    """Take stacks that `quiet_until_ns` found quiet; a tick must follow.

    It is what `Line.receive` makes of them, without looking through them a second time.

    Args:
        line: The line.
        stacks: Blocks before the time that was found, one stack a layout.
    """
    for stack in stacks:
        line.watches[stack.layout].take_rows(stack, 0, len(stack.mono_ns))


def _quiet_rows_until_ns(watch: Watch, stack: Stack) -> int:
    quiet = watch.quiet_rows(stack, 0, len(stack.mono_ns))
    heard_ns = np.concatenate(([watch.heard_ns], stack.mono_ns))
    # A tick in a long silence would turn the values stale.
    silent = np.diff(heard_ns) > watch.least_patience_ns
    last = int(silent.argmax()) if silent.any() else len(stack.mono_ns)
    until_ns = int(heard_ns[last]) + watch.least_patience_ns
    return min(until_ns, int(stack.mono_ns[quiet])) if quiet < len(stack.mono_ns) else until_ns


def _share_a_ledger(line: Line, layouts: Iterable[Layout]) -> bool:
    """Say whether two of the layouts feed one ledger: then their order has a meaning."""
    seen: set[str] = set()
    for layout in layouts:
        watch = line.watches.get(layout)
        if watch is None:
            continue
        names = {rectifier.plan.id for rectifier, _, _ in watch.ledgers}
        if names & seen:
            return True
        seen |= names
    return False
