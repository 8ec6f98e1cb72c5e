"""A load's record on the screen, and the loads that left the line lately."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewatch.core.loads.page import load_page
from linewatch.core.pages import Shown
from linewatch.ui.draw.lists import NO_NUMBER, WIDE, load_detail, loads_of
from linewatch.ui.draw.naming import target
from linewatch.ui.draw.page import page_rows
from linewatch.ui.draw.parts import fact
from linewatch.ui.draw.rows import Look, Row, Span, clip, row, titled, told, wrap
from linewatch.ui.scales import scale_of_unit
from linewatch.ui.text import age, clean, fit, moment, number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.loads.record import LayerRow, LoadRecord
    from linewatch.core.view import LinePicture

NUMBER: Final = 12
POSITION: Final = 22
NARROW: Final = 13
SINCE: Final = 9
NS: Final = 1_000_000_000


def record_rows(
    picture: LinePicture, number_of_load: str, record: LoadRecord | None, look: Look
) -> list[Row]:
    """Return all that is known of a load: where it is now, then its record."""
    rows = load_detail(picture, number_of_load, look)
    if record is None:
        if not rows:
            return [row(Span("  the record knows no such load", "quiet"))]
        said = "its record begins when its first stay has ended: until then nothing is told"
        return [
            *rows,
            row(),
            *(row(Span(f"  {line}", "quiet")) for line in wrap(said, look.width - 2)),
        ]
    page = load_page(
        record, picture.name, Shown(look.units, lambda utc_ns: moment(utc_ns, look.zone))
    )
    rows += _layer_so_far(picture, record, look)
    return [*rows, *([row()] if rows else []), *page_rows(page, look)]


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


def gone_rows(records: Sequence[LoadRecord], picture: LinePicture, look: Look) -> list[Row]:
    """Return the loads that are on the line no more, the latest first."""
    here = {tank.load.number for tank in picture.tanks if tank.load is not None}
    gone = [each for each in records if each.number not in here]
    if not gone:
        return []
    said = "in no tank now, the latest first"
    if look.width >= WIDE:
        said += "; odd: how many things went otherwise than planned"
    heading = titled(said, look.width)
    return [row(), heading, *(_gone(each, look) for each in gone)]


def _gone(record: LoadRecord, look: Look) -> Row:
    wide = look.width >= WIDE
    last = record.stays[-1] if record.stays else None
    where = clean(last.tank_name, 40) if last is not None else ""
    odd = f"odd: {record.oddities}" if record.oddities else ""
    since = age((look.now_ns - last.out_utc_ns) / NS) if last is not None else ""
    layers = "  ".join(_layer(each, look) for each in record.layers)
    spans = (
        Span(f" {fit(clean(record.number, 24) or NO_NUMBER, NUMBER)}", "strong"),
        Span(fit(clean(record.part, 40), POSITION if wide else NARROW)),
        Span(fit(where, POSITION if wide else NARROW), "quiet"),
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
        return f"{deposit} not known"
    thick = scale_of_unit("um", look.units)
    value = number(thick.shown(layer.thickness_um), thick.decimals)
    verdict = f" {clean(layer.verdict, 40)}" if layer.verdict else ""
    return f"{deposit} {value} {thick.label}{verdict}"
