"""One figure, wherever it stands: its number or word, its mark, its window."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.measurements import MEASUREMENTS
from linewatch.core.readings import Quality, is_bad, is_good
from linewatch.core.rules.health import MODULE
from linewatch.ui.draw.rows import Look, Span
from linewatch.ui.marks import HAND_MARK, SIDE_MARKS, UNCERTAIN_MARK
from linewatch.ui.scales import scale
from linewatch.ui.text import age, clean, fit, number, quality_word, short_word

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from linewatch.core.view import Figure

LEAST_GAUGE = 5
STATE_WORDS: Final[dict[str, tuple[str, str]]] = {
    "load-present": ("no", "yes"),
    "running": ("stands", "runs"),
    "fault": ("no", "yes"),
    "valve-open": ("shut", "open"),
}
"""What 0 and 1 mean, for people."""
IS: Final = "-is-"
"""In a tag that says whether something is so: 'count.work-is-anode'."""


def figure_cell(figure: Figure | None, width: int, look: Look) -> Span:
    """Return a figure in exactly `width` cells, the last two for its mark."""
    if figure is None:
        return Span(" " * width)
    if figure.value is None or is_bad(figure.quality):
        return Span(fit(short_word(figure.quality), width, right=True), "doubt")
    shown = scale(figure.kind, look.units)
    text = number(shown.shown(figure.value), shown.decimals)
    if not look.is_live:
        return Span(fit(_last_known(text, figure, width), width, right=True), "off")
    mark = SIDE_MARKS.get(figure.side, "? ")
    if not is_good(figure.quality):
        mark = UNCERTAIN_MARK if not figure.side else f"~{mark[0]}"
    elif is_by_hand(figure):
        mark = f"{HAND_MARK}{mark[0]}"
    if len(text) > width - 2:
        text = "#" * max(width - 2, 0)
    return Span(fit(text, width - 2, right=True) + mark, figure_role(figure))


def _last_known(text: str, figure: Figure, width: int) -> str:
    """Return a figure that is not live in its brackets, with the side on which it stood."""
    side = SIDE_MARKS.get(figure.side, "?").rstrip() or " "
    kept = f"({text}){side}"
    return kept if len(kept) <= width else f"({text})"


def is_by_hand(figure: Figure) -> bool:
    """Say whether a person typed a figure in: it is as old as that, whatever is live."""
    return figure.quality == int(Quality.BY_HAND)


def figure_role(figure: Figure) -> str:
    """Return the role that a figure with a value plays."""
    if figure.side:
        return "outside"
    return "plain" if is_good(figure.quality) else "doubt"


def figure_words(figure: Figure, look: Look, *, brief: bool = False) -> Span:
    """Return a figure with its unit, as wide as it is: '61.8 °C', 'sensor fault for 3 min'."""
    if figure.value is None or is_bad(figure.quality):
        if brief:
            return Span(short_word(figure.quality), "doubt")
        return Span(quality_word(figure.quality) + _for_how_long(figure, look), "doubt")
    shown = scale(figure.kind, look.units)
    text = f"{number(shown.shown(figure.value), shown.decimals)} {shown.label}".rstrip()
    words = STATE_WORDS.get("fault" if IS in figure.tag else figure.kind)
    if words is not None:
        text = words[round(figure.value) != 0]
    mark = SIDE_MARKS.get(figure.side, "?").rstrip()
    if not look.is_live:
        return Span(f"({text}){mark}", "off")
    if is_good(figure.quality):
        doubt = ""
    else:
        doubt = "~" if brief else f" ({quality_word(figure.quality)})"
    if brief and is_by_hand(figure):
        doubt = f" {HAND_MARK}"
    return Span(f"{text}{' ' if mark else ''}{mark}{doubt}", figure_role(figure))


def _for_how_long(figure: Figure, look: Look) -> str:
    if figure.good_utc_ns is None:
        return ""
    return f" for {age((look.now_ns - figure.good_utc_ns) / 1e9)}"


def ordered(figures: Mapping[str, Figure]) -> list[tuple[str, Figure]]:
    """Return figures in the order of the measurements' table, states and counts last."""
    return sorted(figures.items(), key=lambda item: _place(item[0]))


def _place(name: str) -> tuple[bool, int]:
    kind = name.partition(".")[0]
    row = MEASUREMENTS.get(kind)
    return (row is None or row.discrete, list(MEASUREMENTS).index(kind) if row else 0)


def label_of(name: str) -> str:
    """Return what people call a figure: of 'pressure.filter' 'press. filter'."""
    kind, _, twin = name.partition(".")
    label = MEASUREMENTS[kind].label if kind in MEASUREMENTS else kind
    if (kind == "count" and twin) or name.startswith(MODULE):
        label, twin = "", twin.replace("-", " ")
    return clean(f"{label} {twin}".strip(), 40)


def unwellness(figure: Figure) -> int:
    """Return how much a figure wants to be looked at; more is worse."""
    if is_bad(figure.quality):
        return 3
    if figure.side in {"high-high", "low-low"}:
        return 4
    if figure.side:
        return 2
    return 0 if is_good(figure.quality) else 1


def of_kind(figures: Mapping[str, Figure], kind: str) -> Figure | None:
    """Return the figure of a kind; of twins the one that is least well."""
    found: Figure | None = None
    for name, figure in figures.items():
        if name.partition(".")[0] == kind and (
            found is None or unwellness(figure) > unwellness(found)
        ):
            found = figure
    return found


def gauge(figure: Figure | None, width: int, look: Look) -> Span:
    """Return a figure's place in its window: ' │···●·│ ', outside it at either end.

    Only a two-sided window has a gauge; a doubtful value has none.
    """
    if (
        figure is None
        or figure.value is None
        or not is_good(figure.quality)
        or not look.is_live
        or figure.low is None
        or figure.high is None
        or not figure.high > figure.low
        or width < LEAST_GAUGE
    ):
        return Span(" " * width, "gauge")
    inner = width - 4
    share = (figure.value - figure.low) / (figure.high - figure.low)
    cells = [" ", "│", *("·" * inner), "│", " "]
    if share < 0.0:
        at = 0
    elif share > 1.0:
        at = width - 1
    else:
        at = 2 + min(int(share * inner), inner - 1)
    cells[at] = "●"
    return Span("".join(cells), "outside" if at in {0, width - 1} else "gauge")


def window_words(figure: Figure, look: Look) -> str:
    """Return a figure's window in words: '55.0 – 65.0', '≥ 800', '≤ 500', ''."""
    shown = scale(figure.kind, look.units)

    def written(value: float) -> str:
        return number(shown.shown(value), shown.decimals)

    if figure.low is not None and figure.high is not None:
        return f"{written(figure.low)} – {written(figure.high)}"
    if figure.low is not None:
        return f"≥ {written(figure.low)}"
    return f"≤ {written(figure.high)}" if figure.high is not None else ""


def worst_of(figures: Iterable[Figure]) -> int:
    """Return how unwell the worst of some figures is."""
    return max((unwellness(each) for each in figures), default=0)
