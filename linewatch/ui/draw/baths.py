"""Baths: what is owed, what went in, the metal and the water, and what no signal tells."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from linewatch.ui.draw.naming import bath_of, names, target
from linewatch.ui.draw.parts import LABEL, LABELLED, LITTLE_AH, fact, metal_rows
from linewatch.ui.draw.rows import Look, Row, Span, beside, clip, row, titled, told, wrap
from linewatch.ui.draw.tank import TWO_COLUMNS
from linewatch.ui.draw.unmeasured import BY_KIND, SOLUTION, unmeasured_rows
from linewatch.ui.scales import scale_of_unit
from linewatch.ui.text import age, cells, clean, cut, fit, moment, number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.view import (
        AdditivePicture,
        BathPicture,
        ConcentrationPicture,
        DutyPicture,
        EntryPicture,
        LinePicture,
    )

WIDE: Final = 100
NAME: Final = 28
SHORT_NAME: Final = 24
ENTRIES_SHOWN: Final = 8


def bath_rows(picture: LinePicture, look: Look) -> list[Row]:
    """Return a row a bath, and under it a row an additive."""
    rows: list[Row] = []
    called = names(picture)
    width = NAME if look.width >= WIDE else SHORT_NAME
    for bath in picture.baths:
        tanks = ", ".join(called.get(name, clean(name, 20)) for name in bath.tanks)
        # A bath that no charge goes through and that owes nothing by charge has none to show.
        counts = bath.charge_ah >= LITTLE_AH or bool(bath.additives)
        mark = "*" if _is_short(picture, bath) else ""
        text = f"{number(bath.charge_ah, 1)}{mark} A·h"
        charge = told(text, look) if counts else Span("")
        spans = [
            Span(f" {fit(clean(bath.name, 60), width)}", "strong"),
            Span(fit(charge.text, 16, right=True), charge.role),
            *([Span("   dummies", "outside")] if bath.dummies else []),
            Span(f"   {tanks}", "quiet"),
        ]
        rows.append(Row(clip(spans, look.width), target("bath", bath.id)))
        rows += [_additive_row(bath, each, look, width) for each in bath.additives]
    return rows


def _is_short(picture: LinePicture, bath: BathPicture) -> bool:
    """Say whether more may have flowed through a bath than its charge tells."""
    return any(
        tank.charge.is_short
        for tank in picture.tanks
        if tank.charge is not None and tank.id in bath.tanks
    )


def amount_words(amount_ml: float, measure: str, look: Look) -> str:
    """Return an amount of an additive with its unit, as the screen shows it."""
    scale = scale_of_unit(measure, look.units)
    return f"{number(scale.shown(amount_ml), scale.decimals)} {scale.label}"


def owed_words(each: AdditivePicture, look: Look) -> str:
    """Return what is owed, as a range where it is one; what is ahead where more went in."""
    least = amount_words(abs(each.owed_ml), each.measure, look)
    most = amount_words(abs(each.owed_high_ml), each.measure, look)
    if each.owed_high_ml < 0.0:
        return f"ahead by {most}" if least == most else f"ahead by {most} to {least}"
    if each.owed_ml < 0.0:
        return f"ahead by {least}" if most == least else f"-{least} to {most} owed"
    short = least.rpartition(" ")[0]
    return f"owed {least}" if least == most else f"owed {short} to {most}"


def _additive_row(bath: BathPicture, each: AdditivePicture, look: Look, width: int) -> Row:
    when = ""
    if each.may_be_due:
        when = "may be due by now"
    elif each.due_utc_ns is not None:
        left_s = (each.due_utc_ns - look.now_ns) / 1e9
        when = f"overdue by {age(-left_s)}" if left_s < 0 else f"due in {age(left_s)}"
    elif each.used_up_in_s is not None:
        when = f"lasts {age(each.used_up_in_s)}"
    elif each.due:
        when = "due"
    role = "outside" if each.due else "plain"
    last = next((one for one in reversed(each.entries) if _counts(one)), None)
    spans = [
        Span(" DUE " if each.due else "     ", "now" if each.due else "plain"),
        Span(f" {fit(clean(each.name, 60), width - 6)}"),
        Span(f" {fit(owed_words(each, look), 26)}", role),
        Span(fit(when, 19), "quiet"),
    ]
    if last is not None:
        ago = age((look.now_ns - last.utc_ns) / 1e9)
        amount = amount_words(last.amount_ml, each.measure, look)
        spans.append(Span(f"last {amount} {ago} ago by {clean(last.who, 8)}", "quiet"))
    else:
        spans.append(Span("none yet", "quiet"))
    return Row(clip(spans, look.width), target("additive", f"{bath.id}/{each.id}"))


def _counts(entry: EntryPicture) -> bool:
    return entry.corrects is None and entry.corrected_by is None


def bath_detail(
    bath: BathPicture,
    look: Look,
    chosen: str = "",
    kind: str = "plate",
    due: Sequence[Span] = (),
    wrong_way: str = "",
) -> list[Row]:
    """Return everything about one bath.

    Args:
        bath: The bath.
        look: How to draw it.
        chosen: Id of the additive whose entries are wanted; all if absent.
        kind: What its tanks are for: it decides what no signal tells.
        due: What of its analyses is due; see `analyses_due`.
        wrong_way: Why some of its metal may have dissolved again; '' if it has not.
    """
    wide = look.width >= TWO_COLUMNS
    half = replace(look, width=(look.width - 2) // 2 if wide else look.width)
    first = [titled(clean(bath.name, 60), half.width), *_dose_rows(bath, half)]
    for label, text, role in (
        ("note", bath.note, "plain"),
        ("caution", bath.caution, "outside"),
    ):
        first += _told(label, clean(text), half, role)
    for i, each in enumerate(due):
        first += _told("" if i else "analyses", each.text, half, each.role)
    second = _charge_rows(bath, half)
    second += _laid_rows(bath, half, wrong_way)
    second += concentration_rows(bath.concentration, half)
    if bath.concentration is not None and bath.metal is not None and bath.metal.is_short:
        second += _told("", "what flowed while nobody metered is in none of these", half)
    second += _water_rows(bath, half)
    both = beside(first, second, half.width) if wide else [*first, row(), *second]
    entries = entry_rows(bath, look, chosen)
    said = unmeasured_rows(BY_KIND.get(kind, SOLUTION), look.width)
    if bath.additives:
        said += unmeasured_rows(DOSES, look.width)
    return [*both, *entries, *said]


def analyses_due(picture: LinePicture, bath: str, look: Look) -> list[Span]:
    """Return in words what of a bath's analyses is overdue, due now, or due next."""
    about = bath_of(picture, bath)
    mine = {bath, *(about.tanks if about is not None else ())}
    due = [each for each in picture.duties if each.substance and each.subject in mine]
    late = [each for each in due if each.is_late(picture)]
    never = [each for each in due if each.was_never_analysed and each not in late]
    told = [Span(f"overdue: {_substances(late)}", "outside")] if late else []
    told += [Span(f"due now, never analysed: {_substances(never)}")] if never else []
    times = {each.due_utc_ns: each for each in due if each not in late and each not in never}
    first = min((each for each in times if each is not None), default=None)
    if first is not None and not told:
        left = age((first - look.now_ns) / 1e9)
        told.append(Span(f"next due in {left}: {_substances([times[first]])}", "quiet"))
    return told


def _substances(due: Sequence[DutyPicture]) -> str:
    return ", ".join(dict.fromkeys(clean(each.substance, 40) for each in due))


DOSES: Final = (
    "whether a dose that was logged went in, and whether one that went in was logged",
    "compare with what is left in the drum",
)


def _told(label: str, text: str, look: Look, role: str = "quiet") -> list[Row]:
    lines = wrap(text, max(look.width - LABELLED, 1)) if text else []
    return [fact("" if i else label, Span(line, role)) for i, line in enumerate(lines)]


def _owed_rows(each: AdditivePicture, look: Look) -> list[Row]:
    """Return what is owed of an additive under its whole name."""
    name, owed = clean(each.name, 60), Span(owed_words(each, look), "strong")
    if cells(name) <= LABEL:
        return [fact(name, owed)]
    return [row(Span(f"  {cut(name, look.width - 2)}", "quiet")), fact("", owed)]


def _dose_rows(bath: BathPicture, look: Look) -> list[Row]:
    rows: list[Row] = []
    for each in bath.additives:
        rows += _owed_rows(each, look)
        accrued = amount_words(each.accrued_ml, each.measure, look)
        dosed = amount_words(each.dosed_ml, each.measure, look)
        rows += _told("", f"accrued {accrued}, dosed {dosed}", look)
        if each.next_ml > 0.0:
            rows.append(fact("", f"dose now {amount_words(each.next_ml, each.measure, look)}"))
        elif each.due:
            rows += _told("", "the hour has had its largest dose; the rest stays owed", look)
        if each.used_up_in_s is not None:
            text = f"more went in than is owed: plating uses it up in {age(each.used_up_in_s)}"
            rows += _told("", f"{text}; carbon is no first remedy", look, "outside")
        if each.owed_high_ml - each.owed_ml >= 1.0:
            text = "a range: charge went unmetered, or with no load there"
            rows += _told("", text, look)
        rows += _told("", clean(each.rates), look)
    if not bath.additives:
        rows.append(fact("", Span("no additive is counted by charge here", "quiet")))
    for concern in bath.concerns:
        rows += _told("do not dose", clean(concern), look, "outside")
    return rows


def _charge_rows(bath: BathPicture, look: Look) -> list[Row]:
    parts = (
        ("product", bath.product_ah, "with a load there, or where nothing tells"),
        ("dummies", bath.dummy_ah, "counted at their own rate, no product"),
        ("no load", bath.idle_ah, "kept apart: owed only at most"),
        ("reverse", bath.reverse_ah, "strip and etch: owes nothing"),
        ("unmetered", bath.unmetered_ah, "at most, while nothing told"),
    )
    shown = [(label, ah, why) for label, ah, why in parts if ah >= LITTLE_AH]
    if len(shown) < 2:  # noqa: PLR2004 - one alone is the charge above
        return []
    rows = [titled("charge, by what it was for", look.width)]
    return rows + [
        fact(label, told(f"{number(ah, 1)} A·h", look), Span(f"  {why}", "quiet"))
        for label, ah, why in shown
    ]


def _laid_rows(bath: BathPicture, look: Look, wrong_way: str) -> list[Row]:
    """Return the metal that all tanks of the bath laid down, and since when it counts."""
    if bath.metal is None:
        return []
    rows = metal_rows(bath.metal, look, wrong_way)
    what = "what was metered" if bath.metal.is_short else "all that was laid down"
    since = f"{what} since the record began"
    return rows if bath.metal.refused else rows + _told("", since, look)


def concentration_rows(found: ConcentrationPicture | None, look: Look) -> list[Row]:
    """Return the metal in the bath, predicted from the last analysis."""
    if found is None:
        return []
    rows = [titled("metal in the bath, predicted", look.width)]
    scale = scale_of_unit("g/L", look.units)
    now, before = (
        number(scale.shown(each), 1)
        for each in (found.predicted_g_per_l, found.measured_g_per_l)
    )
    rows.append(fact(clean(found.metal, 12), told(f"{now} {scale.label}", look)))
    rows += _told("", _doubt_words(found, look), look)
    when = (
        "as configured"
        if found.measured_utc_ns is None
        else f"analysed {moment(found.measured_utc_ns, look.zone)}"
    )
    rows += _told("from", f"{before} {scale.label}, {when}", look)
    mass, volume = scale_of_unit("g", look.units), scale_of_unit("L", look.units)
    begun_g = found.measured_g_per_l * found.usual_l
    now_g = begun_g + found.dissolved_g - found.laid_g - found.dragged_g + found.salts_g
    rows += _told("in it then", _held(begun_g, found.usual_l, look), look)
    terms = (
        ("anodes gave", found.dissolved_g),
        ("laid down", -found.laid_g),
        ("dragged out", -found.dragged_g),
        ("salts gave", found.salts_g),
    )
    for label, grams in terms:
        if abs(grams) >= 1.0:
            text = f"{number(mass.shown(grams), 0)} {mass.label}"
            rows.append(fact(label, text, Span("  since then", "quiet")))
    rows += _told("in it now", _held(now_g, found.solution_l, look), look)
    if found.unexplained_g_per_l is not None:
        text = f"{number(scale.shown(found.unexplained_g_per_l), 1)} {scale.label}"
        why = "what the last analysis found, less what the one before it predicted"
        rows += _told("unexplained", f"{text}: {why}", look)
    if found.drag_out_ml_per_m2 is None:
        rows += _told("", "drag-out is not known: left out", look)
    litres = f"{number(volume.shown(found.solution_l), 0)} {volume.label}"
    how = "by its level" if found.by_level else "no level tells: taken as full"
    rows += _told("solution", f"{litres}, {how}", look)
    if found.has_lost:
        lost = "some ran out since the last analysis: only the next one tells what is left"
        rows += _told("", lost, look, "outside")
    source = clean(found.volume_from) or "as configured: nobody says that it was measured"
    return rows + _told("its volume", source, look)


def _held(grams: float, litres: float, look: Look) -> str:
    """Return how much metal is in how much solution: water alone changes a litre's share."""
    mass, volume = scale_of_unit("g", look.units), scale_of_unit("L", look.units)
    return (
        f"{number(mass.shown(grams), 0)} {mass.label} in"
        f" {number(volume.shown(litres), 0)} {volume.label}"
    )


def _doubt_words(found: ConcentrationPicture, look: Look) -> str:
    """Return how sure a predicted concentration is: of what it began with nobody knows."""
    begun = "the analysis" if found.measured_utc_ns is not None else "the configured number"
    scale = scale_of_unit("g/L", look.units)
    doubt = number(scale.span(found.uncertainty_g_per_l), 1)
    own = f"how sure {begun} itself is, nobody told"
    if float(doubt) == 0.0:
        return own
    return f"± {doubt} {scale.label} by what went in and out since; {own}"


def _water_rows(bath: BathPicture, look: Look) -> list[Row]:
    volume = scale_of_unit("L", look.units)
    lost = sum(each.evaporates_l_per_h or 0.0 for each in bath.water)
    wanted = [each.top_up_l for each in bath.water if each.top_up_l is not None]
    rows: list[Row] = []
    if lost:
        text = f"about {number(volume.shown(lost), 1)} {volume.label}/h"
        rows.append(fact("evaporates", text, Span("  a rule; learn it per tank", "quiet")))
    if wanted:
        need = sum(wanted)
        said = "water wanted" if need >= 0.0 else "too much by"
        rows.append(fact(said, f"{number(volume.shown(abs(need)), 0)} {volume.label}"))
    return [titled("water", look.width), *rows] if rows else []


def entry_rows(bath: BathPicture, look: Look, chosen: str = "") -> list[Row]:
    """Return the last entries of a bath's additives, the newest first."""
    found = [
        (entry, each)
        for each in bath.additives
        if not chosen or each.id == chosen
        for entry in each.entries
    ]
    if not found:
        return []
    found.sort(key=lambda pair: -pair[0].number)
    rows = [titled("what went in, the newest first", look.width)]
    for entry, each in found[:ENTRIES_SHOWN]:
        spans = [
            Span(f"  {entry.number:>5} {moment(entry.utc_ns, look.zone)}  "),
            Span(fit(amount_words(entry.amount_ml, each.measure, look), 12, right=True)),
            Span(f"  {fit(clean(each.name, 40), 18)} {fit(clean(entry.who, 8), 5)}"),
            Span(f" {entry_words(entry)}", "quiet"),
        ]
        rows.append(Row(clip(spans, look.width)))
    return rows


def entry_words(entry: EntryPicture) -> str:
    """Return what stands beside an entry: lot, correction, reason."""
    said = [f"lot {clean(entry.lot, 24)}"] if entry.lot else []
    if entry.corrects is not None:
        said.append(f"takes {entry.corrects} back")
    if entry.corrected_by is not None:
        said.append(f"taken back by {entry.corrected_by}")
    if entry.is_beyond:
        said.append("more than was owed")
    if entry.why:
        said.append(clean(entry.why, 80))
    return "; ".join(said)
