"""Analyses from a file, what of them stands in the record, and what is due."""

from __future__ import annotations

import csv
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

from linewatch.config.text import text_of
from linewatch.core import units
from linewatch.core.alarms.wording import called
from linewatch.core.commands import LogAnalysis
from linewatch.core.errors import ConfigurationFaulty, Refused
from linewatch.core.events import EventKind
from linewatch.core.laboratory.analyses import Analysis, analyses
from linewatch.core.laboratory.estimates import estimate, intervals
from linewatch.core.laboratory.taken import place_of, remarks
from linewatch.wiring import records, viewer
from linewatch.wiring.meant import meant, things
from linewatch.wiring.records import FOR_EVER, MOST_EVENTS

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from linewatch.core.ports import Desk

Taken: TypeAlias = Callable[[LogAnalysis], LogAnalysis]
COLUMNS = ("subject", "substance", "value", "unit")
MAY_BE = ("sampled", "method", "sample", "note")


def read_file(path: Path, who: str, taken: Taken | None = None) -> list[LogAnalysis]:
    """Return the analyses of a CSV file; nothing is taken of a file with a fault.

    The first row names the columns: subject, substance, value, unit, and as far as wanted
    sampled (2026-03-29 06:30, by this machine's clock), method, sample, note. Columns are
    separated by commas, semicolons or tabs.

    Args:
        path: The file.
        who: Initials, for the record.
        taken: Says of each analysis how the line takes it, or refuses it.

    Raises:
        ConfigurationFaulty: every fault with its row.
    """
    lines = text_of(path).splitlines()
    rows = csv.DictReader(lines, delimiter=max(",;\t", key=(lines or [""])[0].count))
    heads = [head.strip().lower() for head in rows.fieldnames or ()]
    missing = [each for each in COLUMNS if each not in heads]
    if missing:
        wanted = (
            f"its first row lacks {', '.join(missing)}; it may have {', '.join(MAY_BE)} too"
        )
        raise ConfigurationFaulty(str(path), (wanted,))
    rows.fieldnames = heads
    found, faults = [], []
    try:
        for row in rows:
            try:
                analysis = _analysis(_cells(row), who)
                found.append(analysis if taken is None else taken(analysis))
            except Refused as refused:
                faults.append(f"row {rows.line_num}: {refused.reason}")
            except ValueError as error:
                faults.append(f"row {rows.line_num}: {error}")
    except csv.Error as error:
        faults.append(f"row {rows.line_num}: {error}; see that its quotes are closed")
    if faults:
        raise ConfigurationFaulty(str(path), tuple(faults))
    return found


def _cells(row: dict[str | None, str | list[str] | None]) -> dict[str, str]:
    """Return the cells of a row by the heads of their columns.

    Raises:
        ValueError: it has more cells than there are heads, so nobody can tell which is which.
    """
    if None in row:
        raise ValueError(
            "it has more cells than the first row; a comma within a cell needs quotes"
        )
    return {str(key): str(value or "").strip() for key, value in row.items()}


def taken_by(store: Path, line_id: str, doing: str) -> Taken:
    """Return what says how a line takes an analysis: of which bath, and whether at all.

    Raises:
        StoreUnusable: there is no such line, or it has no picture yet.
    """
    among = list(things(viewer.picture_in(store, line_id)))
    plan = records.plan_in_force(store, line_id)

    def taken(analysis: LogAnalysis) -> LogAnalysis:
        subject = meant(among, analysis.subject, doing, ("bath", "tank"))
        placed = replace(analysis, subject=subject)
        remarks(plan, placed)
        return placed

    return taken


def _analysis(cells: dict[str, str], who: str) -> LogAnalysis:
    return LogAnalysis(
        who=who,
        subject=cells["subject"],
        substance=cells["substance"],
        value=units.number(cells["value"]),
        unit=cells["unit"],
        sampled_utc_ns=sampled(cells.get("sampled", "")),
        method=cells.get("method", ""),
        sample=cells.get("sample", ""),
        note=cells.get("note", ""),
    )


def sampled(text: str) -> int | None:
    """Return a wall time [ns since 1970] as a person writes it; None for ''.

    Raises:
        UnitMismatch: it is none.
    """
    begin, _ = records.span((text, ""), time.time_ns)
    return begin


def remarks_on(
    store: Path | None, line_id: str | None, *commands: LogAnalysis
) -> tuple[str, ...]:
    """Return what is told of each analysis: whose it is, and how it stands to its limits.

    Raises:
        Refused: nobody knows its unit, or its limits are of another kind.
        StoreUnusable: there is no such line, or it has no picture yet.
    """
    plan = records.plan_in_force(*viewer.choose(store, line_id))
    return tuple(remarks(plan, command) for command in commands)


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One thing that the laboratory looks for."""

    subject: str
    substance: str
    last: Analysis | None
    due_utc_ns: int | None
    """From when on it is overdue; None: when somebody wants to know."""
    is_late: bool
    is_now: bool
    """It was never analysed: it is due at once."""


def analysed(desk: Desk, subjects: Collection[str]) -> list[Analysis]:
    """Return every analysis of some baths and tanks."""
    told = desk.happened(subjects, FOR_EVER, MOST_EVENTS, (EventKind.ANALYSIS,))
    return analyses(each.event for each in told)


def found_in(store: Path, line_id: str) -> list[Analysis]:
    """Return every analysis of a line."""
    plan = records.plan_in_force(store, line_id)
    return analysed(viewer.open_desk(store, line_id), plan.subjects)


def found_of(store: Path, line_id: str, subject: str, substance: str) -> list[Analysis]:
    """Return every analysis of one substance in a bath or tank, oldest first.

    Raises:
        Refused: it was never looked for there.
    """
    plan = records.plan_in_force(store, line_id)
    subject, substance = place_of(plan, subject, substance)
    # What was written down for a tank before its bath was asked is its bath's all the same.
    placed = [
        (each, *place_of(plan, each.subject, each.substance))
        for each in found_in(store, line_id)
    ]
    there = [(each, known_as) for each, place, known_as in placed if place == subject]
    wanted = substance.casefold()
    found = [each for each, known_as in there if known_as.casefold() == wanted]
    known = dict.fromkeys(each.substance for each, _ in there)
    known |= {
        assay.substance: None
        for name, assays in plan.assays()
        for assay in assays
        if name == subject
    }
    if not found and wanted not in {each.casefold() for each in known}:
        told = ", ".join(known) or "nothing is looked for there"
        raise Refused(
            f"show the chart of {substance} in {called(plan, subject)}",
            f"{substance!r} was never analysed there; the nearest: {told}",
        )
    return found


def due_list(store: Path, line_id: str) -> list[Due]:
    """Return what the laboratory looks for, what is due first before the others.

    What is due, and late, is what the line's own list of duties says, by the line's clock.
    """
    plan = records.plan_in_force(store, line_id)
    desk = viewer.open_desk(store, line_id)
    picture = desk.picture()
    told = {each.id: each for each in picture.duties} if picture is not None else {}
    duties = {
        (each.subject, each.substance.casefold()): told.get(each.id)
        for each in plan.duties
        if each.substance
    }
    last = {}
    for each in analysed(desk, plan.subjects):
        place, substance = place_of(plan, each.subject, each.substance)
        last[place, substance.casefold()] = each
    rows = []
    for name, assays in plan.assays():
        for assay in assays:
            which = (name, assay.substance.casefold())
            duty = duties.get(which)
            due_ns = duty.due_utc_ns if duty is not None else None
            rows.append(
                Due(
                    subject=name,
                    substance=assay.substance,
                    last=last.get(which),
                    due_utc_ns=due_ns,
                    is_late=picture is not None and duty is not None and duty.is_late(picture),
                    is_now=duty is not None and duty.was_never_analysed,
                )
            )
    return sorted(
        rows, key=lambda row: (not row.is_late, not row.is_now, row.due_utc_ns or 2**62)
    )


def offer(store: Path, line_id: str, bath: str) -> str:
    """Return in words what the analyses of a bath say of its efficiency and drag-out.

    Raises:
        Refused: they say nothing, or there is no such bath.
    """
    plan = records.plan_in_force(store, line_id)
    which = next((each for each in plan.baths if each.id == bath), None)
    if which is None or which.deposit is None:
        raise Refused(f"estimate {bath}", "there is no bath of this id that lays down metal")
    told = viewer.open_desk(store, line_id).happened(
        {bath}, FOR_EVER, MOST_EVENTS, (EventKind.ANALYSIS,)
    )
    found = estimate(intervals((each.event for each in told), bath))
    value = which.deposit.efficiency.value
    drag = which.drag_out_ml_per_m2
    rows = [
        f"{which.name}, by {found.analyses} analyses; offered, nothing is changed:",
        (
            f"  cathode efficiency {100 * value * found.laid_factor:.2f}"
            f" ± {100 * value * found.laid_pm:.2f} %, configured {100 * value:g} %"
        ),
    ]
    if drag is not None:
        rows.append(
            f"  drag-out {drag * found.carried_factor:.1f} ± {drag * found.carried_pm:.1f}"
            f" mL/m2, configured {drag:g} mL/m2"
        )
    rows.append("  ± at 95 %, analyses taken as equally sure; anode efficiency as configured")
    return "\n".join(rows)
