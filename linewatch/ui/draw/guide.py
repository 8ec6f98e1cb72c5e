"""The help: five short panels for the first day, keys, cautions, what no signal tells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.ui.draw.rows import Look, Row, Span, row, titled, wrap
from linewatch.ui.draw.unmeasured import EVERYTHING
from linewatch.ui.keys import ALL, EVERYWHERE, key_name
from linewatch.ui.marks import HAND_MARK, NARROW_MARKS, PRIORITY_MARKS, STATE_FRAMES, alarm_mark
from linewatch.ui.text import cells, clean, fit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.ui.keys import Keys

CAUTIONS: Final = (
    (
        "linewatch is for monitoring only. It never writes to a device, and it is no "
        "safety system and no interlock: heater low-level and over-temperature cut-"
        "outs, extraction interlocks and the segregation of acid and cyanide must exist"
        " in hardware."
    ),
    (
        "Follow the chemical suppliers' instructions, local codes and licensed "
        "practice; they come before anything on this screen."
    ),
    (
        "Cyanide and acids must never meet. Hexavalent chromium, hydrogen, hot "
        "corrosives and high DC currents injure."
    ),
    (
        "A limit shipped as an example is an example. Your specification, your permit "
        "and your procedure decide."
    ),
)

FEW_SIGNS: Final = (
    "Where the terminal's encoding or console lacks signs (not UTF-8, LC_ALL=C, the kernel's "
    "own console), everything is shown in seven bits: ^ v for ▲ ▼, > for →. `plain = true` in "
    "screen.toml wants that always, `plain = false` never; NO_COLOR=1 leaves the colours out."
)
BANDS: Final = 4
"""Rows of a screen that no page has: the title; alarm, loads to pull and keys at the bottom."""
MARK: Final = 7
"""Cells of an alarm's mark and some air."""
MARKS_AFTER: Final = 2
"""After so many panels stand the marks: who sees one for the first time finds them at once."""
FIRST: Final = (
    (
        "1 What am I looking at?",
        (
            "Every position of the line in process order. The vessels at the top are the "
            "same positions in small: a filled vessel holds work. Below, a row a position: "
            "what is measured there, charge and metal since the record began, the load, and"
            " how long until it must be out."
        ),
    ),
    (
        "2 When is something wrong?",
        (
            "Nothing has a colour while all is well. What lies outside its window carries ▲"
            " or ▼ (twice: far outside). An alarm stands in the bar at the bottom and as "
            "strokes before the position: more strokes, more haste; in square brackets "
            "until somebody has said that it was seen."
        ),
    ),
    (
        "3 What is a word where a number should be?",
        (
            "A value that cannot be trusted is never shown as a number: silent, sensor, "
            "stale, no link say why there is none. ~ marks a value in doubt. A whole screen"
            " of figures in ( ) is not live: the collector does not run."
        ),
    ),
    (
        "4 What can I do?",
        (
            "Look, say that you have seen an alarm, put one aside for a time, log an "
            "addition, a hand reading or a note, say what a load is, what was found on it "
            "and what becomes of it. Each is recorded with your initials, which are asked "
            "once a shift. Nothing you do here reaches a device."
        ),
    ),
    (
        "5 Where does it all go?",
        (
            "A collector of its own writes the record; this screen only reads it. Close the"
            " screen and the recording goes on; open it again and it shows what has "
            "happened. (Only the demonstration ends with its screen; its record stays.)"
        ),
    ),
)


def guide_rows(keys: Keys, where: str, look: Look) -> list[Row]:
    """Return the whole help."""
    width = max(min(look.width - 4, 96), 1)
    back, here = keys.name("back"), keys.name("help")
    rows = [row(Span(f"  {back} leads back to the line; {here} leads here again.", "strong"))]
    rows.append(row())
    for number, (title, text) in enumerate(FIRST):
        if number == MARKS_AFTER:
            rows += [titled("Marks", look.width), *_mark_rows(width), row()]
        rows += [titled(title, look.width), *_text(text, width), row()]
    if where:
        rows += [*_text(f"The record lies in {clean(where)}", width, "strong"), row()]
    rows += [titled("Cautions", look.width)]
    for caution in CAUTIONS:
        rows += _text(caution, width, "strong")
    rows += [row(), titled("What the signals can never tell", look.width)]
    for what, ask in EVERYTHING:
        rows += _text(f"{what}: {ask}", width)
    rows += [row(), titled("Terminals with few signs or colours", look.width)]
    rows += [*_text(FEW_SIGNS, width), row()]
    rows += key_rows(keys, look)
    return _paged(rows, look)


def _paged(rows: Sequence[Row], look: Look) -> list[Row]:
    """Return rows in which no heading is the last that a page shows: it goes to the next."""
    step = look.height - (BANDS if look.is_live else BANDS + 1) - 1
    paged: list[Row] = []
    for each in rows:
        is_last = step > 1 and bool(paged) and len(paged) % step == 0
        if is_last and each.spans and each.spans[0].role == "head":
            paged.append(row())
        paged.append(each)
    return paged


def _text(text: str, width: int, role: str = "plain") -> list[Row]:
    return [row(Span(f"  {line}", role)) for line in wrap(text, width)]


def _packed(marks: Sequence[tuple[Span, str]], width: int) -> list[Row]:
    """Return marks with their words, as many in a row as there is room for."""
    longest = max(cells(word) for _, word in marks)
    each_row = max(width // (MARK + longest + 2), 1)
    return [
        row(
            *(
                part
                for mark, word in marks[k : k + each_row]
                for part in (
                    Span(f"  {fit(mark.text, MARK)}", mark.role),
                    Span(fit(word, longest)),
                )
            )
        )
        for k in range(0, len(marks), each_row)
    ]


def _mark_rows(width: int) -> list[Row]:
    """Return every mark with its word, straight from the tables that the views draw with."""
    rows = [row(Span("  how bad an alarm is, and what became of it:", "quiet"))]
    rows += _packed(
        [(Span(alarm_mark(each, "acknowledged"), each), each) for each in PRIORITY_MARKS], width
    )
    rows += _packed(
        [
            (Span(alarm_mark("medium", state)), word)
            for state, (_, _, word) in STATE_FRAMES.items()
            if state != "normal"
        ],
        width,
    )
    rows.append(row(Span("  before, in and behind figures:", "quiet")))
    for mark, word in (
        ("└", "nothing of its own: what is wrong there follows from another alarm"),
        ("▲ ▼", "above, below its window"),
        ("▲▲ ▼▼", "far above, far below"),
        ("~", "in doubt"),
        (HAND_MARK, "typed in by hand: not read live"),
        ("±", "so far may the figure before it be off"),
        ("A·h *", "for a time nothing was metered: more may be missing than its ±"),
        ("22:34-1", "time of day, so many days before today"),
        ("an", "anodic charge: the work is the anode"),
        ("│··●··│", "place in the window; ● outside the strokes: outside"),
        ("■ ↧ ↥ _", "work is in, entering, leaving; none"),
        ("→", "its load is on its way: to which position; 'gone 40s': for so long"),
        ("11m43s▲", "it is in the air for longer than it may be"),
        ("! odd", "among the loads: something may have spoilt it"),
        (
            " ".join(reversed(NARROW_MARKS.values())),
            "in a small vessel: alarm, more and more haste",
        ),
        ("▓ ± ? x", "in a vessel at the top: work; outside its window; in doubt; out"),
    ):
        rows.append(row(Span(f"  {fit(mark, 9)}"), Span(word)))
    return rows


def key_rows(keys: Keys, look: Look) -> list[Row]:
    """Return every key, by place."""
    rows = [titled("Keys", look.width)]
    places = dict.fromkeys(place for each in ALL for place in each.where)
    for place in sorted(places, key=lambda each: each != EVERYWHERE):
        name = "everywhere" if place == EVERYWHERE else f"in {place}"
        rows.append(row(Span(f"  {name}", "strong")))
        for each in ALL:
            if place in each.where:
                shown = " or ".join(key_name(key) for key in keys.of(each.id).split(","))
                rows.append(row(Span(f"    {fit(shown, 18)} ", "key"), Span(each.tells)))
    return rows
