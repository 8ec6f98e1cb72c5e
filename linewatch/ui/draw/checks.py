"""The shift's check sheet on the screen: what is read, and what is to be looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.pages import Shown
from linewatch.core.sheets.page import BLANK, label, reading, window
from linewatch.core.sheets.sheet import Place, blanks, present, sheet
from linewatch.ui.draw.naming import names, target
from linewatch.ui.draw.rows import Look, Row, Span, clip, row, titled
from linewatch.ui.text import clean, clock, fit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.sheets.sheet import Check, Position, Read, Reads
    from linewatch.core.view import LinePicture
    from linewatch.ui.draw.shifts import Shift

VALUE, WINDOW, BESIDE = 14, 16, 46
"""Cells of a reading, of its window, and of all that stands beside what it is."""
LABEL = (12, 44)
"""Least and most cells of what it is."""


def positions_of(
    picture: LinePicture, since_ns: int, signed: Reads | None = None
) -> tuple[Position, ...]:
    """Return the sheet of a shift.

    Args:
        picture: The line.
        since_ns: When the shift began [ns since 1970].
        signed: What was read when it was signed; None: what is read now counts.
    """
    called = names(picture)
    places = [
        *(Place(id=each.id, name=called[each.id], kind=each.kind) for each in picture.tanks),
        *(
            Place(id=each.id, name=called[each.id], kind="rectifier")
            for each in picture.rectifiers
        ),
        Place(id=picture.line_id, name=clean(picture.name, 40), kind="line"),
    ]
    reads = present(
        {each.id: each.figures for each in picture.tanks},
        {each.id: each.figures for each in picture.rectifiers},
    )
    if signed is not None:
        reads = _in_the_order_of(reads, signed)
    found = [each for each in picture.checks if each.utc_ns >= since_ns]
    return sheet(places, reads, found)


def _in_the_order_of(live: Reads, signed: Reads) -> Reads:
    """Return what was signed in the order in which it is read: no row moves by a signature."""
    return {
        subject: {name: own[name] for name in (*live.get(subject, ()), *own) if name in own}
        for subject, own in signed.items()
    }


def sheet_rows(
    picture: LinePicture, shift: Shift, look: Look, signed: Reads | None = None
) -> list[Row]:
    """Return the whole sheet of a shift; what is to be filled in can be chosen.

    Args:
        picture: The line.
        shift: Whose sheet it is.
        look: How it is drawn.
        signed: What was read when it was signed; None: it was not, or that is not known yet.
    """
    positions = positions_of(picture, shift.begin_ns, signed)
    left = blanks(positions)
    by = picture.sheet_signed
    said = "not signed yet"
    if by is not None and by[0] >= shift.begin_ns:
        said = f"signed by {clean(by[1], 12)} at {clock(by[0], look.zone)}, "
        said += "as it was read then" if signed is not None else "figures are of now"
    rows = [
        row(Span(f"  shift {shift.words(look.zone)}: {left} blanks to fill; {said}", "strong"))
    ]
    for each in positions:
        if each.reads or each.checks:
            rows += [row(), titled(each.place.name, look.width)]
            rows += [_read(each, name, read, look) for name, read in each.reads]
            rows += [_check(each, check, look) for check in each.checks]
    return [Row(clip(each.spans, look.width), each.target) for each in rows]


def _label(look: Look) -> int:
    return max(LABEL[0], min(LABEL[1], look.width - BESIDE))


def _question(look: Look) -> int:
    """Return the cells of what is to be looked at: it needs no room for a reading."""
    return _label(look) + VALUE - 4


def _read(position: Position, name: str, read: Read, look: Look) -> Row:
    show = Shown(look.units, lambda utc_ns: clock(utc_ns, look.zone))
    told = reading(name, read, show)
    role = "outside" if read.side else ("plain" if read.value is not None else "doubt")
    about = target("tag", f"{position.place.id}.{name}")
    return row(
        Span(f"  {fit(label(name), _label(look))}", "quiet"),
        Span(fit(told, VALUE, right=True), role),
        Span(f"  {fit(window(name, read, show), WINDOW)}", "quiet"),
        Span(_remark(read), role),
        target=about,
    )


def _remark(read: Read) -> str:
    if read.why:
        return f"{clean(read.why, 24)}: read it by hand"
    return "by hand" if read.is_by_hand else read.side.upper()


def _check(position: Position, check: Check, look: Look) -> Row:
    about = target("check", f"{position.place.id}/{check.item}")
    if check.found is None:
        return row(
            Span(f"  {fit(check.text, _question(look))}"),
            Span(f"  {BLANK}", "doubt"),
            target=about,
        )
    told = check.found
    spans: Sequence[Span] = (
        Span(f"  {fit(check.text, _question(look))}", "quiet"),
        Span("  BAD" if told.is_bad else "", "outside"),
        Span(f"  {clean(told.found, 60)}", "outside" if told.is_bad else "plain"),
        Span(f"  {clean(told.who, 12)} {clock(told.utc_ns, look.zone)}", "quiet"),
    )
    return row(*spans, target=about)
