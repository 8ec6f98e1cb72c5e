"""Rectifiers, loads and links: a row each, and the chosen one in detail."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from linewatch.ui.draw.bands import due_ns, left_words
from linewatch.ui.draw.control import control_rows
from linewatch.ui.draw.families import GONE, newest, of_link
from linewatch.ui.draw.figures import figure_cell, of_kind
from linewatch.ui.draw.naming import names, target
from linewatch.ui.draw.parts import (
    LABELLED,
    charge_rows,
    fact,
    hold_mark,
    hold_rows,
    load_rows,
    part_and_odd,
    worded,
)
from linewatch.ui.draw.rows import Look, Row, Span, beside, clip, row, titled, told, wrap_path
from linewatch.ui.draw.tank import TWO_COLUMNS, figure_rows
from linewatch.ui.draw.unmeasured import CONTACT, DEPOSIT, unmeasured_rows
from linewatch.ui.marks import rank
from linewatch.ui.scales import scale, scale_of_unit
from linewatch.ui.text import age, cells, clean, counted, fit, moment, number, span

if TYPE_CHECKING:
    from collections.abc import Mapping

    from linewatch.core.view import (
        AlarmPicture,
        LinePicture,
        LinkPicture,
        LoadPicture,
        RectifierPicture,
        TankPicture,
    )


WIDE: Final = 100
NAME: Final = 28
SHORT_NAME: Final = 20
NO_NUMBER: Final = "no number"
"""A load is there, and nothing tells which."""
LEAST_ATTENTION: Final = 5
FIGURES: Final = ("current", "voltage", "ripple", "heat-sink")
"""What stands of a rectifier in its row."""
MUCH_ATTENTION: Final = 30
SHORT_MARK: Final = "*"
"""Behind a charge that is the least: more may have flowed, not metered."""
WENT: Final = "gone: "
"""What stands before an alarm whose condition is no more."""


def _name_width(look: Look) -> int:
    return NAME if look.width >= WIDE else SHORT_NAME


def _unit_width(look: Look) -> int:
    """Return the width of a rectifier's name: what it needs must have room in 80 columns."""
    return NAME if look.width >= WIDE else SHORT_NAME - 3


def _figure_widths(look: Look) -> tuple[int, ...]:
    """Return the widths of a rectifier's figures: why it needs a walk must have room too."""
    return (9, 9, 10, 11) if look.width >= WIDE else (8, 8, 8, 9)


def _halves(look: Look) -> tuple[Look, bool]:
    wide = look.width >= TWO_COLUMNS
    return replace(look, width=(look.width - 2) // 2 if wide else look.width), wide


def _told_right(text: str, width: int, look: Look) -> Span:
    said = told(text, look) if text else Span("")
    return Span(fit(said.text, width, right=True), said.role)


# Rectifiers.


def rectifiers_head(look: Look) -> Row:
    """Return the heads of the rectifiers' columns."""
    name = fit("rectifier", _unit_width(look))
    amps, volts, ripple, sink = _figure_widths(look)
    heads = f"   {name}{'A  ':>{amps}}{'V  ':>{volts}}{'ripple %':>{ripple}}"
    unit, charge = (4, f"{'A·h ':>10}") if look.width >= WIDE else (3, "")
    degrees = fit(scale("heat-sink", look.units).label, unit)
    heads += f"{'sink ':>{sink - unit}}{degrees}{charge}{'need':>7}  findings"
    return row(Span(fit(heads, look.width), "head"))


def rectifier_rows(picture: LinePicture, look: Look) -> list[Row]:
    """Return a row a rectifier, those first that need attention most."""
    ordered = sorted(picture.rectifiers, key=lambda each: -round(each.attention))
    return [_rectifier_row(picture, each, look) for each in ordered]


def _rectifier_row(picture: LinePicture, each: RectifierPicture, look: Look) -> Row:
    cells = [
        figure_cell(of_kind(each.figures, kind), width, look)
        for kind, width in zip(FIGURES, _figure_widths(look), strict=True)
    ]
    # In 80 columns there is no room for the charge beside why a unit is at the top: that comes
    # first, the charge stands in the detail.
    state = "out of service" if each.out_of_service else ""
    said = _asks(picture, each, look)
    counted_ah = f"{_charge(each)}{SHORT_MARK if each.charge.is_short else ' '}"
    charge = [_told_right(counted_ah, 10, look)] if look.width >= WIDE else []
    has_gone = said.startswith(WENT)
    role = "quiet" if has_gone and not state else "outside"
    found = Span(f"  {state or said}", role)
    spans = [
        Span(" x " if state else "(!)" if has_gone else " ! " if said else "   ", role),
        Span(fit(_short(each.name), _unit_width(look))),
        *cells,
        *charge,
        _needs(each.attention),
        found,
    ]
    return Row(clip(spans, look.width), target("rectifier", each.id))


def _asks(picture: LinePicture, each: RectifierPicture, look: Look) -> str:
    """Return why a unit needs attention: what is found, else its worst alarm; what went."""
    own = newest([one for one in picture.alarms if one.subject == each.id])
    said = list(each.findings)
    if not said:
        said += _worst([one for one in own if one.state not in GONE])
    said += [f"{WENT}{text}" for text in _worst([one for one in own if one.state in GONE])]
    if look.width < WIDE:
        said = [text.removeprefix("rectifier ") for text in said]
    return clean("; ".join(said), 200)


def _worst(alarms: list[AlarmPicture]) -> list[str]:
    """Return the shortest words of the worst of some alarms; nothing if there are none."""
    ranks = [rank(one.priority) for one in alarms]
    worst = [one.text for one in alarms if rank(one.priority) == min(ranks)]
    return [min(worst, key=cells)] if worst else []


def _short(name: str) -> str:
    """Return a rectifier's name without the word that stands above the column."""
    shown = clean(name, 60)
    words = [word for word in shown.split(" ") if word.casefold() != "rectifier"]
    # What is left must still be a name: 'Rectifier 9' is not 9.
    return " ".join(words) if any(word.isalpha() for word in words) else shown


def _charge(each: RectifierPicture) -> str:
    """Return the charge of a unit; where the work is the anode, that which counts there."""
    if each.polarity == "anodic":
        return f"{number(each.charge.anodic_ah, 1)} an"
    return number(each.charge.cathodic_ah, 1)


def _needs(attention: float) -> Span:
    """Return how much attention a unit needs; nothing worth a walk is not shown."""
    share = round(attention)
    if share < LEAST_ATTENTION:
        return Span(" " * 7)
    return Span(f"{share:>7}", "outside" if share >= MUCH_ATTENTION else "plain")


def rectifier_detail(picture: LinePicture, each: RectifierPicture, look: Look) -> list[Row]:
    """Return everything about one rectifier."""
    half, wide = _halves(look)
    called = names(picture)
    first = [
        titled(clean(each.name, 60), half.width),
        fact("rated", f"{each.rated_current_a:g} A, {each.rated_voltage_v:g} V"),
        fact("work is", "anode" if each.polarity == "anodic" else "cathode"),
        fact("feeds", ", ".join(called.get(name, clean(name, 30)) for name in each.feeds)),
    ]
    first += control_rows(each, half)
    if round(each.attention) >= LEAST_ATTENTION:
        said = f"{round(each.attention)}  alarms and findings, weighted; the list goes by it"
        first += worded("need", said, half, "quiet")
    for finding in each.findings:
        first += worded("found", clean(finding), half, "outside")
    first += [row(), *figure_rows(each.figures, half)]
    second = charge_rows(each.charge, half)
    for label, words in each.health:
        second += worded(label, clean(words), half, "quiet")
    since = "the record began"
    if each.base_utc_ns:
        since = f"it was serviced or replaced, {moment(each.base_utc_ns, look.zone)}"
    second += worded("learned", f"since {since}", half, "quiet")
    for link in picture.links:
        if link.capture is not None and link.capture.subject == each.id:
            second += capture_rows(link, half, picture.speed)
    untagged = [Row(one.spans, "", one.fill) for one in first]
    rows = beside(untagged, second, half.width) if wide else [*untagged, row(), *second]
    return [*rows, *unmeasured_rows(CONTACT, look.width)]


def capture_rows(link: LinkPicture, look: Look, speed: float) -> list[Row]:
    """Return how the capture of a link's raw frames goes, and where its file lies.

    Args:
        link: The link.
        look: How it is drawn.
        speed: How many times as fast as the wall's the record's calendar runs: a capture ends
            by the wall's time, whatever the calendar says.
    """
    capture = link.capture
    if capture is None:
        return []
    left_s = (capture.until_utc_ns - look.now_ns) / 1e9 / speed
    state = capture.ended or f"captured for another {age(left_s)}"
    if not look.is_live and not capture.ended:
        state = "was being captured when last heard"
    words = f"{link.id}: {capture.frames} raw frames, {capture.bytes / 1e6:.1f} MB, {state}"
    role = "quiet" if capture.ended else "strong"
    return [
        *worded("frames", clean(words), look, role),
        *(
            fact("" if index else "file", Span(line, "quiet"))
            for index, line in enumerate(
                wrap_path(clean(capture.file), max(look.width - LABELLED, 1))
            )
        ),
    ]


# Loads.


def loads_of(picture: LinePicture) -> list[tuple[TankPicture, LoadPicture]]:
    """Return every load on the line: those with a time first, the most urgent first."""
    found = [(tank, tank.load) for tank in picture.tanks if tank.load is not None]
    return sorted(found, key=lambda pair: due_ns(pair[1]) or 2**62)


@dataclass(frozen=True, slots=True)
class LoadColumns:
    """Cells of the loads' columns: names are whole as long as the figures leave room."""

    number: int
    position: int
    figures: tuple[int, int, int, int]
    """Dwell, time out, thickness, the one wanted."""


LOAD_FIGURES: Final = (6, 11, 9, 7)
IN_BRACKETS: Final = 2
"""Cells more that a dwell takes while the line is not live."""
WIDE_LOAD_FIGURES: Final = (9, 12, 12, 8)
LEAST_POSITION: Final = 6
LEAST_PART: Final = 12
"""Cells of a part's name that a position's name does not take from it."""


def load_columns(picture: LinePicture, look: Look) -> LoadColumns:
    """Return how wide each column of the loads is, by what stands in them."""
    called, loads = names(picture), loads_of(picture)
    figures = WIDE_LOAD_FIGURES if look.width >= WIDE else LOAD_FIGURES
    if not look.is_live:
        figures = (figures[0] + IN_BRACKETS, *figures[1:])
    numbers = [cells(clean(load.number, 24) or NO_NUMBER) for _, load in loads]
    number = min(max(numbers, default=0) + 1, 12) if look.width < WIDE else 12
    positions = max((cells(called[tank.id]) for tank, _ in loads), default=0)
    parts = max((cells(clean(load.part, 60)) for _, load in loads), default=0)
    room = look.width - 1 - max(number, 5) - sum(figures) - 2
    most = max(room - min(parts, LEAST_PART), SHORT_NAME)
    position = min(max(positions + 1, SHORT_NAME), most)
    # When it must be out is read first of all: a name is cut before it is.
    left = look.width - 1 - max(number, 5) - sum(figures[:2])
    return LoadColumns(max(number, 5), max(min(position, left), LEAST_POSITION), figures)


def loads_head(picture: LinePicture, look: Look) -> Row:
    """Return the heads of the loads' columns."""
    columns = load_columns(picture, look)
    thick = scale_of_unit("um", look.units).label
    heads = f" {fit('load', columns.number)}{fit('position', columns.position)}"
    words = ("dwell", "out in", f"{thick} here", "wanted")
    for word, width in zip(words, columns.figures, strict=True):
        heads += fit(word, width, right=True)
    return row(Span(fit(f"{heads}  part", look.width), "head"))


def load_list(
    picture: LinePicture, look: Look, odd: Mapping[str, tuple[bool, str]] | None = None
) -> list[Row]:
    """Return a row a load.

    Args:
        picture: The line.
        look: How it is drawn.
        odd: By number what is odd about a load by now: (it may be spoilt, in words).
    """
    thick = scale_of_unit("um", look.units)
    called, columns = names(picture), load_columns(picture, look)
    dwell, left, grows, wanted = columns.figures
    rows = []
    for tank, load in loads_of(picture):
        out = left_words(load, look)
        grown, goal = (
            "" if value is None else number(thick.shown(value), thick.decimals)
            for value in (load.thickness_um, load.target_um)
        )
        spans = [
            Span(f" {fit(clean(load.number, 24) or NO_NUMBER, columns.number)}", "strong"),
            Span(fit(called[tank.id], columns.position)),
            _told_right(span(load.dwell_s), dwell, look),
            Span(" "),
            Span(fit(out.text, left - 1, right=True), out.role),
            _told_right(grown, grows, look),
            Span(fit(goal, wanted, right=True), "quiet"),
            *hold_mark(picture, load.number),
            *part_and_odd(load.part, (odd or {}).get(load.number, (False, "")), look),
        ]
        rows.append(Row(clip(spans, look.width), target("load", load.number)))
    if not rows:
        rows = [row(), row(Span("  no load is on the line", "quiet"))]
    return rows


def load_detail(picture: LinePicture, number_of_load: str, look: Look) -> list[Row]:
    """Return everything about one load, and what no signal can tell of it."""
    for tank, load in loads_of(picture):
        if load.number == number_of_load:
            rows = load_rows(load, look)
            rows.insert(2, fact("position", names(picture)[tank.id]))
            rows[3:3] = hold_rows(picture, load.number, look)
            return [*rows, *unmeasured_rows(DEPOSIT, look.width)]
    return []


# Links.


def _link_widths(picture: LinePicture, look: Look) -> tuple[int, int, int]:
    """Return the cells of a link's name, its requests and failures: why needs room too."""
    if look.width >= WIDE:
        return 20, 10, 8
    longest = max((cells(clean(each.id, 40)) for each in picture.links), default=0)
    return min(max(longest + 1, 5), 20), 8, 7


def links_head(picture: LinePicture, look: Look) -> Row:
    """Return the heads of the links' columns."""
    name, asked, failed = _link_widths(picture, look)
    heads = f" {fit('link', name)} {fit('state', 15)}{'answer ms':>10}{'poll s':>8}"
    heads += f"{'asked':>{asked}}{'failed':>{failed}}  why"
    return row(Span(fit(heads, look.width), "head"))


def link_rows(picture: LinePicture, look: Look) -> list[Row]:
    """Return a row a link."""
    rows = []
    name, asked, most_failed = _link_widths(picture, look)
    for each in picture.links:
        alarms = [clean(one.text) for one in of_link(picture, each.id)]
        well = each.state == "connected" and not alarms
        # In brackets 'not connected' fills its column: the word tells it without the mark.
        mark = "" if well or not look.is_live else "! "
        state = told(mark + clean(each.state, 30), look)
        answer = "" if each.response_ms is None else number(each.response_ms, 1)
        poll = "" if each.poll_s is None else number(each.poll_s, 2)
        failed = sum(each.failures.values())
        silent = (
            f"{counted(len(each.units_silent), 'unit')} silent" if each.units_silent else ""
        )
        # Of a link that is not connected the alarm says no more than why it is not.
        why = [clean(each.reason or silent)] if each.reason or silent else []
        why += alarms if not each.reason else []
        lost = _told_right(str(failed), most_failed, look)
        spans = [
            Span(f" {fit(clean(each.id, 40), name)} ", "strong"),
            Span(fit(state.text, 15), _link_role(well=well) if look.is_live else state.role),
            _told_right(answer, 10, look),
            _told_right(poll, 8, look),
            _told_right(str(each.requests), asked, look),
            Span(lost.text, "strong" if failed and look.is_live else lost.role),
            Span(f"  {'; '.join(why)}", "outside" if alarms and not each.reason else "quiet"),
        ]
        rows.append(Row(clip(spans, look.width), target("link", each.id)))
    return rows


def _link_role(*, well: bool) -> str:
    return "plain" if well else "high"


def link_detail(picture: LinePicture, link: LinkPicture, look: Look) -> list[Row]:
    """Return everything about one link: failures by kind, the last one, its bytes."""
    alarms = of_link(picture, link.id)
    well = link.state == "connected" and not alarms
    state = told(clean(link.state, 30), look)
    state = Span(state.text, _link_role(well=well)) if look.is_live else state
    rows = [
        titled(clean(link.id, 60), look.width),
        fact("speaks", clean(link.protocol, 30)),
        fact("address", clean(link.address, 60)),
        fact("state", state),
        fact("since", moment(link.since_utc_ns, look.zone)),
    ]
    if link.reason:
        rows.append(fact("why", clean(link.reason)))
    for each in alarms:
        rows += worded("alarm", clean(each.text), look, "outside")
    if link.units_silent:
        units = ", ".join(clean(each, 20) for each in link.units_silent)
        rows.append(fact("silent units", Span(units, "outside")))
    for index, (kind, count) in enumerate(link.failures.items()):
        rows.append(fact("" if index else "failures", f"{count:>8} {clean(kind, 40)}"))
    if link.last_failure:
        rows.append(fact("the last", clean(link.last_failure)))
    if link.last_bytes:
        rows += worded("its bytes", clean(link.last_bytes, 2000), look, "quiet")
    return [*rows, *capture_rows(link, look, picture.speed)]
