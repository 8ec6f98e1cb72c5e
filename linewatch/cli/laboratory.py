"""`linewatch lab …`, `import-analyses`, `discharge …`: what was found, and what was let go."""

from __future__ import annotations

import time
from pathlib import Path

from linewatch.cli import app, discharge, duty, lab
from linewatch.cli.loads import Files
from linewatch.cli.record import Store
from linewatch.cli.saying import Who, initials, said
from linewatch.cli.typed import Number, Whole, at_least_one


@lab.command
def add(  # noqa: PLR0913 - one keyword an option
    subject: str,
    substance: str,
    value: Number,
    unit: str,
    *,
    sampled: str = "",
    method: str = "",
    sample: str = "",
    note: str = "",
    corrects: Whole | None = None,
    who: Who = None,
    line: str | None = None,
    store: Store = None,
) -> int:
    """Write down what was found in a bath or a treatment stage.

    Args:
        subject: Name or id of the bath, or of a tank.
        substance: What was looked for: Ni, "boric acid", CN.
        value: What was found.
        unit: Of the value: g/L, mg/L.
        sampled: When the sample was taken, "2026-03-29 06:30"; now if absent.
        method: How it was found.
        sample: Number of the sample.
        note: Anything besides; a correction says why.
        corrects: Number of the analysis that this one takes the place of.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.core.commands import LogAnalysis
    from linewatch.wiring import laboratory
    from linewatch.wiring.meant import in_store

    asked = f"write an analysis of {substance} in {subject}"
    taken_ns = laboratory.sampled(sampled)
    if corrects is not None:
        at_least_one("--corrects", corrects)
    command = LogAnalysis(
        who=initials(who),
        subject=in_store(store, line, subject, asked, ("bath", "tank")),
        substance=substance,
        value=value,
        unit=unit,
        sampled_utc_ns=taken_ns,
        method=method,
        sample=sample,
        note=note,
        corrects=corrects,
    )
    (remark,) = laboratory.remarks_on(store, line, command)
    return said(store, line, command, remark)


@app.command(name="import-analyses")
def import_analyses(
    file: Path, *, who: Who = None, line: str | None = None, store: Store = None
) -> int:
    """Take a laboratory's analyses from a CSV file; of a file with a fault nothing is taken.

    Args:
        file: Columns subject, substance, value, unit; and sampled, method, sample, note.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.wiring import laboratory, saying, viewer

    folder, line_id = viewer.choose(store, line)
    taken = laboratory.taken_by(folder, line_id, f"{file}")
    found = laboratory.read_file(file, initials(who), taken)
    remarks = laboratory.remarks_on(folder, line_id, *found)
    desk = viewer.open_desk(folder, line_id)
    refused = 0
    text = ""
    for command, remark in zip(found, remarks, strict=True):
        answer = saying.say(desk, command)
        text = answer.text
        if answer.done and remark:
            print(f"{command.subject}: {remark}")
        if not answer.done:
            refused += 1
            print(f"{command.subject} {command.substance} {command.value:g}: {answer.text}")
    print(
        f"{len(found) - refused} of {len(found)} analyses: {text if not refused else 'saved'}"
    )
    return 1 if refused else 0


@lab.command
def due(*, line: str | None = None, store: Store = None) -> int:
    """Print what the laboratory looks for: overdue, due as never analysed, due later.

    Args:
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.cli.tables import clock, names_of
    from linewatch.wiring import laboratory, viewer

    folder, line_id = viewer.choose(store, line)
    called = names_of(viewer.open_desk(folder, line_id))
    for each in laboratory.due_list(folder, line_id):
        last = each.last
        told = "never analysed"
        if last is not None:
            told = f"{last.value:g} {last.unit} {last.verdict} on {clock(last.sampled_utc_ns)}"
        when = "due now" if each.is_now else ""
        if each.due_utc_ns is not None and (each.is_late or not each.is_now):
            when = f"{'OVERDUE since' if each.is_late else 'due'} {clock(each.due_utc_ns)}"
        subject = called.get(each.subject, each.subject)
        print(f"{subject:<28} {each.substance:<16} {told:<44} {when}".rstrip())
    return 0


@lab.command
def estimate(bath: str, *, line: str | None = None, store: Store = None) -> int:
    """Offer a bath's efficiency and drag-out anew, by its analyses; nothing is applied.

    Args:
        bath: Name or id of the bath.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.wiring import laboratory, viewer
    from linewatch.wiring.meant import in_store

    which = in_store(store, line, bath, f"estimate {bath}", ("bath",))
    print(laboratory.offer(*viewer.choose(store, line), which))
    return 0


@lab.command
def show(
    subject: str,
    substance: str,
    *,
    to: Files = (),
    line: str | None = None,
    store: Store = None,
) -> int:
    """Print the control chart of a substance in a bath, or write it as a page.

    Args:
        subject: Name or id of the bath, or of a tank.
        substance: What was looked for.
        to: Files to write instead: .html or .pdf; may be repeated.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.cli import paper
    from linewatch.cli.tables import clock, names_of
    from linewatch.core.laboratory.page import chart_page
    from linewatch.core.pages import Shown
    from linewatch.wiring import laboratory, viewer
    from linewatch.wiring.meant import in_store

    asked = f"show the chart of {substance} in {subject}"
    where = in_store(store, line, subject, asked, ("bath", "tank"))
    folder, line_id = viewer.choose(store, line)
    found = laboratory.found_of(folder, line_id, where, substance)
    named = names_of(viewer.open_desk(folder, line_id)).get(where, where)
    page = chart_page(found, f"{substance} in {named}", Shown("metric", clock))
    return paper.give(page, to)


@discharge.command
def day(
    when: str = "today",
    *,
    tank: str = "",
    to: Files = (),
    line: str | None = None,
    store: Store = None,
) -> int:
    """Print the inspector's page of a day, or write it: .html or .pdf.

    Args:
        when: The day: 2026-03-29, today or yesterday.
        tank: Where water leaves, if there are several places: number, name or id.
        to: Files to write instead; may be repeated.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.cli import paper
    from linewatch.cli.tables import clock
    from linewatch.core.pages import Shown
    from linewatch.wiring import viewer, water
    from linewatch.wiring.meant import in_store

    folder, line_id = viewer.choose(store, line)
    picture = viewer.open_desk(folder, line_id).picture()
    # A line at another speed has a calendar of its own: its today is meant.
    is_fast = picture is not None and picture.speed != 1.0
    now_ns = picture.utc_ns if picture is not None and is_fast else time.time_ns()
    wanted = water.day_of(when, now_ns / 1e9)
    if tank:
        tank = in_store(folder, line_id, tank, f"look at the discharge {tank}", ("tank",))
    return paper.give(water.page(folder, line_id, tank, wanted, Shown("metric", clock)), to)


@discharge.command
def now(*, line: str | None = None, store: Store = None) -> int:
    """Say whether water may be let go now, as signals and analyses tell, and if not, why.

    Args:
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.ui.draw.unmeasured import WATER, unmeasured_words
    from linewatch.wiring import viewer

    desk = viewer.open_desk(*viewer.choose(store, line))
    picture = desk.picture()
    places = [tank for tank in picture.tanks if tank.permit] if picture is not None else []
    if not desk.alive():
        print("no collector runs: nobody knows")
        return 1
    if not places:
        print("no tank of the configuration states a permit: [tank.permit.ph]")
        return 1
    for tank in places:
        print(f"{tank.name}: {tank.permit}")
        for reason in tank.permit_reasons:
            print(f"  {reason}")
        for unknown in tank.permit_unknown:
            print(f"  {unknown}")
    print(f"{unmeasured_words(WATER)} Your permit governs.")
    return 1 if any(tank.permit_reasons for tank in places) else 0


@duty.command(name="list")
def list_(*, line: str | None = None, store: Store = None) -> int:
    """Print what is due from time to time, the next first.

    Args:
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.cli.tables import clock
    from linewatch.wiring import viewer

    picture = viewer.open_desk(*viewer.choose(store, line)).picture()
    if picture is None:
        return 0
    for each in sorted(picture.duties, key=lambda each: each.haste(picture)):
        late = each.is_late(picture)
        when = "" if each.due_utc_ns is None else clock(each.due_utc_ns)
        last = "never seen done" if each.done_utc_ns is None else ""
        if each.was_never_analysed:
            when, last = when if late else "now", "never analysed"
        last = last or f"done {clock(each.done_utc_ns or 0)}"
        print(f"{'OVERDUE' if late else 'due':<8} {when:<20} {each.id:<34} {each.text}; {last}")
    return 0


@duty.command
def done(
    name: str,
    *,
    note: str = "",
    who: Who = None,
    line: str | None = None,
    store: Store = None,
) -> int:
    """Say that something that is due from time to time was done.

    Args:
        name: Id or text of the duty.
        note: Anything besides.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.core.commands import DoDuty
    from linewatch.wiring.meant import in_store

    which = in_store(store, line, name, f"say that {name} was done", ("duty",))
    command = DoDuty(who=initials(who), duty=which, note=note)
    return said(store, line, command)
