"""Sections in, the line's plan and its links' settings out.

What refers to something else is checked here; every fault goes to `Faults`, and the plan is
made of what holds, so that one fault does not hide the next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from linewatch.config.baths import bath_of, due_conditions
from linewatch.config.catalogue import parts_of, routes_of
from linewatch.config.causes import with_links, with_tracks
from linewatch.config.conditions import Watched, conditions_of, line_conditions
from linewatch.config.cyanide import holding_cyanide
from linewatch.config.laboratory import (
    assays_of,
    duties_of,
    duty_conditions,
    permit_windows,
    permits_of,
    rinse_of,
)
from linewatch.config.links import LinkSettings
from linewatch.config.model import (
    RecipeSection,
)
from linewatch.config.references import check_references
from linewatch.config.sections import Sections
from linewatch.config.sense import check_sense
from linewatch.config.still import with_still_links
from linewatch.config.tags import check_doubled, poll_of, tag_of
from linewatch.config.windows import Stated, check_kinds, kinds_of, window
from linewatch.core.plan import LinePlan, RectifierPlan, TankPlan, TurningPlan, Window
from linewatch.core.rules.health import TURNING

if TYPE_CHECKING:
    from linewatch.config.faults import Faults
    from linewatch.config.links import TagRead
    from linewatch.config.model import (
        FeedSection,
        LineSection,
        RectifierSection,
        TankSection,
        TurningSection,
    )
    from linewatch.core.plan import BathPlan, ConditionPlan, TagPlan

Recipes = "Mapping[str, RecipeSection]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Sections with the recipes that they may name."""

    sections: Sections
    recipes: Mapping[str, RecipeSection]
    _chains: dict[str, tuple[Stated, ...]] = field(default_factory=dict)

    def chain(self, subject: str) -> tuple[Stated, ...]:
        """Return the sections that may state a window of a tank or rectifier, nearest first."""
        if subject not in self._chains:
            self._chains[subject] = self._chain(subject)
        return self._chains[subject]

    def _chain(self, subject: str) -> tuple[Stated, ...]:
        for rectifier in self.sections.rectifiers:
            if rectifier.id == subject:
                return (Stated(key=f"rectifier.{subject}", windows=rectifier.window),)
        for tank in self.sections.tanks:
            if tank.id == subject:
                return (
                    Stated(key=f"tank.{subject}", windows=tank.window),
                    *self._recipe(tank.recipe),
                    *self.bath_chain(tank.bath),
                )
        return ()

    def knows(self, tank: TankSection) -> bool:
        """Say whether every bath and recipe that a tank leads to is there."""
        bath = next((each for each in self.sections.baths if each.id == tank.bath), None)
        if bath is None and tank.bath is not None:
            return False
        named = (tank.recipe, bath.recipe if bath is not None else None)
        return all(name is None or name in self.recipes for name in named)

    def bath_chain(self, bath_id: str | None) -> tuple[Stated, ...]:
        """Return the sections that may state a window of a bath, nearest first."""
        for bath in self.sections.baths:
            if bath.id == bath_id:
                own = Stated(key=f"bath.{bath.id}", windows=bath.window)
                return (own, *self._recipe(bath.recipe))
        return ()

    def _recipe(self, name: str | None) -> tuple[Stated, ...]:
        recipe = self.recipes.get(name or "")
        if recipe is None:
            return ()
        return (Stated(key=f"recipe.{recipe.id}", windows=recipe.window),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A plan with the settings of its links."""

    plan: LinePlan
    links: tuple[LinkSettings, ...]


def line_of(reading: Reading, fingerprint: str, faults: Faults) -> Line | None:
    """Return the line; None if it has no [line]. It holds only if there are no faults."""
    sections = reading.sections
    check_sense(sections, faults)
    if sections.line is None:
        check_references(sections, reading.recipes, "", faults)
        return None
    check_references(sections, reading.recipes, sections.line.id, faults)
    check_doubled(sections.devices, faults)
    windows = _windows(reading, faults)
    tags, links = _links(sections, windows, faults)
    plan = _plan(
        sections.line,
        fingerprint,
        tags=tags,
        links=links,
        tanks=_tanks(sections.tanks, windows, faults),
        rectifiers=tuple(_rectifier(each) for each in sections.rectifiers),
        baths=_baths(reading, faults),
        conditions=_conditions(reading, tags, faults),
    )
    cyanide = holding_cyanide(sections, reading.recipes)
    plan = replace(
        plan,
        tanks=tuple(replace(each, holds_cyanide=each.id in cyanide) for each in plan.tanks),
        routes=routes_of(sections.routes),
        parts=parts_of(sections.parts, faults),
        permits=permits_of(sections.permits),
        duties=duties_of(sections, faults),
    )
    return Line(plan=with_still_links(with_tracks(with_links(plan))), links=links)


def _windows(reading: Reading, faults: Faults) -> dict[tuple[str, str], Window]:
    """Return the window of every subject and kind for which one is stated or measured."""
    sections = reading.sections
    stated = (
        *(Stated(key=f"tank.{each.id}", windows=each.window) for each in sections.tanks),
        *(
            Stated(key=f"rectifier.{each.id}", windows=each.window)
            for each in sections.rectifiers
        ),
        *(Stated(key=f"bath.{each.id}", windows=each.window) for each in sections.baths),
        *(Stated(key=f"recipe.{each.id}", windows=each.window) for each in sections.recipes),
    )
    for each in stated:
        check_kinds(each, faults)
    wanted = dict.fromkeys(
        (
            *((s.id, kind) for s in sections.tanks for kind in kinds_of(reading.chain(s.id))),
            *((s.id, kind) for s in sections.rectifiers for kind in s.window),
            *(_subject_and_kind(t.measures) for d in sections.devices for t in d.tag),
        )
    )
    return {
        (subject, kind): window(kind, reading.chain(subject), faults)
        for subject, kind in wanted
    }


def _subject_and_kind(measures: str) -> tuple[str, str]:
    subject, _, kind = measures.partition(".")
    return subject, kind


def _links(
    sections: Sections, windows: Mapping[tuple[str, str], Window], faults: Faults
) -> tuple[dict[str, TagPlan], tuple[LinkSettings, ...]]:
    by_id = {link.id: link for link in sections.links}
    tags: dict[str, TagPlan] = {}
    polls = []
    for device in sections.devices:
        reads: list[TagRead] = []
        for section in device.tag:
            at = windows.get(_subject_and_kind(section.measures), Window())
            tag = tag_of(device, section, by_id.get(device.link), at, faults)
            if tag is not None and tag.plan.id not in tags:
                tags[tag.plan.id] = tag.plan
                reads.append(tag.read)
        polls.append(poll_of(device, tuple(reads)))
    links = tuple(
        LinkSettings(
            link=link, devices=tuple(poll for poll in polls if poll.device.link == link.id)
        )
        for link in sections.links
    )
    return tags, links


def _plan(  # noqa: PLR0913 - the parts of a line, each made by its own function
    line: LineSection,
    fingerprint: str,
    *,
    tags: Mapping[str, TagPlan],
    links: tuple[LinkSettings, ...],
    tanks: tuple[TankPlan, ...],
    rectifiers: tuple[RectifierPlan, ...],
    baths: tuple[BathPlan, ...],
    conditions: tuple[ConditionPlan, ...],
) -> LinePlan:
    return LinePlan(
        line_id=line.id,
        name=line.name,
        fingerprint=fingerprint,
        layouts=tuple(
            layout for link in links for poll in link.devices for layout in poll.layouts
        ),
        tags=tags,
        tanks=tanks,
        rectifiers=rectifiers,
        baths=baths,
        conditions=conditions,
        links=tuple(link.link.id for link in links),
        units=line.units,
        shelve_longest_s=line.shelve_longest,
        shift_s=line.shift,
        flood_start_per_10min=line.flood_start,
        flood_end_per_10min=line.flood_end,
    )


def _tanks(
    sections: tuple[TankSection, ...],
    windows: Mapping[tuple[str, str], Window],
    faults: Faults,
) -> tuple[TankPlan, ...]:
    """Return the tanks track by track, in the order of the file within a track."""
    tracks = list(dict.fromkeys(tank.track for tank in sections))
    in_order = sorted(sections, key=lambda tank: tracks.index(tank.track))
    of_tank: dict[str, dict[str, Window]] = {}
    for (tank_id, kind), each in windows.items():
        of_tank.setdefault(tank_id, {})[kind] = each
    return tuple(
        TankPlan(
            id=tank.id,
            name=tank.name,
            kind=tank.kind,
            number=tank.number,
            track=tank.track,
            bath=tank.bath,
            volume_l=tank.volume,
            surface_m2=tank.surface,
            depth_mm=tank.depth,
            longest_dwell_s=tank.longest_dwell,
            shortest_dwell_s=tank.shortest_dwell,
            area_dm2=tank.area,
            turning=_turning(tank.turning),
            windows=of_tank.get(tank.id, {}),
            permit=permit_windows(tank, faults),
            assays=assays_of(tank.assay, f"tank.{tank.id}", faults),
            rinse=rinse_of(tank, sections, faults),
        )
        for tank in in_order
    )


def _turning(section: TurningSection | None) -> TurningPlan | None:
    if section is None:
        return None
    return TurningPlan(speed_per_min=section.speed, rest_s=section.rest)


def _rectifier(section: RectifierSection) -> RectifierPlan:
    return RectifierPlan(
        id=section.id,
        name=section.name,
        feeds=tuple((feed.tank, feed.share / 100.0) for feed in section.feeds),
        rated_current_a=section.rated_current,
        rated_voltage_v=section.rated_voltage,
        polarity=section.polarity,
        zero_cutoff_a=section.zero_cutoff,
        max_gap_ns=None if section.max_gap is None else round(section.max_gap * 1e9),
        meter_modulus_ah=section.meter_modulus,
        meter_resolution_ah=section.meter_resolution,
        meter_counts=section.meter_counts,
        pulse_on_ms=section.pulse_on,
        pulse_off_ms=section.pulse_off,
        reverses=section.reverses,
        current_class_ratio=section.current_class / 100.0,
        area_tolerance_ratio=section.area_tolerance / 100.0,
        pulses=section.pulses,
        ripple_definition=section.ripple_definition,
    )


def _baths(reading: Reading, faults: Faults) -> tuple[BathPlan, ...]:
    found = []
    for bath in reading.sections.baths:
        chain = reading.bath_chain(bath.id)
        windows = {kind: window(kind, chain, faults) for kind in kinds_of(chain)}
        found.append(bath_of(bath, reading.recipes.get(bath.recipe or ""), windows, faults))
    return tuple(found)


def _conditions(
    reading: Reading, tags: Mapping[str, TagPlan], faults: Faults
) -> tuple[ConditionPlan, ...]:
    sections = reading.sections
    watched: dict[str, Watched] = {}
    of_subject: dict[str, list[TagPlan]] = {}
    for tag in tags.values():
        of_subject.setdefault(tag.subject, []).append(tag)

    def tags_of(subject: str) -> tuple[TagPlan, ...]:
        return tuple(of_subject.get(subject, ()))

    cyanide = holding_cyanide(sections, reading.recipes)
    kind_of: dict[str, str] = {tank.id: tank.kind for tank in sections.tanks}
    for tank in sections.tanks:
        watched[tank.id] = Watched(
            key=f"tank.{tank.id}",
            position=tank.kind,
            tags=tags_of(tank.id),
            alarms=tank.alarm,
            longest_dwell_s=tank.longest_dwell,
            rests_s=tank.turning.rest if tank.turning is not None else 0.0,
            holds_cyanide=tank.id in cyanide,
            windows_are_known=reading.knows(tank),
        )
    for rectifier in sections.rectifiers:
        watched[rectifier.id] = Watched(
            key=f"rectifier.{rectifier.id}",
            position="rectifier",
            tags=tags_of(rectifier.id),
            alarms=rectifier.alarm,
            feeds=frozenset(
                kind_of[feed.tank] for feed in rectifier.feeds if feed.tank in kind_of
            ),
            beside=beside(rectifier.feeds, sections.tanks, tags_of),
        )
    others = [subject for subject in of_subject if subject not in watched]
    for subject in others:
        watched[subject] = Watched(
            key=f"line.{subject}", position="line", tags=tags_of(subject)
        )
    measured = (each for some in watched.values() for each in conditions_of(some, faults))
    line_id = sections.line.id if sections.line is not None else ""
    whole = line_conditions(line_id, len(sections.rectifiers))
    due = (*due_conditions(sections.baths), *duty_conditions(sections))
    return (*measured, *whole, *due)


def beside(
    feeds: Iterable[FeedSection],
    tanks: Iterable[TankSection],
    tags_of: Callable[[str], Iterable[TagPlan]],
) -> frozenset[str]:
    """Return the kinds that are measured in the tanks that a rectifier feeds.

    'turning' stands among them where a tank turns its work.
    """
    fed = {feed.tank for feed in feeds}
    kinds = {tag.kind for tank in fed for tag in tags_of(tank)}
    turns = any(tank.id in fed and tank.turning is not None for tank in tanks)
    return frozenset(kinds | {TURNING} if turns or "speed" in kinds else kinds)
