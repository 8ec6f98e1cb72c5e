"""Baths: what a solution lays down, from its own section over its recipe."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from linewatch.config.laboratory import assays_of
from linewatch.core.electrochemistry.metals import METALS
from linewatch.core.plan import (
    AdditivePlan,
    BathPlan,
    ConditionPlan,
    DepositPlan,
    EfficiencyPlan,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from linewatch.config.faults import Faults
    from linewatch.config.model import (
        AdditiveSection,
        BathSection,
        EfficiencySection,
        RecipeSection,
    )
    from linewatch.core.plan import Window


def bath_of(
    bath: BathSection,
    recipe: RecipeSection | None,
    windows: Mapping[str, Window],
    faults: Faults,
) -> BathPlan:
    """Return one bath."""
    key = f"bath.{bath.id}"
    return BathPlan(
        id=bath.id,
        name=bath.name,
        recipe=recipe.id if recipe is not None else "",
        deposit=_deposit(bath, recipe, key, faults),
        volume_l=bath.volume,
        metal_g_per_l=bath.metal,
        drag_out_ml_per_m2=bath.drag_out,
        volume_from=bath.volume_from,
        additives=_additives(bath, key, faults),
        assays=assays_of(bath.assay, key, faults),
        note=bath.note or (recipe.note if recipe is not None else ""),
        caution=bath.caution or (recipe.caution if recipe is not None else ""),
        windows=windows,
    )


def _deposit(
    bath: BathSection, recipe: RecipeSection | None, key: str, faults: Faults
) -> DepositPlan | None:
    metals = bath.metals if bath.metals is not None else (recipe.metals if recipe else None)
    if not metals:
        if bath.metals is not None:
            faults.add(f"{key}.metals", "names no metal", 'write { "Ni(II)" = "100 %" }')
        return None
    efficiency = bath.efficiency or (recipe.efficiency if recipe else None)
    if efficiency is None:
        # A bath whose efficiency nobody knows has no known mass either.
        faults.add(f"{key}.efficiency", "missing", "a bath with metals states its efficiency")
        return None
    anode = bath.anode_efficiency
    if anode is None and recipe is not None:
        anode = recipe.anode_efficiency
    return DepositPlan(
        parts=_parts(metals, f"{key}.metals", faults),
        efficiency=efficiency_of(efficiency, f"{key}.efficiency", faults),
        anode_efficiency=(100.0 if anode is None else anode) / 100.0,
    )


def _parts(
    metals: Mapping[str, float], key: str, faults: Faults
) -> tuple[tuple[str, float], ...]:
    total = sum(metals.values())
    if abs(total - 100.0) > 0.01:  # noqa: PLR2004 - percent, as a person rounds it
        faults.add(key, f"the shares add up to {total:g} %", "let them add up to 100 %")
    for symbol in metals:
        _refuse_unknown_metal(symbol, key, faults)
    return tuple((symbol, share / 100.0) for symbol, share in metals.items())


def efficiency_of(section: EfficiencySection, key: str, faults: Faults) -> EfficiencyPlan:
    """Return an efficiency; `low` and `high` are `value` where nothing is said."""
    low = section.value if section.low is None else section.low
    high = section.value if section.high is None else section.high
    if not low <= section.value <= high:
        faults.add(
            key,
            f"low {low:g} %, value {section.value:g} %, high {high:g} % do not rise",
            "let them rise",
        )
    for (before, _), (after, _) in pairwise(section.curve):
        if not before < after:
            faults.add(
                f"{key}.curve",
                f"{after:g} A/dm2 does not rise above {before:g} A/dm2",
                "let the current densities rise",
            )
    if len(section.curve) == 1:
        faults.add(f"{key}.curve", "one point is no curve", "write two, or only `value`")
    return EfficiencyPlan(
        value=section.value / 100.0,
        low=low / 100.0,
        high=high / 100.0,
        curve_a_per_dm2=tuple(density for density, _ in section.curve),
        curve_ratio=tuple(ratio / 100.0 for _, ratio in section.curve),
        source=section.source,
    )


def _additives(bath: BathSection, key: str, faults: Faults) -> tuple[AdditivePlan, ...]:
    seen: set[str] = set()
    for additive in bath.additive:
        if additive.id in seen:
            faults.add(f"{key}.additive.{additive.id}", "written twice", "give one another id")
        seen.add(additive.id)
        _check_additive(additive, f"{key}.additive.{additive.id}", faults)
    return tuple(_additive(each) for each in bath.additive)


def _check_additive(additive: AdditiveSection, key: str, faults: Faults) -> None:
    weighed = additive.weighed
    least = additive.least_weight if weighed else additive.least_dose
    largest = additive.largest_weight if weighed else additive.largest_dose
    unit = "g" if weighed else "mL"
    if largest is not None and largest < least:
        faults.add(
            key,
            f"least dose {least:g} {unit} is above largest {largest:g} {unit}",
            "let them rise",
        )
    wrong = _OF_VOLUMES if weighed else _OF_WEIGHTS
    for name in sorted(additive.model_fields_set & wrong):
        remedy = "use the keys with `weight`" if weighed else "write `weighed = true` too"
        faults.add(f"{key}.{name}", "is not for what is measured in this way", remedy)
    if additive.anodes and (additive.metal is not None or additive.metal_share is not None):
        faults.add(key, "anodes bring no metal until they dissolve", "leave the metal out")


_OF_WEIGHTS = frozenset(
    {"weight_kah", "least_weight", "largest_weight", "due_weight", "metal_share", "anodes"}
)
_OF_VOLUMES = frozenset(
    {
        "dose",
        "dose_area",
        "dose_load",
        "dose_day",
        "least_dose",
        "largest_dose",
        "due_at",
        "metal",
    }
)


def _additive(section: AdditiveSection) -> AdditivePlan:
    if section.weighed:
        return AdditivePlan(
            id=section.id,
            name=section.name,
            dose_ml_per_kah=section.weight_kah,
            least_dose_ml=section.least_weight,
            largest_dose_ml=section.largest_weight,
            due_at_ml=section.due_weight,
            due_every_s=section.due_every,
            dummy_ratio=section.dummy_share / 100.0,
            measure="g",
            metal_ratio=(section.metal_share or 0.0) / 100.0,
            is_anode=section.anodes,
        )
    return AdditivePlan(
        id=section.id,
        name=section.name,
        dose_ml_per_kah=section.dose or 0.0,
        dose_ml_per_m2=section.dose_area,
        dose_ml_per_load=section.dose_load,
        dose_ml_per_day=section.dose_day,
        least_dose_ml=section.least_dose,
        largest_dose_ml=section.largest_dose,
        due_at_ml=section.due_at,
        due_every_s=section.due_every,
        dummy_ratio=section.dummy_share / 100.0,
        metal_ratio=(section.metal or 0.0) / 1000.0,
    )


def due_conditions(sections: Iterable[BathSection]) -> Iterable[ConditionPlan]:
    """Yield what watches that each additive's dose is not forgotten; a study turns them."""
    for bath in sections:
        for each in bath.additive:
            used_up = (each.dose, each.dose_area, each.dose_load, each.dose_day)
            if any(used_up) or each.weight_kah:
                yield ConditionPlan(
                    id=f"{bath.id}.{each.id}.due",
                    tag=f"{bath.id}.{each.id}",
                    kind="found",
                    priority=each.priority,
                    title=f"{each.name} due",
                    cause="the charge and the work since the last dose have used it up",
                    consequence="the deposit loses its lustre or its levelling, bit by bit",
                    action="dose what the bath's page says, and log it there",
                )


def _refuse_unknown_metal(symbol: str, key: str, faults: Faults) -> None:
    if symbol not in METALS:
        faults.unknown(key, "metal", symbol, METALS)
