"""One position in detail."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from linewatch.core.alarms.states import State
from linewatch.core.readings import is_bad
from linewatch.ui.draw.alarms import cause_rows
from linewatch.ui.draw.dissolved import wrong_way_words
from linewatch.ui.draw.figures import (
    figure_words,
    gauge,
    is_by_hand,
    label_of,
    ordered,
    window_words,
)
from linewatch.ui.draw.naming import bath_of, names, target
from linewatch.ui.draw.parts import (
    alarm_line,
    charge_rows,
    event_row,
    fact,
    hold_rows,
    is_told_twice,
    load_rows,
    metal_rows,
    response_rows,
    why_words,
    worded,
)
from linewatch.ui.draw.rinses import water_rows
from linewatch.ui.draw.rows import Look, Row, Span, beside, row, titled
from linewatch.ui.draw.trend import Curve, small_plot
from linewatch.ui.draw.unmeasured import BY_KIND, DEPOSIT, unmeasured_rows
from linewatch.ui.draw.warming import warming_rows
from linewatch.ui.marks import is_standing, rank
from linewatch.ui.text import age, cells, clean, fit, quality_word

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from linewatch.core.ports import StoredEvent
    from linewatch.core.view import AlarmPicture, Figure, LinePicture, TankPicture

TWO_COLUMNS: Final = 118
"""Width from which on there is room for two columns."""
WITH_GAUGE: Final = 70
NARROW: Final = 60
VALUE: Final = 24
"""Cells of a figure with its unit and its mark."""
EVENTS: Final = 6
PLOT_ROWS: Final = 8
WORK: Final = {
    "in": "hangs in it",
    "entering": "is going in",
    "leaving": "is coming out",
    "empty": "none",
}

KINDS: Final = {
    "load": "racking and unracking",
    "clean": "cleaner",
    "electroclean": "electrocleaner",
    "rinse": "rinse",
    "activate": "acid, activation",
    "strike": "strike",
    "plate": "plating",
    "passivate": "passivate",
    "seal": "seal",
    "dry": "dryer",
    "bake": "oven",
    "treat": "water treatment",
    "extract": "extraction",
    "supply": "supply",
    "cell": "small cell",
}
"""What a position is for, in words."""


def figure_rows(figures: Mapping[str, Figure], look: Look) -> list[Row]:
    """Return a row a figure: label, value, window, its place in it."""
    if not figures:
        return [
            titled("figures", look.width),
            fact("", Span("nothing is measured here", "quiet")),
        ]
    # Half of a middle screen is a little narrower than what all of it would like.
    cut = 2 if look.width < NARROW else 0
    rows = [titled("figures", look.width)]
    for name, figure in ordered(figures):
        said = whole = figure_words(figure, look)
        if cells(whole.text) > VALUE - cut:
            # Cut short its meaning would be lost: the whole stands below.
            said = figure_words(figure, look, brief=True)
        spans = [
            Span(f"  {fit(label_of(name), 13)} ", "quiet"),
            Span(fit(said.text, VALUE - cut, right=True), said.role),
            Span(f"  {fit(window_words(figure, look), 16 - cut, right=True)} ", "quiet"),
        ]
        if look.width >= WITH_GAUGE:
            spans.append(gauge(figure, 13, look))
        rows.append(row(*spans, target=target("tag", figure.tag)))
        if said != whole:
            rows.append(fact("", Span(_why_brief(figure, whole), "doubt")))
        if is_by_hand(figure):
            old = age((look.now_ns - figure.utc_ns) / 1e9)
            rows.append(fact("", Span(f"by hand, {old} ago", "quiet")))
    return rows


def _why_brief(figure: Figure, whole: Span) -> str:
    """Return what a figure's brief form leaves out: since when it is bad, who doubts it."""
    return whole.text if is_bad(figure.quality) else quality_word(figure.quality)


def tank_rows(
    picture: LinePicture,
    tank: TankPicture,
    events: Sequence[StoredEvent],
    past: Curve | None,
    look: Look,
) -> list[Row]:
    """Return everything about one position."""
    wide = look.width >= TWO_COLUMNS
    half = replace(look, width=(look.width - 2) // 2 if wide else look.width)
    figures = figure_rows(tank.figures, half)
    curve = _past_rows(tank, past, half, names(picture)) if past is not None else []
    totals: list[Row] = []
    if tank.charge is not None:
        totals += [row(), *charge_rows(tank.charge, half)]
    if tank.metal is not None:
        totals += [row(), *metal_rows(tank.metal, half, wrong_way_words(tank))]
    urgent = _permit_rows(tank, half) + _standing(picture, tank, half)
    more: list[Row] = []
    if tank.load is not None:
        more += load_rows(tank.load, half)
        more += [*hold_rows(picture, tank.load.number, half), row()]
    more += water_rows(picture, tank.id, half)
    more += _place_rows(picture, tank, half)
    more += _event_rows(events, tank, half)
    if wide:
        rows = beside([*figures, *curve, *totals], [*urgent, *more], half.width)
    else:
        # What asks for somebody comes before what is counted: there is no room beside.
        rows = [*figures, row(), *urgent, *totals[1:], row(), *more, *curve]
    said = unmeasured_rows(BY_KIND.get(tank.kind), look.width)
    if tank.load is not None and tank.load.thickness_um is not None:
        said += unmeasured_rows(DEPOSIT, look.width)
    return [*rows, row(), *said]


def _past_rows(
    tank: TankPicture, past: Curve, look: Look, called: Mapping[str, str]
) -> list[Row]:
    figure = next((f for f in tank.figures.values() if f.tag == past.tag), None)
    owner, _, what = past.tag.partition(".")
    named = called.get(owner, clean(owner, 40))
    title = titled(f"{named}, {label_of(what)}, the last hour", look.width)
    ahead = warming_rows(past, figure, look)
    return [row(), title, *small_plot(past, figure, look, PLOT_ROWS), *ahead]


def _permit_rows(tank: TankPicture, look: Look) -> list[Row]:
    """Return whether water may be let go here, and why not."""
    if not tank.permit:
        return []
    role = "high" if tank.permit_reasons else "plain"
    rows = [titled("letting water go", look.width), fact("now", Span(clean(tank.permit), role))]
    for reason in tank.permit_reasons:
        rows += worded("because", clean(reason), look, "plain")
    for unknown in tank.permit_unknown:
        rows += worded("", clean(unknown), look, "quiet")
    rows.append(fact("", Span("your permit governs; a spot test decides", "quiet")))
    return [*rows, row()]


def _standing(picture: LinePicture, tank: TankPicture, look: Look) -> list[Row]:
    mine = {tank.id, *tank.rectifiers}
    alarms = [each for each in picture.alarms if each.subject in mine]
    if not alarms:
        return []
    # What the line's own doing makes expected asks nobody for anything.
    expected = [each for each in alarms if each.state == State.SUPPRESSED.word]
    asking = sorted(
        (each for each in alarms if each.state != State.SUPPRESSED.word),
        key=lambda each: (not is_standing(each.state), rank(each.priority)),
    )
    # What alarms ask for alike is said once: a silent rectifier has six of them.
    alike: dict[tuple[Row, ...], list[AlarmPicture]] = {}
    called = names(picture)
    for alarm in asking:
        alike.setdefault(tuple(response_rows(alarm, look, called)), []).append(alarm)
    rows = [titled("alarms", look.width)]
    for response, some in alike.items():
        rows += [alarm_line(each, "", look) for each in some]
        rows += response
    if not asking:
        follows = sum(1 for each in expected if each.behind)
        said = "none of its own; what follows from others:" if follows else "none stands"
        rows.append(fact("", Span(said, "quiet")))
    for each in expected:
        because = cause_rows(picture, each, look)
        rows += [alarm_line(each, "", look)]
        rows += because or [fact("expected:", Span(why_words(each), "quiet"))]
    return [*rows, row()]


def _place_rows(picture: LinePicture, tank: TankPicture, look: Look) -> list[Row]:
    called = names(picture)
    rows = [
        titled("place", look.width),
        fact("kind", KINDS.get(tank.kind, clean(tank.kind, 20))),
    ]
    if tank.out_of_service:
        rows.append(fact("", Span("out of service", "outside")))
    if tank.bath:
        bath = bath_of(picture, tank.bath)
        rows.append(fact("bath", clean(bath.name if bath is not None else tank.bath, 40)))
    rows += [fact("rectifier", called.get(each, clean(each, 30))) for each in tank.rectifiers]
    if tank.state:
        rows.append(fact("work", WORK.get(tank.state, clean(tank.state, 20))))
    return [*rows, row()]


def _event_rows(events: Sequence[StoredEvent], tank: TankPicture, look: Look) -> list[Row]:
    about = {tank.id, *tank.rectifiers, *(figure.tag for figure in tank.figures.values())}
    mine = [
        each
        for each in events
        if (each.event.subject in about or each.event.subject.partition(".")[0] in about)
        and not is_told_twice(each.event)
    ]
    rows = [titled("lately", look.width)]
    if not mine:
        rows.append(fact("", Span("nothing happened here", "quiet")))
    return rows + [event_row(each, "", look) for each in reversed(mine[-EVENTS:])]
