"""The inspector's page of any recorded day, and whether water may be let go now."""

from __future__ import annotations

import calendar
import datetime
import math
import time
from typing import TYPE_CHECKING

from linewatch.core.errors import Refused
from linewatch.core.events import EventKind
from linewatch.core.water.page import Day, inspectors_page
from linewatch.history.zones import FIRST_YEAR, LAST_YEAR
from linewatch.wiring import records, viewer
from linewatch.wiring.days import midnight

if TYPE_CHECKING:
    from pathlib import Path

    from linewatch.core.pages import Page, Shown
    from linewatch.core.plan import LinePlan, TankPlan

NS = 1_000_000_000
MOST_EVENTS = 500_000
KINDS = (
    EventKind.DISCHARGE,
    EventKind.ANALYSIS,
    EventKind.ALARM,
    EventKind.COMMAND,
    EventKind.NOTE,
)


def day_of(text: str, now_s: float) -> Day:
    """Return a day by its name, in this machine's time zone.

    Args:
        text: "2026-03-29", "today", "yesterday".
        now_s: The present [s since 1970].

    Raises:
        Refused: it is no day.
    """
    asked = f"show the day {text}"
    today = datetime.datetime.fromtimestamp(now_s).date()  # noqa: DTZ006
    words = {"today": today, "yesterday": today - datetime.timedelta(days=1)}
    try:
        day = words.get(text.strip().lower()) or datetime.date.fromisoformat(text.strip())
    except ValueError:
        raise Refused(asked, "write it as 2026-03-29, today or yesterday") from None
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise Refused(asked, f"years from {FIRST_YEAR} to {LAST_YEAR} can be recorded")
    begin, end = midnight(day), midnight(day + datetime.timedelta(days=1))
    hours = round((end - begin) / NS / 3600.0)
    return Day(
        title=day.isoformat(),
        day=day.day,
        month_days=calendar.monthrange(day.year, day.month)[1],
        hours=hours,
        span=(begin, end),
        month=(midnight(day.replace(day=1)), end),
        day_of=lambda utc_ns: time.localtime(utc_ns / NS).tm_mday,
        to_come=max(0, min(math.ceil((end / NS - now_s) / 3600.0), hours)),
    )


def place(plan: LinePlan, name: str) -> TankPlan:
    """Return a place where water leaves by its id; the only one for ''.

    Raises:
        Refused: there is none, or several could be meant.
    """
    places = [tank for tank in plan.tanks if tank.permit]
    asked = f"look at the discharge {name}".strip()
    if not places:
        raise Refused(asked, "no tank of the configuration states a permit: [tank.permit.ph]")
    if name:
        there = ", ".join(f"{each.called} ({each.id})" for each in places)
        places = [tank for tank in places if tank.id == name]
        if not places:
            raise Refused(asked, f"no water leaves there by a permit; it does at {there}")
    if len(places) > 1:
        raise Refused(
            asked, f"say which: {', '.join(f'{each.called} ({each.id})' for each in places)}"
        )
    return places[0]


def page(store: Path, line_id: str, name: str, day: Day, show: Shown) -> Page:
    """Return the inspector's page of a day.

    Raises:
        Refused: the line has no such discharge.
        StoreUnusable: nothing was recorded.
    """
    desk = viewer.open_desk(store, line_id)
    plan = records.plan_in_force(store, line_id)
    tank = place(plan, name)
    subjects = {each.id for each in plan.tanks if each.track == tank.track}
    told = desk.happened(subjects, day.month, MOST_EVENTS, KINDS)
    return inspectors_page(plan, tank, [each.event for each in told], day, show)
