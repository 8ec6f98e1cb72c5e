"""A load's record as a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.loads.bake import DISAGREEMENTS
from linewatch.core.loads.present import lasting, lasting_span
from linewatch.core.loads.wanted import found_beside_wanted
from linewatch.core.pages import Page, Shown, Table
from linewatch.core.units import with_symbols

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from linewatch.core.loads.layers import LayerRow
    from linewatch.core.loads.present import Present
    from linewatch.core.loads.record import LoadRecord, Said, StayRow
    from linewatch.core.loads.wanted import Beside

TOLD_BY = {
    "number": "its number was read at the stations",
    "key": "a person said where it was",
    "order": "no number was read: it is taken for the load that came before",
    "current": "no station told: it is taken for a load because current came on",
    "card": "it has a card, and was not seen yet",
}
CARD = {
    "part_name": "part",
    "amount": "amount",
    "area_dm2": "area [dm2]",
    "lot": "lot",
    "reference": "customer reference",
    "rework_of": "rework of load",
}
CAUTIONS = (
    (
        "Charge and thickness are worked out from what the rectifiers' instruments read; the"
        " mean thickness says nothing about a single place, pores, adhesion or hydrogen. ± is"
        " the expanded uncertainty, k = 2. Drawing, order and the edition of the standard that"
        " they name come first."
    ),
    (
        "Each figure with what it was worked out from: `linewatch explain load/NUMBER`. That"
        " the record is what the readings give: `linewatch verify`."
    ),
)
LAST_KINDS = frozenset({"dry", "load"})
ON_ITS_WAY_NS = 300 * 1_000_000_000
"""No load takes so long from one tank to the next. Common practice."""
ACID = "activate"
"""The kind of a tank in which work is pickled or activated."""
SEEN = (
    "Not seen by any signal: cleanliness of the work, what lies under the deposit, adhesion,"
    " the thickness at a place. They are known only as far as they stand under 'found'."
)


def load_page(
    record: LoadRecord,
    line_name: str,
    show: Shown,
    present: Present | None = None,
    growing: Collection[str] = (),
) -> Page:
    """Return a load's record as a page, in its reader's units and time.

    Args:
        record: What was told of it.
        line_name: What people call the line.
        show: The reader's units and clock.
        present: The stay that it is in; None if it is in no tank.
        growing: Baths from which it may still get metal, where it is on its way.
    """
    again = f", trip {record.trip} of {record.trips} of this number" if record.trips > 1 else ""
    state = record.decision or "no decision yet"
    if present is not None and is_another(record, present):
        present = None
    oddities = record.oddities + len(present.odd if present is not None else ())
    so_far = " so far" if present is not None else ""
    odd = f"odd: {oddities}, see below" if oddities else f"nothing odd was seen{so_far}"
    odd += f"; not known: {record.holes}" if record.holes else ""
    return Page(
        title=f"Load {record.number}{again}",
        below=(
            f"{line_name} · {record.part or 'part not known'} · {state} · {odd}",
            f"Told of by: {TOLD_BY.get(record.by, record.by)}.",
            *([present_words(present, show)] if present is not None else []),
            *_in_acid(record.stays),
        ),
        tables=(
            Table(
                heading="Card",
                rows=tuple(
                    (name, _plain(record.card[key]))
                    for key, name in CARD.items()
                    if key in record.card
                ),
                empty="no card was written for it",
                widths=(1, 3),
            ),
            _layers(record, present, show, present.growing if present else growing),
            _stays(record.stays, show),
            _said(
                "Odd",
                (
                    *_odd(record.stays, show),
                    *_times(record.marks, show),
                    *_odd_now(present, show),
                ),
            ),
            _said(
                "Not known",
                (
                    *_unknown(record.stays, show),
                    *_no_thickness(record, show),
                    *_times(record.not_known, show),
                ),
            ),
            _said("Bake", _times(record.bakes, show)),
            _said("Found", _findings(record, show), "nothing was noted"),
            _said("Decided", _times(record.decisions, show), "nothing was decided"),
            _said("Cards and corrections", _times(record.cards, show)),
        ),
        small=(
            f"Configuration {', '.join(each[:16] for each in record.fingerprints) or 'none'}.",
            *CAUTIONS,
            SEEN,
            *(f"Bakes: {each}" for each in (DISAGREEMENTS if record.bakes else ())),
        ),
    )


def _in_acid(stays: Sequence[StayRow]) -> tuple[str, ...]:
    """Return how long a load was in acid in total: hard steel takes hydrogen up there."""
    acid = [each for each in stays if each.kind == ACID]
    if not acid:
        return ()
    total_s = sum(each.dwell_s for each in acid)
    stays_said = "stay" if len(acid) == 1 else "stays"
    return (f"In acid {lasting(total_s)} altogether, in {len(acid)} {stays_said}.",)


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def is_another(record: LoadRecord, present: Present) -> bool:
    """Say whether what hangs there is the next load of the number, of which nothing is told."""
    last = record.stays[-1] if record.stays else None
    return (
        last is not None
        and last.kind in LAST_KINDS
        and present.since_utc_ns - last.out_utc_ns > ON_ITS_WAY_NS
    )


def present_words(present: Present, show: Shown) -> str:
    """Return where a load is now, for how long, and what it has by now."""
    text = (
        f"In {present.tank_name} since {show.clock(present.since_utc_ns)}, for"
        f" {lasting(present.dwell_s)} by {show.clock(present.utc_ns)}"
    )
    if not present.deposit:
        return f"{text}."
    wanted = show.number(present.target_um, "um", 1)
    of = f", {wanted} are wanted of this tank" if wanted else ""
    has = show.with_doubt(present.thickness_um, present.thickness_pm_um, "um")
    if has:
        return f"{text}: {present.deposit} {has} here so far (mean){of}."
    charge = show.number(present.charge_ah, "A.h", 2)
    sent = f"; {charge} so far" if charge else ""
    why = f": {present.not_known}" if present.not_known else ""
    return f"{text}: thickness so far not known{why}{sent}."


def _odd_now(present: Present | None, show: Shown) -> list[tuple[str, str]]:
    if present is None:
        return []
    now = show.clock(present.utc_ns)
    return [(now, f"{present.tank_name}: {each}") for each in present.odd]


def _findings(record: LoadRecord, show: Shown) -> list[tuple[str, str]]:
    """Return what was found, each thickness beside the one that is wanted."""
    wanted = {id(each.said): each for each in found_beside_wanted(record)}
    rows = []
    for said, (when, text) in zip(
        record.inspections, _times(record.inspections, show), strict=True
    ):
        held = wanted.get(id(said))
        rows.append((when, text if held is None else f"{text}; {_beside(held, show)}"))
    return rows


def _beside(held: Beside, show: Shown) -> str:
    least = "at least " if held.is_local else ""
    verdict = "LESS than" if held.is_below else "not less than"
    return f"{verdict} the {least}{show.number(held.wanted_um, 'um', 1)} that are wanted"


def _layers(
    record: LoadRecord, present: Present | None, show: Shown, growing: Collection[str]
) -> Table:
    grows = present is not None and present.deposit
    found: dict[str, float] = {}
    for each in found_beside_wanted(record):
        found[each.layer.bath] = each.found_um
    return Table(
        heading="Layers",
        columns=(
            "layer",
            "charge",
            "deposited",
            "mean thickness",
            "thinnest",
            "found",
            "wanted",
            "least",
            "",
        ),
        rows=tuple(
            (
                f"{layer.deposit} ({layer.bath})",
                _of_layer(layer, show),
                show.number(layer.mass_g, "g", 2),
                show.with_doubt(layer.thickness_um, layer.thickness_pm_um, "um")
                or layer.not_known,
                show.number(layer.thinnest_um, "um", 2),
                show.number(found.get(layer.bath), "um", 1),
                show.number(layer.target_um, "um", 1),
                show.number(layer.least_um, "um", 2),
                layer.verdict_among(growing),
            )
            for layer in record.layers
        ),
        numbers=frozenset({1, 2, 3, 4, 5, 6, 7}),
        widths=(2.2, 1.4, 1.3, 2.3, 1.2, 1.1, 1.1, 1.1, 1.2),
        empty="its first layer grows now, see above" if grows else "no metal was laid down",
    )


def _stays(stays: Sequence[StayRow], show: Shown) -> Table:
    return Table(
        heading="Its way",
        columns=(
            "tank",
            "came in",
            "bare",
            "dwell",
            "allowed",
            "degrees",
            "charge",
            "thickness",
        ),
        rows=tuple(
            (
                stay.tank_name + (" *" if stay.odd else ""),
                show.clock(stay.in_utc_ns),
                _bare(stay, is_first=k == 0),
                "not known" if stay.dwell_not_known else lasting(stay.dwell_s),
                lasting_span(stay.shortest_s, stay.longest_s),
                _degrees(stay, show),
                _charge(stay, show),
                show.with_doubt(stay.thickness_um, stay.thickness_pm_um, "um"),
            )
            for k, stay in enumerate(stays)
        ),
        numbers=frozenset({2, 3, 4, 5, 6, 7}),
        widths=(2.4, 2.2, 0.9, 1, 1.5, 1.9, 2, 2),
        empty="it was seen in no tank",
    )


def _bare(stay: StayRow, *, is_first: bool) -> str:
    if stay.transfer_s is None:
        return "" if is_first else "not known"
    return lasting(stay.transfer_s)


def _charge(stay: StayRow, show: Shown) -> str:
    if stay.anodic_ah and stay.anodic_ah > (stay.charge_ah or 0.0):
        # Where metal is laid down, what came before it was taken off belongs to it.
        laid = show.number(stay.charge_ah, "A.h", 2, bare=True) if stay.deposit else ""
        anodic = f"{show.number(stay.anodic_ah, 'A.h', 2)} anodic"
        return f"{laid}, and {anodic}" if laid and stay.charge_ah else anodic
    if stay.charge_ah is not None and stay.is_unmetered:
        most = show.number(stay.charge_ah + (stay.charge_pm_ah or 0.0), "A.h", 1)
        return f"not metered, at most {most}"
    return show.with_doubt(stay.charge_ah, stay.charge_pm_ah, "A.h")


def _of_layer(layer: LayerRow, show: Shown) -> str:
    """Return the charge of a layer: with its ±, or as the least where some was not metered."""
    if layer.hole:
        return f"at least {show.number(layer.charge_ah, 'A.h', 1)}"
    return show.with_doubt(layer.charge_ah, layer.charge_pm_ah, "A.h")


def _degrees(stay: StayRow, show: Shown) -> str:
    low, high = stay.temperature_low_degc, stay.temperature_high_degc
    if low is None:
        return ""
    first = show.number(low, "degC", 1, bare=True)
    return f"{first} to {show.number(high, 'degC', 1)}"


def _odd(stays: Sequence[StayRow], show: Shown) -> list[tuple[str, str]]:
    return [
        (show.clock(stay.out_utc_ns), f"{stay.tank_name}: {each}")
        for stay in stays
        for each in stay.odd
    ]


def _unknown(stays: Sequence[StayRow], show: Shown) -> list[tuple[str, str]]:
    return [
        (show.clock(stay.out_utc_ns), f"{stay.tank_name}: {each}")
        for stay in stays
        for each in (*stay.holes, stay.dwell_not_known)
        if each
    ]


def _no_thickness(record: LoadRecord, show: Shown) -> list[tuple[str, str]]:
    """Return why layers have no thickness, with when their last stay ended."""
    ended = {stay.bath: stay.out_utc_ns for stay in record.stays}
    return [
        (show.clock(ended[layer.bath]), f"thickness of {layer.deposit}: {layer.refused}")
        for layer in record.layers
        if layer.thickness_um is None and layer.refused
    ]


def _times(said: Sequence[Said], show: Shown) -> list[tuple[str, str]]:
    found = []
    for each in said:
        why = each.values.get("why")
        has_why = why and str(why) not in each.text
        text = with_symbols(each.text) + (f" ({why})" if has_why else "")
        found.append((show.clock(each.utc_ns), text))
    return found


def _said(heading: str, rows: Sequence[tuple[str, str]], empty: str = "") -> Table:
    return Table(heading=heading, rows=tuple(sorted(rows)), empty=empty, widths=(1, 5))
