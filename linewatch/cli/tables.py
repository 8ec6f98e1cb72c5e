"""Plain text for a pipe, a script or a screen reader: no colour, no cursor, one fact a line."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from linewatch.core.acts import sentence
from linewatch.core.units import with_symbols
from linewatch.ui.text import clean
from linewatch.wiring.acts_told import act_text, names_in, naming

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.ports import Desk, StoredEvent
    from linewatch.history.chain import Action

LOOK_S = 0.25
MOST = 2000
"""Characters of a line that are printed; the rest is cut off and told by '…'."""
Measures: TypeAlias = "Mapping[str, str]"
NO_MEASURES: Final[dict[str, str]] = {}
FINGERPRINT: Final = 16
"""Digits of a fingerprint that are told, as on the pages."""
_NO_REASON: Final = "collector started"
"""What is recorded where nobody gave a reason: it says no more than that it happened."""


def names_of(desk: Desk) -> dict[str, str]:
    """Return what people call everything on a line, duties included, by id."""
    return names_in(desk.picture())


def harmless(text: str) -> str:
    """Return text for a terminal, line by line; nothing that anybody wrote steers it."""
    return "\n".join(clean(line, MOST) for line in text.split("\n"))


def follow(desk: Desk) -> None:
    """Print the newest events, then every new one as it comes, until interrupted."""
    seen = 0
    called = names_of(desk)
    for stored in desk.latest(20):
        seen = _tell(stored, called)
    news = -1
    while True:
        now = desk.news()
        if now != news:
            news = now
            for stored in desk.changes(seen):
                seen = _tell(stored, called)
        time.sleep(LOOK_S)


def _tell(stored: StoredEvent, called: Mapping[str, str]) -> int:
    print(event_words(stored, called), flush=True)
    return stored.number


def event_words(stored: StoredEvent, called: Mapping[str, str]) -> str:
    """Return one event in a line of words; what it is about by its name, where one is known."""
    event = stored.event
    subject = called.get(event.subject, event.subject.replace("load/", "load ", 1))
    text = with_symbols(act_text(event, naming(called, NO_MEASURES)))
    # One event is one line, whatever it says.
    return clean(f"{clock(event.utc_ns)} {subject}: {text}", MOST)


def act_words(act: Action, called: Mapping[str, str], measures: Measures = NO_MEASURES) -> str:
    """Return what a person did: a line, and one for each limit that it changed.

    Args:
        act: What was done.
        called: What people call things, by id.
        measures: 'g' or 'mL', by 'bath/additive'.
    """
    if act.what == "Configure":
        return "\n".join((_started_words(act), *_change_rows(act)))
    command = act.parts.get("command", {})
    why = act.parts.get("why") or command.get("why") or ""
    refused = act.parts.get("refused") or ""
    did = sentence(act.what, command, naming(called, measures))
    # Another program's version may know commands that this one does not.
    did = did or "".join(f" {e.lower()}" if e.isupper() else e for e in act.what).strip()
    line = " ".join(
        part
        for part in (
            f"{act.number:>5} {clock(act.utc_ns)} {act.who} {did}",
            f"because {why}" if why else "",
            f"(refused: {refused})" if refused else "",
        )
        if part
    )
    return "\n".join((line, *_change_rows(act)))


def _change_rows(act: Action) -> list[str]:
    return [f"        {each}" for each in act.parts.get("changes", ())]


def _started_words(act: Action) -> str:
    """Return that a collector started with a configuration that was not in force before."""
    print_ = str(act.parts.get("fingerprint") or "")[:FINGERPRINT]
    which = (
        "another configuration than before" if act.parts.get("before") else "this configuration"
    )
    why = act.parts.get("why") or ""
    because = f", because {why}" if why and why != _NO_REASON else ""
    told = f"the collector started with {which} ({print_}), by {act.who}{because}"
    return f"{act.number:>5} {clock(act.utc_ns)} {told}"


def headless_table(result: Mapping[str, Any]) -> str:
    """Return a headless run's result: ours beside the plant's truth."""
    rows = [
        (
            f"{result['elapsed_s']:.0f} s of line time at speed {result['speed']:g},"
            f" a poll every {result['poll_s'] or 0:.2f} s"
        ),
        (
            f"{'tank':<18}{'A.h':>12}{'truth':>12}{'metal g':>12}{'truth':>12}"
            f"{'metered s':>11}{'recov. s':>10}{'unmet. s':>10}"
        ),
    ]
    rows += [
        f"{tank['id']:<18}{tank['charge_ah']:>12.2f}{_number(tank['true_charge_ah']):>12}"
        f"{tank['metal_g']:>12.2f}{_number(tank['true_metal_g']):>12}"
        f"{tank['metered_s']:>11.1f}{tank['recovered_s']:>10.1f}{tank['unmetered_s']:>10.1f}"
        for tank in result["tanks"]
    ]
    rows += [f"link {link['id']}: {link['state']}" for link in result["links"]]
    standing = sum(1 for each in result["alarms"] if each["stands"])
    behind = sum(1 for each in result["alarms"] if each["behind"] and not each["stands"])
    more = f", {behind} follow from them" if behind else ""
    rows.append(f"{standing} alarm{'' if standing == 1 else 's'} stand{more}")
    return "\n".join(rows)


def _number(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def clock(utc_ns: int) -> str:
    """Return date and time as this machine's wall clock shows them."""
    return time.strftime("%Y-%m-%d %H:%M:%S", time.localtime(utc_ns / 1e9))
