"""Why the figures of a load's stay are what they are, from the record alone."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from linewatch.core.electrochemistry.explanation import FARADAY_LAW, Explanation, GivenInput
from linewatch.core.electrochemistry.uncertainty import COVERAGE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.loads.layers import LayerRow
    from linewatch.core.loads.record import LoadRecord, StayRow

SEE_THICKNESS = "± as the thickness, less area and density"
THICKNESS_SOURCE = "mean thickness = mass / (density x area); common practice"

NO_CHARGE = "± is a share of the charge, and of no charge there is none"
NOT_KEPT = "± of an anodic charge is not kept: only its parts, as shares of it"
AS_SUM = "± at most the sum of those of its stays: they err together"
_SHARE = re.compile(r"([0-9][0-9.e+-]*) %")


def parts_of_doubt(kept: str) -> str:
    """Return what a ± was worked out from, with the coverage factor of every ± shown.

    Args:
        kept: As the record keeps it, standard uncertainties: 'current sensor 0.289 %'.

    Examples:
        >>> parts_of_doubt("current sensor 0.289 %; area 9.24 %")
        'its parts, k = 2: current sensor 0.578 %; area 18.5 %'
    """
    if not kept:
        return ""
    doubled = _SHARE.sub(lambda found: f"{COVERAGE * float(found[1]):.3g} %", kept)
    return f"its parts, k = {COVERAGE:g}: {doubled}"


def why(record: LoadRecord) -> Sequence[Explanation]:
    """Return the explanation of every figure of a load's record."""
    found: list[Explanation] = []
    for stay in record.stays:
        if stay.charge_ah is not None:
            found += _stay(stay)
    for layer in record.layers:
        found += _layer(layer, [stay for stay in record.stays if stay.bath == layer.bath])
    return found


def _given(
    name: str, symbol: str, value: float, unit: str, source: str, utc_ns: int | None = None
) -> GivenInput:
    return GivenInput(
        name=name, symbol=symbol, value=value, unit=unit, source=source, utc_ns=utc_ns
    )


def _stay(stay: StayRow) -> list[Explanation]:
    assert stay.charge_ah is not None  # noqa: S101 - the caller has looked
    where = f"in {stay.tank_name}"
    # The budget that is kept is that of the thickness, where there is one.
    doubts = parts_of_doubt(stay.doubts) if stay.thickness_um is None else ""
    notes = [doubts]
    if stay.is_unmetered:
        notes.append("at least: of the time that was not metered nothing is counted")
    if stay.thickness_refused:
        notes.append(f"no thickness: {stay.thickness_refused}")
    if stay.shared_with:
        notes.append(f"shared by area with load {stay.shared_with}, on the same rectifier")
    # Where the work was the anode, the charge that tells something is the other one.
    is_anodic = (stay.anodic_ah or 0.0) > stay.charge_ah
    sure = f"± {stay.charge_pm_ah:.3g} A·h (k = 2)" if stay.charge_pm_ah else NO_CHARGE
    notes.insert(0, NOT_KEPT if is_anodic else sure)
    found = [
        Explanation(
            figure=f"{'anodic charge' if is_anodic else 'charge'} {where}",
            value=(stay.anodic_ah or 0.0) if is_anodic else stay.charge_ah,
            unit="A.h",
            formula="Q = ∫ I dt from coming in to leaving",
            inputs=(
                _given("came in", "t1", 0.0, "s", "its station", stay.in_utc_ns),
                _given("left", "t2", stay.dwell_s, "s", "its station", stay.out_utc_ns),
                _given("not metered", "tu", stay.unmetered_s or 0.0, "s", "account of time"),
            ),
            notes=tuple(note for note in notes if note),
        )
    ]
    if stay.mass_g is None or stay.equivalent_g_per_ah is None or stay.efficiency is None:
        return found
    found.append(
        Explanation(
            figure=f"{stay.deposit} deposited {where}",
            value=stay.mass_g,
            unit="g",
            formula="m = k η Q",
            inputs=(
                _given("charge", "Q", stay.charge_ah, "A.h", "see above"),
                _given("equivalent", "k", stay.equivalent_g_per_ah, "g/A.h", FARADAY_LAW),
                _given("cathode efficiency", "η", stay.efficiency, "", "the bath's entry"),
            ),
            source=FARADAY_LAW,
            notes=(SEE_THICKNESS,) if stay.thickness_um is not None else (),
        )
    )
    if stay.thickness_um is None or not stay.area_dm2 or stay.density_g_per_cm3 is None:
        return found
    pm = f"± {stay.thickness_pm_um:.3g} µm (k = 2)" if stay.thickness_pm_um else ""
    found.append(
        Explanation(
            figure=f"mean thickness of {stay.deposit} {where}",
            value=stay.thickness_um,
            unit="um",
            formula="s = m / (ρ A)",
            inputs=(
                _given("deposited", "m", stay.mass_g, "g", "see above"),
                _given("density", "ρ", stay.density_g_per_cm3, "g/cm3", "the metal's table"),
                _given("area", "A", stay.area_dm2, "dm2", stay.area_from),
            ),
            source=THICKNESS_SOURCE,
            notes=tuple(note for note in (pm, parts_of_doubt(stay.doubts)) if note),
        )
    )
    return found


def _where(stay: StayRow) -> str:
    return f"{stay.tank_name}, not metered" if stay.is_unmetered else stay.tank_name


def _layer(layer: LayerRow, stays: Sequence[StayRow]) -> list[Explanation]:
    found = []
    for name, value, unit, each in (
        ("charge", layer.charge_ah, "A.h", [stay.charge_ah for stay in stays]),
        ("deposited", layer.mass_g, "g", [stay.mass_g for stay in stays]),
        ("mean thickness", layer.thickness_um, "um", [stay.thickness_um for stay in stays]),
    ):
        if value is None:
            continue
        notes = [_sure_of_layer(layer, unit)]
        if layer.hole and unit != "um":
            # What a layer lays down stands with its thickness; a charge may be the least.
            notes.append(f"at least: {layer.hole}, counted as it was metered")
        found.append(
            Explanation(
                figure=f"{name} of the {layer.deposit} layer",
                value=value,
                unit=unit,
                formula="the sum of its stays",
                inputs=tuple(
                    _given(name, f"{k}", amount, unit, _where(stay))
                    for k, (stay, amount) in enumerate(zip(stays, each, strict=True), start=1)
                    if amount is not None
                ),
                notes=tuple(notes),
            )
        )
    return found


def _sure_of_layer(layer: LayerRow, unit: str) -> str:
    """Return how sure the sum of some stays is."""
    if unit == "um" and layer.thickness_pm_um is not None:
        pm = f"± {layer.thickness_pm_um:.3g} µm (k = 2)"
        return f"{pm}, those of its stays added: efficiency and area err together"
    return AS_SUM
