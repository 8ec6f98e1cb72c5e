"""Why a figure is what it is: formula, inputs, constants with their source, how sure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core import units
from linewatch.core.electrochemistry.uncertainty import AT_LEAST, bound_words, with_its_digits
from linewatch.core.errors import UnitMismatch
from linewatch.core.readings import is_good
from linewatch.ui.draw.alarms import alarm_detail
from linewatch.ui.draw.baths import concentration_rows
from linewatch.ui.draw.dissolved import wrong_way_words
from linewatch.ui.draw.figures import (
    figure_words,
    is_by_hand,
    label_of,
    ordered,
    window_words,
)
from linewatch.ui.draw.naming import (
    alarm_of,
    bath_of,
    figures_by_tag,
    id_of,
    kind_of,
    rectifier_of,
    tank_name,
    tanks_about,
)
from linewatch.ui.draw.parts import LABELLED, fact, missed_words
from linewatch.ui.draw.rows import Look, Row, Span, row, titled, wrap
from linewatch.ui.text import age, cells, clean, clock, hours, number, quality_word

if TYPE_CHECKING:
    from collections.abc import Iterable

    from linewatch.core.electrochemistry.explanation import Explanation, GivenInput
    from linewatch.core.view import (
        AdditivePicture,
        BathPicture,
        ChargePicture,
        Figure,
        LinePicture,
        MetalPicture,
        TankPicture,
    )

DIGITS: Final = 6
NOT_KNOWN: Final = "not known: of what goes into it nobody says how far it may be off"
UNSURE: Final = 3
"""Digits of a figure of which nobody says how sure it is. Common practice."""


def _value(value: float, unit: str, look: Look, digits: int = DIGITS) -> str:
    """Return a number of an explanation in the units on screen."""
    try:
        wanted = units.shown_unit(unit, look.units)
        shown = units.convert(value, unit, wanted)
    except UnitMismatch:
        return f"{_digits(value, digits)} {clean(unit, 20)}".rstrip()
    return f"{_digits(shown, digits)} {units.symbol(wanted)}".rstrip()


def _digits(value: float, digits: int) -> str:
    """Return a number with so many digits, never as a power of ten where it has no need."""
    shown = float(f"{value:.{digits}g}")
    return f"{shown:.0f}" if abs(shown) >= 10.0**digits else f"{shown:.{digits}g}"


def _sure(value: float, doubt: float | None, unit: str, look: Look) -> str:
    """Return a figure with its ±, and no digit that the ± does not allow."""
    # Of nothing no share is left either: a figure of zero is not told to be sure.
    if doubt is None or not doubt > 0.0:
        return _value(value, unit, look, UNSURE)
    try:
        wanted = units.shown_unit(unit, look.units)
        shown = units.convert(value, unit, wanted)
    except UnitMismatch:
        shown, factor, label = value, 1.0, clean(unit, 20)
    else:
        factor = units.UNITS[unit].factor / units.UNITS[wanted].factor
        label = units.symbol(wanted)
    told, pm = with_its_digits(shown, doubt * factor)
    return f"{told} ± {pm} {label}".rstrip()


def explanation_rows(why: Explanation, look: Look) -> list[Row]:
    """Return one explanation, enough to work the figure out again by hand."""
    sure = _sure(why.value, why.plus_or_minus, why.unit, look)
    if why.most is not None:
        sure = f"{sure.partition(' ')[0]} to {_value(why.most, why.unit, look, UNSURE)}"
    # Loaded when there is something to explain: a screen starts without it.
    from linewatch.core.reasons import bound_of

    bound = bound_of(why)
    rows = [
        titled(clean(why.figure, 60), look.width),
        fact("is", Span(f"{bound}{sure}", "strong")),
        fact("formula", clean(why.formula)),
    ]
    for given in why.inputs:
        rows += _input_rows(given, look)
    for each in why.constants:
        value = f"{each.value:.{DIGITS}g} {clean(each.unit, 16)}".rstrip()
        about = f"{clean(each.name, 40)}; {clean(each.source)}"
        rows += _with_about(clean(each.symbol, 12), Span(value), about, look)
    if why.budget is not None:
        rows.append(row(Span("  how sure, k = 2", "quiet")))
        rows += [
            fact(
                f"{200 * term.standard_ratio:.2f} %",
                Span(clean(term.name, 60)),
                Span(f"  {clean(term.source)}", "quiet"),
            )
            for term in why.budget.terms
        ]
        text = f"{100 * why.budget.expanded_ratio:.2f} %"
        rows.append(fact(text, Span("together, in quadrature", "strong")))
    elif why.most is None and not any(note.startswith("±") for note in why.notes):
        rows += _wrapped("how sure", NOT_KNOWN, look, role="doubt")
    rows += _wrapped("from", why.source, look)
    for note in why.notes:
        rows += _wrapped("note", note, look, role="strong")
    return [*rows, row()]


def _input_rows(each: GivenInput, look: Look) -> list[Row]:
    trust = ""
    role = "plain"
    if each.quality is not None:
        trust = f"; {quality_word(each.quality)}"
        role = "plain" if is_good(each.quality) else "doubt"
    when = f" at {clock(each.utc_ns, look.zone)}" if each.utc_ns is not None else ""
    about = f"{clean(each.name, 40)}; {clean(each.source, 80)}{trust}{when}"
    value = Span(_value(each.value, each.unit, look), role)
    return _with_about(clean(each.symbol, 12), value, about, look)


def _with_about(label: str, value: Span, about: str, look: Look) -> list[Row]:
    """Return a value with what it is beside it, or under it where there is no room."""
    room = max(look.width - LABELLED, 1)
    if cells(value.text) + 2 + cells(about) <= room:
        return [fact(label, value, Span(f"  {about}", "quiet"))]
    said = wrap(about, max(room - 2, 1))
    return [fact(label, value), *(fact("", Span(f"  {line}", "quiet")) for line in said)]


def _wrapped(label: str, text: str, look: Look, role: str = "quiet") -> list[Row]:
    lines = wrap(clean(text), max(look.width - LABELLED, 1)) if text else []
    return [fact(label if not i else "", Span(line, role)) for i, line in enumerate(lines)]


def figure_why(figure: Figure, owner: str, look: Look) -> list[Row]:
    """Return what is known of a measured figure: tag, quality, times, window."""
    said = figure_words(figure, look)
    rows = [
        titled(f"{owner}, {label_of(figure.tag.partition('.')[2])}", look.width),
        fact("is", Span(said.text, said.role)),
        fact("tag", Span(clean(figure.tag, 60), "quiet")),
        fact("quality", quality_word(figure.quality)),
    ]
    if figure.utc_ns:
        old = age((look.now_ns - figure.utc_ns) / 1e9)
        label = "typed in at" if is_by_hand(figure) else "read at"
        rows.append(fact(label, f"{clock(figure.utc_ns, look.zone)}, {old} ago"))
    if figure.good_utc_ns is not None and not is_by_hand(figure):
        rows.append(fact("last good", clock(figure.good_utc_ns, look.zone)))
    window = window_words(figure, look)
    rows.append(fact("window", window or Span("none is configured", "quiet")))
    how = "read from the device and scaled; not worked out"
    if is_by_hand(figure):
        by = f" by {clean(figure.who, 12)}" if figure.who else ""
        how = f"typed in{by} at {clock(figure.utc_ns, look.zone)}; no device reads it"
    rows += _wrapped("how", how, look)
    return [*rows, row()]


def charge_why(charge: ChargePicture, look: Look) -> list[Row]:
    """Return how a charge came about, and that its time adds up."""
    least = AT_LEAST if charge.is_short else ""
    metered_s, recovered_s, unmetered_s, elapsed_s = charge.whole_s
    rows = [
        titled("charge, how it is counted", look.width),
        fact("cathodic", Span(f"{least}{number(charge.cathodic_ah, 2)} A·h", "strong")),
        fact("formula", "Q = ∫ I dt, trapezoids between good samples in sequence"),
        fact("metered", f"{hours(metered_s)}: from the current"),
        fact("recovered", f"{hours(recovered_s)}: gaps, from the device's own meter"),
        fact("unmetered", f"{hours(unmetered_s)}: gaps that nothing tells; not counted"),
    ]
    total_s = metered_s + recovered_s + unmetered_s
    rows.append(fact("together", f"{hours(total_s)} of {hours(elapsed_s)} elapsed"))
    if charge.is_short:
        rows += _wrapped("missing", f"{missed_words(charge)} may have flowed", look, "outside")
    if charge.uncertainty_ah:
        rows.append(fact("how sure", f"± {number(charge.uncertainty_ah, 2)} A·h, k = 2"))
    return [*rows, row()]


def metal_why(metal: MetalPicture, look: Look, wrong_way: str = "") -> list[Row]:
    """Return how a mass of metal came about, as far as the picture tells.

    Args:
        metal: The metal.
        look: How it is drawn.
        wrong_way: Why some of it may have dissolved again, in words; '' if it has not.
    """
    rows = [titled(f"{clean(metal.deposit, 30)}, how it is worked out", look.width)]
    if metal.refused:
        return rows + _wrapped("refused", metal.refused, look, role="doubt") + [row()]
    sure = _sure(metal.mass_g, metal.uncertainty_g, "g", look)
    bound = bound_words(is_short=metal.is_short, is_less=bool(wrong_way))
    rows += [
        fact("mass", Span(f"{bound}{sure}", "strong")),
        fact("formula", "m = Σ k η(j) I Δt,  k = M / (n F)"),
    ]
    if metal.is_short:
        more = f"up to {_value(metal.missed_g, 'g', look, UNSURE)} more: not metered"
        rows += _wrapped("missing", more, look, "outside")
    rows += _wrapped("but", wrong_way, look, "doubt")
    rows += _wrapped("means", "what the charge laid down if it all went to the work", look)
    return [*rows, row()]


def _range(each: AdditivePicture, look: Look) -> str:
    """Return what is owed of an additive, as a range where it is one."""
    least = _value(each.owed_ml, "mL", look)
    if each.owed_high_ml <= each.owed_ml:
        return least
    return f"{least.partition(' ')[0]} to {_value(each.owed_high_ml, 'mL', look)}"


def additive_why(additives: Iterable[AdditivePicture], look: Look) -> list[Row]:
    """Return how what is owed came about."""
    rows = []
    for each in additives:
        rows += [
            titled(f"{clean(each.name, 40)}, what is owed", look.width),
            fact(
                "accrued", f"{_value(each.accrued_ml, 'mL', look)}: dose per kA·h times charge"
            ),
            fact(
                "dosed", f"{_value(each.dosed_ml, 'mL', look)}: every addition that was logged"
            ),
            fact("owed", Span(f"{_range(each, look)}: accrued less dosed", "strong")),
        ]
        if each.owed_high_ml > each.owed_ml:
            most = _value(each.owed_high_ml, "mL", look)
            rows.append(fact("at most", f"{most}: unmetered charge counted at its likely most"))
        rows.append(row())
    return rows


def why_rows(picture: LinePicture, about: str, look: Look, told: str = "") -> list[Row]:
    """Return what the picture itself tells of a thing's figures.

    Args:
        picture: The line.
        about: The thing.
        look: How it is drawn.
        told: Tag of a figure that stands above already.
    """
    kind, name = kind_of(about), id_of(about)
    if kind == "tag":
        found = figures_by_tag(picture).get(name)
        return figure_why(*found, look) if found is not None else []
    if kind == "alarm":
        return _alarm_why(picture, name, look)
    if kind == "rectifier":
        rectifier = rectifier_of(picture, name)
        return charge_why(rectifier.charge, look) if rectifier is not None else []
    if kind in {"bath", "additive"}:
        bath = bath_of(picture, name.partition("/")[0])
        return _bath_why(bath, look) if bath is not None else []
    tanks = tanks_about(picture, about)
    return _tank_why(tanks[0], look, told) if tanks else []


def _tank_why(tank: TankPicture, look: Look, told: str) -> list[Row]:
    """Return how a tank's charge and metal came about; else what is read there."""
    rows = charge_why(tank.charge, look) if tank.charge is not None else []
    if tank.metal is not None:
        rows += metal_why(tank.metal, look, wrong_way_words(tank))
    if rows:
        return rows
    # Nothing is worked out here: what is read is all there is to say.
    for _, figure in ordered(tank.figures):
        if figure.tag != told:
            rows += figure_why(figure, tank_name(tank), look)
    return rows


def _alarm_why(picture: LinePicture, name: str, look: Look) -> list[Row]:
    """Return why an alarm stands: its value, its limit, its rule; then what is read there."""
    alarm = alarm_of(picture, name)
    if alarm is None:
        return []
    rows = [*alarm_detail(picture, name, look), row()]
    found = figures_by_tag(picture).get(alarm.tag)
    return rows + (figure_why(*found, look) if found is not None else [])


def _bath_why(bath: BathPicture, look: Look) -> list[Row]:
    return [*additive_why(bath.additives, look), *bath_more_why(bath, look)]


def bath_more_why(bath: BathPicture, look: Look) -> list[Row]:
    """Return how the metal of a bath came about: what was laid down, what is in it."""
    rows = metal_why(bath.metal, look) if bath.metal is not None else []
    if bath.concentration is None:
        return rows
    formula = "c = (c of the analysis × its litres + all that went in or out) / litres now"
    return [
        *rows,
        *concentration_rows(bath.concentration, look),
        fact("formula", formula),
        row(),
    ]
