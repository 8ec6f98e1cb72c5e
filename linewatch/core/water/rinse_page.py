"""Rinses as pages: all of them at a glance, and one with the loads that went through it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.pages import Page, Shown, Table
from linewatch.core.water.rinse_record import by_kind
from linewatch.core.water.rinsing import ASSUMED
from linewatch.core.water.seen import LOADS_MEANT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.water.rinse_record import Carried
    from linewatch.core.water.seen import LevelPicture, RinsePicture


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What pages have to know of the line."""

    name: str
    utc_ns: int
    names: Mapping[str, str]
    """Names of tanks by id, with what is painted on them before it."""


DIFFER_RATIO = 0.3
"""Decay and meter that differ by more, besides the ±, speak of a dead corner or of the meter.
Common practice."""
CAUTIONS = (
    f"Assumed: {ASSUMED}.",
    (
        "Water that a limit does not need may be saved; more water is no treatment. A second"
        " counterflow stage saves more than any valve. ± is the middle and half the width of"
        " what is possible."
    ),
)
MOST_LOADS = 20
NOT_KNOWN = "not known"


def pm(value: float | None, doubt: float | None, digits: int = 0) -> str:
    """Return a figure with its ±; '' for none."""
    if value is None:
        return ""
    tail = f" ± {doubt:.{digits}f}" if doubt is not None else ""
    return f"{value:z.{digits}f}{tail}"


def carried_words(rinse: RinsePicture) -> str:
    """Return what a load carries in; 'not known' where loads came and none told it."""
    told = pm(rinse.film_ml, rinse.film_pm_ml)
    return told or (NOT_KNOWN if rinse.untold else "")


def water_words(rinse: RinsePicture) -> str:
    """Return in words what water a rinse needs, against what it gets."""
    flow, needed = rinse.flow_l_per_min, rinse.needed_l_per_min
    if flow is None:
        flow = rinse.decay_flow_l_per_min
    known = (rinse.limit_us, rinse.feed_us, rinse.interval_s, rinse.dwell_s, rinse.step_us)
    if None in known:
        return ""
    if needed is None:
        return "no water keeps it under its limit"
    if flow is None:
        return f"needs {needed:.1f} L/min"
    if flow >= needed and rinse.is_beyond:
        # What loads bring does not need more: something else dirtied it, and is not out yet.
        return "enough for what loads bring; something else keeps it above its limit"
    if flow >= needed:
        return f"{60.0 * (flow - needed):.0f} L/h may be saved"
    return f"needs {needed - flow:.1f} L/min more"


def verdict(rinse: RinsePicture) -> str:
    """Return in words what is odd about a rinse; '' for nothing."""
    said = []
    if rinse.beyond:
        said.append(f"{rinse.beyond} of {rinse.loads} loads left it above its limit")
    flow, decay = rinse.flow_l_per_min, rinse.decay_flow_l_per_min
    if flow and decay is not None:
        apart = abs(decay - flow) - (rinse.decay_flow_pm_l_per_min or 0.0)
        if apart > DIFFER_RATIO * flow:
            said.append(f"clears as by {decay:.1f} L/min: a dead corner, or the meter")
    if rinse.ratio is not None and rinse.ratio <= 1.0:
        said.append("no dirtier than the stage after it: water runs the wrong way, or past it")
    return "; ".join(said)


def rinses_page(
    line: Line, rinses: Sequence[RinsePicture], levels: Sequence[LevelPicture], show: Shown
) -> Page:
    """Return all rinses and levels at a glance.

    Args:
        line: The line.
        rinses: Every rinse.
        levels: Every level.
        show: The reader's units and clock.
    """
    names = line.names
    return Page(
        title=f"Rinses and levels: {line.name}",
        below=(
            show.clock(line.utc_ns),
            "Means of the last ten loads whose step was told, or of as many as there were.",
        ),
        tables=(
            Table(
                heading="What loads carry in, and the water that it takes",
                columns=(
                    "rinse",
                    "after",
                    "loads",
                    "step µS/cm",
                    "leaves at",
                    "limit",
                    "mL a load",
                    "mL/m2",
                    "gets L/min",
                    "by decay",
                    "needs",
                    "",
                ),
                rows=tuple(_row(each, names) for each in rinses),
                numbers=frozenset({2, 3, 4, 5, 6, 7, 8, 9, 10}),
                empty="no rinse has a probe of conductivity and a volume",
                widths=(2, 1.6, 0.7, 0.9, 1, 0.9, 1.3, 1.2, 0.9, 1.2, 1, 2.4),
            ),
            levels_table(levels, names),
            _oddities(rinses, names),
        ),
        small=CAUTIONS,
    )


def _row(rinse: RinsePicture, names: Mapping[str, str]) -> tuple[str, ...]:
    return (
        names.get(rinse.tank, rinse.tank),
        names.get(rinse.source, rinse.source),
        str(min(rinse.loads - rinse.untold, LOADS_MEANT)),
        us(rinse.step_us),
        us(rinse.exit_us),
        us(rinse.limit_us),
        carried_words(rinse),
        pm(rinse.film_ml_per_m2, rinse.film_pm_ml_per_m2),
        pm(rinse.flow_l_per_min, None, 1),
        pm(rinse.decay_flow_l_per_min, rinse.decay_flow_pm_l_per_min, 1),
        pm(rinse.needed_l_per_min, None, 1),
        water_words(rinse),
    )


def us(value: float | None) -> str:
    """Return a conductivity [µS/cm] with the digits that tell something; '' for none."""
    if value is None:
        return ""
    return f"{value:.0f}" if abs(value) >= 10.0 else f"{value:.2f}"  # noqa: PLR2004 - readable


def _oddities(rinses: Sequence[RinsePicture], names: Mapping[str, str]) -> Table:
    rows = []
    for each in rinses:
        said = [part for part in (verdict(each), each.untold_words, *each.missing) if part]
        rows += [(names.get(each.tank, each.tank), part) for part in said]
    return Table(heading="To look at, and what is missing", rows=tuple(rows), widths=(1, 5))


def levels_table(levels: Sequence[LevelPicture], names: Mapping[str, str]) -> Table:
    """Return where the water of each tank goes, by its level."""
    rows = tuple(
        (
            names.get(each.tank, each.tank),
            pm(each.evaporates_l_per_h, None, 1),
            pm(each.falls_l_per_h, None, 1),
            pm(each.usual_l_per_h, None, 1),
            pm(each.topped_up_l_per_h, None, 1),
            pm(each.dragged_l_per_h, None, 1),
            leak_words(each),
            room_words(each),
        )
        for each in levels
    )
    return Table(
        heading="Levels [L/h]",
        columns=(
            "tank",
            "evaporates",
            "falls",
            "usually",
            "topped up",
            "dragged out",
            "leak",
            "room for rinse water",
        ),
        rows=rows,
        numbers=frozenset({1, 2, 3, 4, 5}),
        widths=(2, 1.2, 1, 1, 1.2, 1.3, 1.5, 2.5),
    )


def leak_words(level: LevelPicture) -> str:
    """Return in words whether a tank loses more than usual."""
    if level.leaks_l_per_h is None:
        return level.leaks_unknown or "not learned yet"
    if level.leaks_l_per_h <= 0.0:
        return "none seen"
    return f"{level.leaks_l_per_h:.1f} more than usual"


def room_words(level: LevelPicture) -> str:
    """Return in words how much of a rinse may come back into its bath."""
    if level.room_l_per_h is None:
        return ""
    share = level.returns_ratio
    tail = f", {100.0 * share:.0f} % of the drag-out" if share is not None else ""
    return f"{level.room_l_per_h:.1f}{tail}"


def rinse_page(line: Line, rinse: RinsePicture, loads: Sequence[Carried], show: Shown) -> Page:
    """Return one rinse with the loads that went through it.

    Args:
        line: The line.
        rinse: The rinse.
        loads: What was told of loads in it, oldest first.
        show: The reader's units and clock.
    """
    names = line.names
    return Page(
        title=f"{names.get(rinse.tank, rinse.tank)}: {line.name}",
        below=tuple(part for part in (show.clock(line.utc_ns), verdict(rinse)) if part),
        tables=(
            Table(heading=f"By {rinse.over_loads}", rows=tuple(facts(rinse, names))),
            _kinds(loads),
            _loads(loads, show),
        ),
        small=CAUTIONS,
    )


def facts(rinse: RinsePicture, names: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return what is known of a rinse, a label and words each."""
    source = names.get(rinse.source, rinse.source)
    conducts = f"{rinse.source_us:.0f} µS/cm, {rinse.source_from}" if rinse.source_us else ""
    stage = names.get(rinse.next_stage, rinse.next_stage)
    ratio = f"{rinse.ratio:.1f} times as dirty as {stage}" if rinse.ratio is not None else ""
    if ratio and rinse.theory_ratio is not None:
        ratio += f"; by water over drag-out {rinse.theory_ratio:.1f}"
    decay = pm(rinse.decay_flow_l_per_min, rinse.decay_flow_pm_l_per_min, 1)
    rows = [
        ("comes from", f"{source}: {conducts}" if conducts else source),
        ("a load adds", f"{us(rinse.step_us)} µS/cm" if rinse.step_us is not None else ""),
        ("carried in", _with(pm(rinse.film_ml, rinse.film_pm_ml), "mL a load")),
        ("by area", _with(pm(rinse.film_ml_per_m2, rinse.film_pm_ml_per_m2), "mL/m2")),
        ("leave it at", _leaves(rinse)),
        ("every", _with(pm(_minutes(rinse.interval_s), None, 1), "min")),
        ("its water", _with(us(rinse.feed_us), "µS/cm")),
        ("clears within", _with(pm(_minutes(rinse.decay_s), None, 0), "min to 37 %")),
        ("metered", _with(pm(rinse.flow_l_per_min, None, 1), "L/min")),
        ("by its decay", _with(decay, "L/min")),
        ("water needed", _with(pm(rinse.needed_l_per_min, None, 1), "L/min at its limit")),
        ("", water_words(rinse)),
        ("two stages", _with(pm(rinse.staged_l_per_min, None, 2), "L/min for the same")),
        ("counterflow", ratio),
    ]
    missing = [("missing", each) for each in rinse.missing]
    return [each for each in [*rows, ("not known", rinse.untold_words)] if each[1]] + missing


def _with(text: str, unit: str) -> str:
    return f"{text} {unit}" if text else ""


def _minutes(seconds: float | None) -> float | None:
    return None if seconds is None else seconds / 60.0


def _leaves(rinse: RinsePicture) -> str:
    if rinse.exit_us is None:
        return ""
    limit = f", at most {rinse.limit_us:.0f}" if rinse.limit_us is not None else ""
    return f"{us(rinse.exit_us)} µS/cm{limit}"


def _kinds(loads: Sequence[Carried]) -> Table:
    return Table(
        heading="By kind of load",
        columns=("load", "loads", "step µS/cm", "mL", "mL/m2"),
        rows=tuple(
            (
                each.name,
                str(each.loads),
                us(each.step_us),
                pm(each.film_ml, each.film_pm_ml),
                pm(each.film_ml_per_m2, each.film_pm_ml_per_m2),
            )
            for each in by_kind(loads)
        ),
        numbers=frozenset({1, 2, 3, 4}),
        widths=(3, 1, 1, 1.5, 1.5),
    )


def _step(each: Carried) -> str:
    """Return a step with its ±, where that is as large as a digit of it."""
    step = us(each.step_us)
    digits = len(step.partition(".")[2])
    is_seen = round(each.step_pm_us, digits) > 0.0
    return f"{step} ± {each.step_pm_us:.{digits}f}" if is_seen else step


def _loads(loads: Sequence[Carried], show: Shown) -> Table:
    return Table(
        heading="The last loads",
        columns=("came", "load", "part", "step µS/cm", "mL", "mL/m2", "left at", "water L", ""),
        rows=tuple(
            (
                show.clock(each.came_utc_ns),
                each.load,
                each.part,
                NOT_KNOWN if each.why else _step(each),
                pm(each.film_ml, each.film_pm_ml),
                pm(each.film_ml_per_m2, each.film_pm_ml_per_m2),
                us(each.exit_us) + (" !" if each.is_beyond else ""),
                f"{each.water_l:.0f}" + (" +?" if each.unknown_s > 1.0 else ""),
                each.why,
            )
            for each in loads[-MOST_LOADS:]
        ),
        numbers=frozenset({3, 4, 5, 6, 7}),
        empty="nothing was told of a load in it yet",
        widths=(2, 1, 1.5, 1.4, 1.4, 1.4, 1, 1, 2.2),
    )
