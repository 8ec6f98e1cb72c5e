"""`linewatch sheet …`: the shift's check sheet, what is found by hand, and its signature."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from linewatch.cli import sheet
from linewatch.cli.loads import Files
from linewatch.cli.record import Store
from linewatch.cli.saying import Who, initials, said


@sheet.default
def show(
    shift: str = "", *, to: Files = (), line: str | None = None, store: Store = None
) -> int:
    """Print the check sheet of a shift, or write it as a page: .html or .pdf.

    Args:
        shift: A time in it, "2026-03-29 14:00"; "last"; the present one if absent.
        to: Files to write instead; may be repeated.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.cli import paper
    from linewatch.cli.tables import clock
    from linewatch.core.pages import Shown
    from linewatch.wiring import sheets, viewer

    folder, line_id = viewer.choose(store, line)
    return paper.give(sheets.page(folder, line_id, shift, Shown("metric", clock)), to)


@sheet.command
def found(  # noqa: PLR0913 - one keyword an option
    subject: str,
    item: str,
    what: str = "good",
    *,
    bad: Annotated[bool, Parameter(negative=())] = False,
    who: Who = None,
    line: str | None = None,
    store: Store = None,
) -> int:
    """Write down what was found at a position, of what no signal tells.

    Args:
        subject: Number, name or id of the tank or rectifier, or of the line.
        item: What was looked at, in a word or words of the position's rows on the sheet:
            bags, "oil", clear; several as "bags,anodes". What is refused lists them.
        what: What was found; good if absent.
        bad: It is not as it should be.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.core.commands import LogCheck
    from linewatch.wiring import records, sheets, viewer
    from linewatch.wiring.meant import in_store

    asked = f"write down what {item} is at {subject}"
    where = in_store(store, line, subject, asked, ("tank", "rectifier", "line"))
    plan = records.plan_in_force(*viewer.choose(store, line))
    place = next(each for each in sheets.places(plan) if each.id == where)
    items = sheets.items_meant(place.kind, place.name, item)
    command = LogCheck(who=initials(who), subject=where, item=items, found=what, is_bad=bad)
    return said(store, line, command)


@sheet.command
def sign(
    *, note: str = "", who: Who = None, line: str | None = None, store: Store = None
) -> int:
    """Sign the sheet of this shift: what every signal reads now is written down with it.

    Args:
        note: Anything besides.
        who: Initials, for the record.
        line: Id of the line, if the store holds several.
        store: Folder of the record.
    """
    from linewatch.core.commands import SignSheet
    from linewatch.wiring import sheets, viewer

    blank = sheets.blank_now(*viewer.choose(store, line))
    left = "1 entry of it is" if blank == 1 else f"{blank} entries of it are"
    remark = f"{left} blank; see `linewatch sheet`" if blank else "nothing of it is blank"
    return said(store, line, SignSheet(who=initials(who), note=note), remark)
