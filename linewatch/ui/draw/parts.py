"""Pieces that several views show: the account of time, metal, a load, alarms, events."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.causes import FOLLOWS
from linewatch.core.alarms.states import State
from linewatch.core.electrochemistry.uncertainty import AT_LEAST, bound_words
from linewatch.core.events import EventKind
from linewatch.core.units import with_symbols
from linewatch.ui.draw.bands import about, alarm_role, alarm_words, is_due_by_dwell, left_words
from linewatch.ui.draw.families import state_said
from linewatch.ui.draw.naming import held_of
from linewatch.ui.draw.rows import Look, Row, Span, row, titled, told, wrap
from linewatch.ui.marks import alarm_mark, is_standing, state_word
from linewatch.ui.scales import scale_of_unit
from linewatch.ui.text import (
    CLOCK_CELLS,
    DATED_CELLS,
    cells,
    clean,
    clock,
    clock_minutes,
    cut,
    fit,
    hours,
    moment,
    number,
    since_clock,
    span,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from linewatch.core.events import Event
    from linewatch.core.ports import StoredEvent
    from linewatch.core.view import (
        AlarmPicture,
        ChargePicture,
        LinePicture,
        LoadPicture,
        MetalPicture,
    )

SPOILT_MARK: Final = "!"
"""Before the part of a load that may be spoilt."""
WITH_ODD: Final = 100
"""Width from which on a list has room for what is odd about a load; below it is counted."""
WITH_PRIORITY: Final = 90
"""Width from which on a priority has room as a word too."""
LABEL: Final = 13
"""Cells of the label at the left of a fact."""
LITTLE_AH: Final = 0.05
"""Charge of less is not worth a line."""
DAY_NS: Final = 24 * 3600 * 1_000_000_000
LABELLED: Final = 18
"""Cells that the label of a fact and some air take."""


def fact(label: str, *spans: Span | str) -> Row:
    """Return a labelled fact."""
    return row(Span(f"  {fit(label, LABEL)} ", "quiet"), *spans)


def worded(label: str, words: str, look: Look, role: str) -> list[Row]:
    """Return a labelled fact in as many rows as its words need."""
    lines = wrap(words, max(look.width - LABELLED, 1)) or [""]
    return [fact("" if index else label, Span(line, role)) for index, line in enumerate(lines)]


def bar(shares: Sequence[tuple[float, str]], width: int) -> str:
    """Return a bar of parts, each a share of the whole and its sign; the rest stays blank."""
    cells = ""
    done = 0.0
    for share, sign in shares:
        done += max(share, 0.0)
        cells += sign * max(round(min(done, 1.0) * width) - len(cells), 0)
    return cells.ljust(width)[:width]


def missed_words(charge: ChargePicture) -> str:
    """Return how much more than what was counted may have flowed: 'up to 1756 A·h more'."""
    decimals = 0 if charge.missed_ah >= 10.0 else 1  # noqa: PLR2004 - as can be read
    return f"up to {number(charge.missed_ah, decimals)} A·h more"


def charge_rows(charge: ChargePicture, look: Look) -> list[Row]:
    """Return charge with its account of time: metered + recovered + unmetered = elapsed."""
    rows = [titled("charge", look.width)]
    least = AT_LEAST if charge.is_short else ""
    doubt = f" ± {number(charge.uncertainty_ah, 1)}" if charge.uncertainty_ah else ""
    text = f"{least}{number(charge.cathodic_ah, 1)}{doubt} A·h"
    rows.append(fact("cathodic", told(text, look)))
    if charge.anodic_ah:
        spread = charge.anodic_uncertainty_ah
        doubt = f" ± {number(spread, 1)}" if spread else ""
        text = f"{least}{number(charge.anodic_ah, 1)}{doubt} A·h"
        rows.append(fact("anodic", told(text, look)))
    if charge.is_short:
        rows += worded("", f"{missed_words(charge)}: not metered", look, "outside")
    whole = charge.elapsed_s
    parts = (
        ("metered", charge.metered_s, "█", "plain"),
        ("recovered", charge.recovered_s, "▒", "plain"),
        ("unmetered", charge.unmetered_s, "░", "outside" if charge.is_short else "quiet"),
    )
    if whole > 0:
        shares = [(seconds / whole, sign) for _, seconds, sign, _ in parts]
        rows.append(fact("of the time", Span(bar(shares, min(max(look.width - 20, 4), 48)))))
        for (label, seconds, sign, loud), shown_s in zip(parts, charge.whole_s, strict=False):
            share = f"{100 * seconds / whole:5.1f} %"
            said = loud if seconds and look.is_live else "quiet"
            rows.append(fact(label, Span(f"{sign} {share}  {hours(shown_s)}", said)))
    return rows


def metal_rows(metal: MetalPicture, look: Look, wrong_way: str = "") -> list[Row]:
    """Return the metal laid down, with its ±, and how fast it grows.

    Args:
        metal: The metal.
        look: How it is drawn.
        wrong_way: Why some of it may have dissolved again, in words; '' if it has not.
    """
    rows = [titled("metal", look.width)]
    if metal.refused:
        said = wrap(f"no figure: {clean(metal.refused)}", max(look.width - LABEL - 4, 1))
        return rows + [
            fact(clean(metal.deposit, 12) if not i else "", Span(line, "doubt"))
            for i, line in enumerate(said)
        ]
    mass = scale_of_unit("g", look.units)
    spread = mass.span(metal.uncertainty_g)
    decimals = mass.decimals + (0.0 < spread < 1.0)
    text = number(mass.shown(metal.mass_g), decimals)
    doubt = f" ± {number(spread, decimals)}"
    shown = f"{text}{doubt if metal.uncertainty_g else ''} {mass.label}"
    bound = bound_words(is_short=metal.is_short, is_less=bool(wrong_way))
    rows.append(fact(clean(metal.deposit, 12), told(f"{bound}{shown}", look)))
    if wrong_way:
        rows += worded("", wrong_way, look, "doubt")
    if metal.is_short:
        more = f"up to {number(mass.shown(metal.missed_g), 0)} {mass.label} more"
        rows += worded("", f"{more}: not metered", look, "outside")
    for label, value, unit in (
        ("grows by", metal.rate_um_per_h, "um/h"),
        ("density", metal.current_density_a_per_dm2, "A/dm2"),
    ):
        if value is not None:
            scaled = scale_of_unit(unit, look.units)
            text = f"{number(scaled.shown(value), scaled.decimals)} {scaled.label}"
            rows.append(fact(label, told(text, look)))
    return rows


def load_rows(load: LoadPicture, look: Look) -> list[Row]:
    """Return a load: how long it has been in, how thick it is, when it must be out."""
    part = f"  {clean(load.part, 40)}" if load.part else ""
    rows = [
        titled("load", look.width),
        fact("number", Span(clean(load.number, 24), "strong"), Span(part)),
        fact(
            "in since",
            told(f"{clock(load.since_utc_ns, look.zone)}  for {span(load.dwell_s)}", look),
        ),
    ]
    limits = [
        f"{word} {span(value)}"
        for word, value in (("shortest", load.shortest_s), ("longest", load.longest_s))
        if value is not None
    ]
    if limits:
        rows.append(fact("may stay", Span(", ".join(limits), "quiet")))
    # Where nothing is laid down, as in an electrocleaner, no cathodic charge is no figure.
    is_plated = load.thickness_um is not None or bool(load.pull_refused)
    if load.charge_ah is not None and (is_plated or load.charge_ah >= LITTLE_AH):
        least = AT_LEAST if load.unmetered_s else ""
        rows.append(fact("charge", told(f"{least}{number(load.charge_ah, 1)} A·h", look)))
    rows += _thickness_rows(load, look)
    out = [left_words(load, look)]
    if is_due_by_dwell(load) and look.is_live:
        out.append(Span("  by its longest dwell", "quiet"))
    elif load.pull_utc_ns is not None and look.is_live:
        out.append(Span(f"  at {clock_minutes(load.pull_utc_ns, look.zone)}", "quiet"))
    rows.append(fact("out in", *out))
    if load.pull_refused:
        rows += [
            fact("", Span(line, "quiet"))
            for line in wrap(
                f"no time to pull: {clean(load.pull_refused)}", look.width - LABEL - 4
            )
        ]
    return rows


def part_and_odd(part: str, odd: tuple[bool, str], look: Look) -> list[Span]:
    """Return the end of a load's row: what is odd before the part, which may be cut.

    Args:
        part: The part.
        odd: Whether the load may be spoilt, and what is odd in words.
        look: How it is drawn.
    """
    is_grave, said = odd
    named = Span(f"  {clean(part, 60)}", "quiet")
    if not said:
        return [named]
    mark = f" {SPOILT_MARK} " if is_grave else "  "
    brief = said if is_grave or look.width >= WITH_ODD else said.partition(",")[0]
    return [Span(f"{mark}{clean(brief, 200)}", "outside"), named]


def hold_mark(picture: LinePicture, number_of_load: str) -> list[Span]:
    """Return that a load is on hold, for its row; nothing if it is not."""
    is_held = held_of(picture, number_of_load) is not None
    return [Span("  on hold", "strong")] if is_held else []


def hold_rows(picture: LinePicture, number_of_load: str, look: Look) -> list[Row]:
    """Return that a load is on hold, since when, who said so and why."""
    held = held_of(picture, number_of_load)
    if held is None:
        return []
    since = clock(held.utc_ns, look.zone) if held.utc_ns else ""
    if since and held.utc_ns < look.now_ns - DAY_NS:
        since = moment(held.utc_ns, look.zone)
    said = f"since {since}" if since else "yes"
    said += f" by {clean(held.who, 12)}" if held.who else ""
    said += f": {clean(held.why, 200)}" if held.why else ""
    return worded("on hold", said, look, "strong")


def _thickness_rows(load: LoadPicture, look: Look) -> list[Row]:
    if load.thickness_um is None:
        return []
    thick = scale_of_unit("um", look.units)
    text = number(thick.shown(load.thickness_um), thick.decimals)
    if load.thickness_uncertainty_um is not None:
        text += f" ± {number(thick.span(load.thickness_uncertainty_um), thick.decimals)}"
    goal = ""
    rows = []
    if load.target_um:
        goal = f" of {number(thick.shown(load.target_um), thick.decimals)}"
        share = load.thickness_um / load.target_um
        width = min(max(look.width - 28, 4), 40)
        rows = [fact("", told(f"{bar([(share, '▓')], width)}│ {100 * share:.0f} %", look))]
    if load.thinnest_um is not None:
        least = number(thick.shown(load.thinnest_um), thick.decimals)
        rows.append(fact("thinnest", told(f"{least} {thick.label}", look)))
    shown = told(f"{text}{goal} {thick.label}", look)
    mean = Span("mean, if evenly spread", "quiet")
    if LABEL + 4 + cells(shown.text) + cells(mean.text) + 1 <= look.width:
        return [fact("thickness", shown, Span(" "), mean), *rows]
    return [fact("thickness", shown), fact("", mean), *rows]


def alarm_line(alarm: AlarmPicture, called: str, look: Look, *, target: str = "") -> Row:
    """Return one alarm in one row: mark, since when, priority, what, state and who."""
    role = alarm_role(alarm) if is_standing(alarm.state) else "quiet"
    wide = look.width >= WITH_PRIORITY
    who = f" by {clean(alarm.acknowledged_by, 8)}" if alarm.acknowledged_by and wide else ""
    # Where there is little room the frame of the mark tells whether it was seen.
    state = f"{state_said(alarm)}{who}"
    state = state if wide else state.partition(",")[0].removesuffix(" of service")
    priority = fit(alarm.priority, 8) if wide else ""
    when = DATED_CELLS if wide else CLOCK_CELLS
    lead = (
        f" {alarm_mark(alarm.priority, alarm.state)} "
        f"{since_clock(alarm.since_utc_ns, look.now_ns, look.zone, when)} {priority}"
    )
    for_state = 18 if wide else 10
    room = max(look.width - len(lead) - for_state - 2, 4)
    said = alarm_words(alarm, look)
    named = about(called, said, room - 1) if called else said
    return row(
        Span(lead, role),
        Span(fit(f" {named}", room), "plain"),
        Span(f" {fit(state, for_state)} ", "quiet"),
        target=target,
    )


NOTHING: Final = "nothing as long as that is so; if it stands after that, it is told"
"""What an alarm asks for that the line's own doing makes expected."""


def response_rows(
    alarm: AlarmPicture, look: Look, called: Mapping[str, str] | None = None
) -> list[Row]:
    """Return what an alarm says to do: first action and time, consequence, cause.

    Args:
        alarm: The alarm.
        look: How it is drawn.
        called: What things are called, by id, to name a common cause.

    Returns:
        The rows.
    """
    is_told = alarm.group == alarm.subject or alarm.behind
    cause = "" if is_told else (called or {}).get(alarm.group, alarm.group)
    within = hours(alarm.respond_within_s) if alarm.respond_within_s else ""
    within = within.removesuffix(" 00 s").removesuffix(" 00 min")
    until = (
        f", comes back at {clock_minutes(alarm.until_utc_ns, look.zone)}"
        if alarm.until_utc_ns is not None
        else ""
    )
    asks: tuple[tuple[str, str, str], ...] = (
        ("first do", alarm.action, "strong"),
        ("time to act", within, "plain"),
        ("or else", alarm.consequence, "plain"),
    )
    if alarm.behind:
        # What its cause asks for comes first, and may be the opposite.
        asks = (("if it stays", alarm.action, "plain"),)
    is_expected = alarm.state == State.SUPPRESSED.word and not alarm.behind
    rows: list[Row] = []
    for label, text, role in (
        (
            state_word(alarm.state),
            f"{why_words(alarm)}{until}" if alarm.why and not alarm.behind else "",
            "plain",
        ),
        *((("first do", NOTHING, "plain"),) if is_expected else asks),
        ("caused by", alarm.cause, "plain"),
        ("found by", alarm.evidence, "quiet"),
        ("explained by", cause, "quiet"),
    ):
        lines = wrap(clean(text), max(look.width - LABEL - 4, 1)) if text else []
        rows += [fact(label if not i else "", Span(line, role)) for i, line in enumerate(lines)]
    return rows


def why_words(alarm: AlarmPicture) -> str:
    """Return why an alarm is put aside, a design's 'no-current' as people say it."""
    why = clean(alarm.why)
    is_design = alarm.state == State.SUPPRESSED.word and not why.startswith(FOLLOWS)
    return why.replace("-", " ") if is_design else why


TOLD_BY_ALARM: Final = frozenset({"Acknowledge", "ResetLatch", "Shelve", "Unshelve"})
"""Acts on one alarm that the alarm's own event tells: with who, and why."""


def is_told_twice(event: Event) -> bool:
    """Say whether an act is told by the event of the alarm on which it was done, too."""
    is_act = event.kind is EventKind.COMMAND and event.values.get("what") in TOLD_BY_ALARM
    return is_act and event.values.get("alarm") != EVERY_ALARM


def event_row(stored: StoredEvent, called: str, look: Look, *, target: str = "") -> Row:
    """Return one event in one row."""
    event = stored.event
    lead = f" {clock(event.utc_ns, look.zone)} "
    kind = fit(event.kind.value, 17) if look.width >= WITH_KIND else ""
    # An act names what it was done to: it needs no name before it.
    named = f"{called}: " if called and called not in event.text else ""
    room = max(look.width - len(lead) - len(kind) - 1, 1)
    return row(
        Span(lead, "quiet"),
        Span(kind, "quiet"),
        Span(cut(f"{named}{clean(with_symbols(event.text))}", room), "plain"),
        target=target,
    )


EVERY_ALARM: Final = "*"
WITH_KIND: Final = 100
"""Width from which on an event's kind has room."""
