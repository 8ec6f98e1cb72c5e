"""The line in plain words: for a screen reader, a pipe, a plain terminal; one thing a line.

Rule: what must be known first is said first. The state, then the alarms that stand, then the
positions in process order, what is outside its window before what is not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.cli.tables import harmless
from linewatch.core.readings import QUALITY_WORDS, Quality, is_bad, is_good
from linewatch.ui.draw.bands import alarm_words, due_ns
from linewatch.ui.draw.families import newest
from linewatch.ui.draw.figures import IS, STATE_WORDS, ordered, unwellness
from linewatch.ui.draw.naming import names
from linewatch.ui.draw.rows import Look
from linewatch.ui.scales import scale
from linewatch.ui.text import counted, hours, number

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from linewatch.core.view import (
        AlarmPicture,
        Figure,
        LinePicture,
        LinkPicture,
        LoadPicture,
        TankPicture,
    )

NS: Final = 1_000_000_000
TOLD_WITH_THE_LOAD: Final = ("load-present", "load-number")
WRITTEN: Final = {"ph": "pH", "orp": "ORP", "count": "", "running": ""}
"""Kinds whose name is not their word."""
NORMAL: Final = {"fault": "no"}
"""States that are not worth a word while they read so."""
WIDE: Final = 200
"""Cells that a line has room for: it is never cut."""
LEAST_AH: Final = 0.05
"""A charge that would be told as 0.0."""


def figure_words(name: str, figure: Figure, units: str) -> str:
    """Return one figure in words: 'temperature 61.8 °C high'; '' where it says nothing.

    Args:
        name: By which it stands in its position: 'pressure.filter'.
        figure: The figure.
        units: 'metric' or 'us'.
    """
    label = _spoken(name)
    if figure.value is None or is_bad(figure.quality):
        return f"{label} {QUALITY_WORDS[Quality(figure.quality)]}"
    states = STATE_WORDS.get("fault" if IS in figure.tag else figure.kind)
    if states is not None:
        text = states[round(figure.value) != 0]
        if NORMAL.get(figure.kind) == text and is_good(figure.quality):
            return ""
    else:
        shown = scale(figure.kind, units)
        text = f"{number(shown.shown(figure.value), shown.decimals)} {shown.label}".rstrip()
    doubt = "" if is_good(figure.quality) else f" ({QUALITY_WORDS[Quality(figure.quality)]})"
    return f"{label} {text} {figure.side}".rstrip() + doubt


def tank_words(tank: TankPicture, units: str) -> str:
    """Return one position in a line of words.

    Args:
        tank: The position.
        units: 'metric' or 'us'.
    """
    parts = list(_worst_first(tank.figures, units))
    if tank.alarms:
        gone = " that went again" if tank.has_gone else ""
        parts.insert(0, f"{counted(tank.alarms, 'alarm')}{gone}, worst {tank.worst}")
    if tank.load is not None:
        parts.append(_load_words(tank.load))
    if tank.charge is not None:
        for charge_ah, which in (
            (tank.charge.cathodic_ah, "charge"),
            (tank.charge.anodic_ah, "anodic charge"),
        ):
            if charge_ah >= LEAST_AH:
                least = "at least " if tank.charge.is_short else ""
                parts.append(f"{which} {least}{charge_ah:.1f} A·h")
    if tank.metal is not None and not tank.metal.refused:
        least = "at least " if tank.metal.is_short else ""
        parts.append(f"{tank.metal.deposit} {least}{tank.metal.mass_g:.0f} g")
    return f"{tank.called} ({tank.id}): " + ("; ".join(parts) or "nothing is measured there")


def _spoken(name: str) -> str:
    """Return a figure's name in whole words: of 'pressure.filter' 'pressure filter'."""
    kind, _, twin = name.partition(".")
    parts = (WRITTEN.get(kind, kind.replace("-", " ")), twin.replace("-", " "))
    return " ".join(part for part in parts if part)


def _worst_first(figures: Mapping[str, Figure], units: str) -> Iterator[str]:
    told = [
        (name, figure) for name, figure in ordered(figures) if name not in TOLD_WITH_THE_LOAD
    ]
    for name, figure in sorted(told, key=lambda item: -unwellness(item[1])):
        words = figure_words(name, figure, units)
        if words:
            yield words


def _load_words(load: LoadPicture) -> str:
    named = f"load {load.number or 'without a number'} for {hours(load.dwell_s)}"
    due = due_ns(load)
    if due is None:
        return (
            f"{named}, no time to pull it: {load.pull_refused}" if load.pull_refused else named
        )
    left_s = (due - load.since_utc_ns) / NS - load.dwell_s
    said = f"out in {hours(left_s)}" if left_s > 0.0 else f"should be out for {hours(-left_s)}"
    return f"{named}, {said}"


def line_table(picture: LinePicture, *, alive: bool) -> str:
    """Return the whole line, a line of words for each alarm, position and link.

    Args:
        picture: The line.
        alive: Whether a collector runs.
    """
    running = "recording" if alive else "no collector runs; this is the last picture"
    rows = [f"{picture.line_id}: {picture.name}, {picture.state}, {running}"]
    called = names(picture)
    standing = newest(picture.alarms)
    aside = [each for each in picture.alarms if each not in standing]
    look = Look(width=WIDE, height=1, now_ns=picture.utc_ns, units=picture.units)
    rows += [_alarm_words(alarm, called, look) for alarm in (*standing, *aside)]
    rows += [tank_words(tank, picture.units) for tank in picture.tanks]
    rows += [_link_words(link) for link in picture.links]
    return harmless("\n".join(rows))


def _alarm_words(alarm: AlarmPicture, called: Mapping[str, str], look: Look) -> str:
    state = alarm.why if alarm.behind and alarm.why else alarm.state
    return (
        f"alarm {called.get(alarm.subject, alarm.subject)}: {alarm_words(alarm, look)}:"
        f" {state}, priority {alarm.priority} ({alarm.id})"
    )


def _link_words(link: LinkPicture) -> str:
    return f"link {link.id}: {link.state} {link.reason}".rstrip()
