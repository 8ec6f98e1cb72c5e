"""A load's record on the screen, and the loads that left the line lately."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.loads.layers import TOO_THIN
from linewatch.core.loads.page import LAST_KINDS, ON_ITS_WAY_NS, is_another, load_page
from linewatch.core.pages import Shown
from linewatch.ui.draw.lists import NO_NUMBER, WIDE, load_detail, loads_of
from linewatch.ui.draw.naming import target
from linewatch.ui.draw.page import page_rows
from linewatch.ui.draw.parts import fact, worded
from linewatch.ui.draw.rows import Look, Row, Span, clip, row, titled, told, wrap
from linewatch.ui.draw.ways import way_detail
from linewatch.ui.scales import scale_of_unit
from linewatch.ui.text import age, cells, clean, fit, moment, number

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from linewatch.core.loads.layers import LayerRow
    from linewatch.core.loads.present import Present
    from linewatch.core.loads.record import LoadRecord
    from linewatch.core.view import LinePicture
    from linewatch.ui.scales import Scale

NS: Final = 1_000_000_000
NUMBER: Final = 12
POSITION: Final = 22
SINCE: Final = 9
PART: Final = 16
MOST_LEFT: Final = 20


def record_rows(
    picture: LinePicture, number_of_load: str, record: LoadRecord | None, look: Look
) -> list[Row]:
    """Return all that is known of a load: where it is now, then its record."""
    rows = load_detail(picture, number_of_load, look) or way_detail(
        picture, number_of_load, look
    )
    if record is None:
        if not rows:
            return [row(Span("  the record knows no such load", "quiet"))]
        present = picture.present(number_of_load)
        if present is not None and present.odd:
            rows[2:2] = worded("odd", "; ".join(map(clean, present.odd)), look, "outside")
        said = "its record begins when its first stay has ended: until then no more is told"
        return [
            *rows,
            row(),
            *(row(Span(f"  {line}", "quiet")) for line in wrap(said, look.width - 2)),
        ]
    page = load_page(
        record,
        picture.name,
        Shown(look.units, lambda utc_ns: _when(utc_ns, look)),
        picture.present(record.number),
        picture.growing(record.number),
    )
    rows += _layer_so_far(picture, record, look)
    return [*rows, *([row()] if rows else []), *page_rows(page, look)]


def _when(utc_ns: int, look: Look) -> str:
    """Return date and time; where columns stand close, of today the time alone."""
    whole = moment(utc_ns, look.zone)
    if look.width >= WIDE:
        return whole
    date, _, time = whole.partition(" ")
    return time if date == moment(look.now_ns, look.zone).partition(" ")[0] else whole[5:]


def _layer_so_far(picture: LinePicture, record: LoadRecord, look: Look) -> list[Row]:
    """Return the layer that grows now, what earlier tanks gave it and this one together."""
    tank, load = next(
        ((tank, load) for tank, load in loads_of(picture) if load.number == record.number),
        (None, None),
    )
    layer = next((e for e in record.layers if tank is not None and e.bath == tank.bath), None)
    if load is None or layer is None or None in {load.thickness_um, layer.thickness_um}:
        return []
    thick = scale_of_unit("um", look.units)
    mean = (load.thickness_um or 0.0) + (layer.thickness_um or 0.0)
    doubt = (load.thickness_uncertainty_um or 0.0) + (layer.thickness_pm_um or 0.0)
    text = f"{number(thick.shown(mean), thick.decimals)}"
    text += f" ± {number(thick.span(doubt), thick.decimals)}"
    if layer.target_um is not None:
        text += f" of {number(thick.shown(layer.target_um), thick.decimals)}"
    tanks = "a tank" if layer.stays == 1 else f"{layer.stays} tanks"
    seen = "" if layer.is_whole else ", its first tanks not seen"
    beside = Span(f" {clean(layer.deposit, 12)} of {tanks} before and this one{seen}", "quiet")
    return [row(), fact("layer so far", told(f"{text} {thick.label}", look), beside)]


def _on_the_line(picture: LinePicture) -> set[str]:
    """Return the numbers of the loads in tanks and on their way."""
    here = {tank.load.number for tank in picture.tanks if tank.load is not None}
    return here | {way.load for way in picture.ways}


def gone_rows(records: Sequence[LoadRecord], picture: LinePicture, look: Look) -> list[Row]:
    """Return the loads that are on the line no more, the latest first."""
    here = _on_the_line(picture)
    gone = [each for each in records if each.number not in here]
    if not gone:
        return []
    said = "in no tank now, the latest first"
    if look.width >= WIDE:
        said += "; odd: how many things went otherwise than planned, as far as was seen"
    heading = titled(said, look.width)
    widths = _widths(gone, look)
    return [row(), heading, *(_gone(each, widths, look) for each in gone)]


def odd_of(
    records: Sequence[LoadRecord], picture: LinePicture, look: Look
) -> dict[str, tuple[bool, str]]:
    """Return what is odd by now of the loads on the line: (it may be spoilt, in words).

    Args:
        records: What was told of loads, those of others are passed over.
        picture: The line.
        look: How it is drawn.
    """
    by_number = {each.number: each for each in records}
    found = {}
    for load in sorted(_on_the_line(picture)):
        present, record = picture.present(load), by_number.get(load)
        if record is not None and present is not None and is_another(record, present):
            record = None
        is_grave, said = _odd_by_now(record, present, picture.growing(load), look)
        if said:
            found[load] = is_grave, said
    return found


def _odd_by_now(
    record: LoadRecord | None, present: Present | None, growing: Collection[str], look: Look
) -> tuple[bool, str]:
    """Return (it may be spoilt, what is odd in words: the grave whole, the rest counted)."""
    said = list(present.grave) if present is not None else []
    many = len(present.odd) if present is not None else 0
    thin = []
    if record is not None:
        many += record.oddities
        said += [record.worst] if record.is_grave else []
        thin = [_layer(each, look) for each in record.thin(growing)]
    more = many - len(said)
    if not said and not thin:
        return False, _worst_of(many, record, present) if many else ""
    rest = f" and {more} more" if more else ""
    return True, "; ".join([*thin, *said]) + rest


def _worst_of(many: int, record: LoadRecord | None, present: Present | None) -> str:
    """Return how much is odd and what: that which goes on now, else the gravest."""
    going_on = present.odd if present is not None else ()
    worst = going_on[0] if going_on else record.worst if record is not None else ""
    lead = "" if many == 1 else "as "
    return f"odd: {many}, {lead}{worst}" if worst else f"odd: {many}"


def left_in_shift(
    records: Sequence[LoadRecord], picture: LinePicture, span_ns: tuple[int, int]
) -> list[LoadRecord]:
    """Return the loads that left the line within a span of wall time [ns], the latest first.

    A load on its way from tank to tank has not left: it is out for a while, or was in a place
    where loads end their way.
    """
    here = _on_the_line(picture)
    return [
        each
        for each in records
        if each.number not in here
        and each.stays
        and span_ns[0] <= each.stays[-1].out_utc_ns < span_ns[1]
        and (
            each.stays[-1].kind in LAST_KINDS
            or picture.utc_ns - each.stays[-1].out_utc_ns >= ON_ITS_WAY_NS
        )
    ]


def left_rows(left: Sequence[LoadRecord], look: Look) -> list[Row]:
    """Return what is to be handed over of the loads that left in a shift.

    Args:
        left: The loads; see `left_in_shift`.
        look: How it is drawn.

    Returns:
        A row a load that is too thin or had anything odd, the thin ones first, then the
        gravest.
    """
    thin = [each for each in left if each.thin()]
    odd = [each for each in left if each.oddities and not each.thin()]
    odd.sort(key=lambda each: each.gravity)
    said = f"loads that left: {len(left)}"
    if thin or odd:
        said += f", too thin: {len(thin)}, odd besides: {len(odd)}"
    elif left:
        said += ", nothing odd was seen"
    told = [*thin, *odd]
    rows = [titled(said, look.width), *(_left(each, look) for each in told[:MOST_LEFT])]
    if len(told) > MOST_LEFT:
        more = f"   and {len(told) - MOST_LEFT} more: all that left stand among the loads"
        rows.append(row(Span(more, "quiet")))
    return rows


def _left(record: LoadRecord, look: Look) -> Row:
    thick = scale_of_unit("um", look.units)
    said = [f"{_layer(each, look)}, wanted {_wanted(each, thick)}" for each in record.thin()]
    if record.oddities:
        said.append(f"odd: {record.oddities}")
    spans = (
        Span(f"   {fit(clean(record.number, 24) or NO_NUMBER, NUMBER - 2)}", "strong"),
        Span(fit(clean(record.part, 40), PART)),
        Span(f"{'; '.join(said)}  ", "outside"),
        Span(f"{clean(record.decision, 20)}  ", "strong"),
        Span(clean(record.worst, 160), "quiet"),
    )
    return Row(clip(spans, look.width), target("load", record.number))


def _wanted(layer: LayerRow, thick: Scale) -> str:
    """Return the thickness that a layer falls short of."""
    locally = layer.verdict != TOO_THIN
    value = layer.least_um if locally else layer.target_um
    where = " at its thinnest" if locally else ""
    return "" if value is None else f"{number(thick.shown(value), thick.decimals)}{where}"


def _widths(gone: Sequence[LoadRecord], look: Look) -> tuple[int, int, int]:
    """Return the cells of number, part and position: as wide as what stands there."""
    if look.width >= WIDE:
        return NUMBER, POSITION, POSITION
    number = max(cells(clean(each.number, 24) or NO_NUMBER) for each in gone) + 1
    part = max(cells(clean(each.part, 40)) for each in gone) + 1
    position = max(cells(_where(each)) for each in gone) + 1
    return min(number, NUMBER), min(part, POSITION), min(position, POSITION + 3)


def _where(record: LoadRecord) -> str:
    return clean(record.stays[-1].tank_name, 40) if record.stays else ""


def _gone(record: LoadRecord, widths: tuple[int, int, int], look: Look) -> Row:
    last = record.stays[-1] if record.stays else None
    odd = f"odd: {record.oddities}" if record.oddities else ""
    since = age((look.now_ns - last.out_utc_ns) / NS) if last is not None else ""
    layers = "  ".join(_layer(each, look) for each in record.layers)
    spans = (
        Span(f" {fit(clean(record.number, 24) or NO_NUMBER, widths[0])}", "strong"),
        Span(fit(clean(record.part, 40), widths[1])),
        Span(fit(_where(record), widths[2]), "quiet"),
        Span(fit(since, SINCE, right=True), "quiet"),
        Span("  "),
        Span(fit(odd, 9), "outside"),
        Span(fit(clean(record.decision, 20), 10), "strong"),
        Span(layers, "quiet"),
    )
    return Row(clip(spans, look.width), target("load", record.number))


def _layer(layer: LayerRow, look: Look) -> str:
    deposit = clean(layer.deposit, 12)
    if layer.thickness_um is None:
        return f"{deposit} {clean(layer.not_known, 80)}"
    thick = scale_of_unit("um", look.units)
    value = number(thick.shown(layer.thickness_um), thick.decimals)
    verdict = f" {clean(layer.verdict, 40)}" if layer.verdict else ""
    return f"{deposit} {value} {thick.label}{verdict}"
