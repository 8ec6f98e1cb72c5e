"""`linewatch load …`: what each load received, and what people say about loads."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from linewatch.cli import load
from linewatch.cli.check import Json
from linewatch.cli.record import Store
from linewatch.cli.saying import Who, initials, said
from linewatch.cli.typed import Number, Whole, at_least_one
from linewatch.core.errors import Refused

if TYPE_CHECKING:
    from linewatch.core.loads.record import LoadRecord

NO_NUMBER = "no number"
_UNNUMBERED = re.compile(r".+-\d{9,}")
Files = Annotated[tuple[Path, ...], Parameter(name="--to", negative=())]


@load.command(name="list")
def list_(
    *, count: Whole = 20, line: str | None = None, store: Store = None, json_: Json = False
) -> int:
    """Print the loads that were told of last, the latest first.

    Args:
        count: How many.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
        json_: Print as JSON.
    """
    from linewatch.wiring import loads, viewer

    folder, line_id = viewer.choose(store, line)
    desk = viewer.open_desk(folder, line_id)
    found = loads.records_of(desk, at_least_one("--count", count))
    if json_:
        print(json.dumps([dataclasses.asdict(each) for each in found], indent=1))
        return 0
    numbers = max((len(number_words(each.number)) for each in found), default=0)
    parts = max((len(each.part) for each in found), default=0)
    number, part = max(numbers + 2, 12), max(parts + 2, 16)
    places = loads.places_of(desk, found)
    place = max((len(each) for each in places), default=0)
    widths = number, part, max(place + 2, 24)
    heads = f"{'load':<{number}}{'part':<{part}}{'seen last in':<{widths[2]}}{'odd':>4}"
    print(f"{heads}  layers, decision")
    for each, where in zip(found, places, strict=True):
        print(_row(each, where, widths))
    return 0


def number_words(number: str) -> str:
    """Return a load's number; 'no number', as on the screen, where nothing tells it.

    The record names such a load by its track and the second in which it came.
    """
    return NO_NUMBER if _UNNUMBERED.fullmatch(number) else number


def _row(record: LoadRecord, where: str, widths: tuple[int, int, int]) -> str:
    layers = [
        f"{layer.deposit} {layer.thickness_um:.2f} ± {layer.thickness_pm_um or 0.0:.2f} µm"
        if layer.thickness_um is not None
        else f"{layer.deposit} {layer.not_known}"
        for layer in record.layers
    ]
    told = ", ".join([*layers, *([record.decision] if record.decision else [])])
    shown = number_words(record.number)
    if shown != record.number:
        told = f"{told}  (recorded as {record.number})".strip()
    number, part = f"{shown:<{widths[0]}}", f"{record.part:<{widths[1]}}"
    return f"{number}{part}{where:<{widths[2]}}{record.oddities:>4}  {told}"


@load.command
def show(
    number: str,
    *,
    to: Files = (),
    trip: Whole | None = None,
    line: str | None = None,
    store: Store = None,
    json_: Json = False,
) -> int:
    """Print a load's record, or write it as a page: .html or .pdf.

    Args:
        number: Of the load.
        to: Files to write instead, by their endings; may be repeated.
        trip: Which of the loads of this number; the latest if absent.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
        json_: Print as JSON.
    """
    from linewatch.cli import paper
    from linewatch.cli.tables import clock
    from linewatch.core.loads.page import load_page
    from linewatch.core.pages import Shown
    from linewatch.wiring import loads, viewer

    folder, line_id = viewer.choose(store, line)
    desk = viewer.open_desk(folder, line_id)
    record = loads.record_of(desk, number, trip)
    picture = desk.picture()
    present = None
    if picture is not None and record.trip >= record.trips:
        present = picture.present(number)
    if json_:
        told = dataclasses.asdict(record)
        told["present"] = dataclasses.asdict(present) if present is not None else None
        print(json.dumps(told, indent=1))
        return 0
    name = picture.name if picture is not None else line_id
    system = picture.units if picture is not None else "metric"
    page = load_page(record, name, Shown(system, clock), present)
    return paper.give(page, to)


@load.command
def card(  # noqa: PLR0913 - one keyword an option
    number: str,
    *,
    part: str = "",
    amount: Number | None = None,
    area: str = "",
    lot: str = "",
    reference: str = "",
    rework_of: str = "",
    why: str = "",
    who: Who = None,
    line: str | None = None,
    store: Store = None,
) -> int:
    """Write a load's card, or correct it: what it is, how much, for whom.

    Args:
        number: Of the load.
        part: Id or name of a part of the catalogue, or a name of its own.
        amount: Pieces of a rack, kilograms of a barrel.
        area: The load's whole area, where it is known better: "240 dm2".
        lot: The lot.
        reference: The customer's reference.
        rework_of: Number of the load that these parts were before.
        why: The reason; a correction needs one.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.core.commands import LoadCard
    from linewatch.wiring import load_remarks, loads, records, viewer

    command = LoadCard(
        who=initials(who),
        load=number,
        part=part,
        amount=amount,
        area_dm2=loads.square_decimetres(area),
        lot=lot,
        reference=reference,
        rework_of=rework_of,
        why=why,
    )
    remark = ""
    if part:
        plan = records.plan_in_force(*viewer.choose(store, line))
        remark = load_remarks.part_remark(plan, part)
    return said(store, line, command, remark)


@load.command
def place(  # noqa: PLR0913 - one keyword an option
    number: str,
    tank: str,
    *,
    out: Annotated[bool, Parameter(negative=())] = False,
    why: str = "",
    who: Who = None,
    line: str | None = None,
    store: Store = None,
) -> int:
    """Say which load a tank holds, where no signal tells it, or tells it wrongly.

    Args:
        number: Of the load.
        tank: Number, name or id of the tank.
        out: It was lifted out.
        why: The reason; a correction needs one.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.core.commands import PlaceLoad
    from linewatch.wiring.meant import in_store

    where = in_store(store, line, tank, f"place load {number}", ("tank",))
    command = PlaceLoad(who=initials(who), load=number, tank=where, is_in=not out, why=why)
    return said(store, line, command)


@load.command
def bake(
    number: str,
    oven: str = "",
    *,
    out: Annotated[bool, Parameter(negative=())] = False,
    who: Who = None,
    line: str | None = None,
    store: Store = None,
) -> int:
    """Say that a load went into an oven, or came out: the oven's thermometers count.

    Args:
        number: Of the load.
        oven: Number, name or id of the oven.
        out: It came out.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.core.commands import BakeLoad
    from linewatch.wiring import load_remarks, viewer
    from linewatch.wiring.meant import in_store

    if oven:
        oven = in_store(store, line, oven, f"bake load {number}", ("tank",))
    command = BakeLoad(who=initials(who), load=number, oven=oven, is_in=not out)
    desk = viewer.open_desk(*viewer.choose(store, line))
    remark = "" if out else load_remarks.bake_remark(desk, number)
    return said(store, line, command, remark)


@load.command
def found(  # noqa: PLR0913 - one keyword an option
    number: str,
    what: str,
    result: str,
    *,
    place: str = "",
    who: Who = None,
    line: str | None = None,
    store: Store = None,
) -> int:
    """Note what was found on a load: a thickness, adhesion, salt spray hours, appearance.

    Args:
        number: Of the load.
        what: What was looked at: "thickness Ni", adhesion, "salt spray", hardness, appearance.
        result: What was found, with its unit: "8.4 um", good, "96 h".
        place: Where on the part or rack.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.core.commands import InspectLoad
    from linewatch.core.loads.findings import check_finding
    from linewatch.wiring import load_remarks, viewer

    check_finding(number, what, result)
    load_remarks.check_measured(number, what, result)
    command = InspectLoad(who=initials(who), load=number, what=what, found=result, place=place)
    desk = viewer.open_desk(*viewer.choose(store, line))
    return said(store, line, command, load_remarks.finding_remark(desk, number, what))


@load.command
def decide(
    number: str,
    decision: str,
    *,
    why: str,
    who: Who = None,
    line: str | None = None,
    store: Store = None,
) -> int:
    """Decide what becomes of a load: held, released, rework or scrap.

    Args:
        number: Of the load.
        decision: held, released, rework or scrap.
        why: The reason.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.core.commands import DecideLoad
    from linewatch.core.line.load_acts import DECISIONS
    from linewatch.wiring import loads, viewer

    if decision not in DECISIONS:
        raise Refused(
            f"decide about load {number}",
            f"{decision!r} is no decision; write one of {', '.join(DECISIONS)}",
        )
    command = DecideLoad(who=initials(who), load=number, decision=decision, why=why)
    desk = viewer.open_desk(*viewer.choose(store, line))
    against = "; ".join(loads.objections_to(desk, number, decision))
    return said(store, line, command, against)
