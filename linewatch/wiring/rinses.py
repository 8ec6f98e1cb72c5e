"""What can be asked about rinses and levels, for the command line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewatch.core.errors import Refused
from linewatch.core.events import EventKind
from linewatch.core.view import LinePicture
from linewatch.core.water.rinse_page import Line, rinse_page, rinses_page
from linewatch.core.water.rinse_record import Carried, carried
from linewatch.core.water.seen import RinsePicture
from linewatch.wiring import records, viewer
from linewatch.wiring.meant import Thing, meant, things

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from pathlib import Path

    from linewatch.core.pages import Page, Shown

DAY_NS = 86_400 * 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was asked for: all rinses, or one of them with its loads."""

    picture: LinePicture
    rinse: RinsePicture | None = None
    loads: tuple[Carried, ...] = ()


def asked(store: Path, line_id: str, tank: str, begin: str) -> Asked:
    """Return what is known of all rinses, or of one and the loads since a time.

    Raises:
        Refused: there is no such rinse.
        StoreUnusable: nothing was recorded.
        UnitMismatch: `begin` is no time.
    """
    desk = viewer.open_desk(store, line_id)
    picture = viewer.shown(desk, store, line_id)
    if not tank:
        return Asked(picture=picture)
    doing = f"show the rinse {tank}"
    measured = {each.tank: each for each in picture.rinses}
    if not measured:
        raise Refused(doing, "no rinse has a volume and a probe of conductivity")
    tank = rinse_meant(list(things(picture)), measured, tank)
    chosen = measured[tank]
    since_ns, _ = records.span((begin, ""), lambda: picture.utc_ns)
    span = (picture.utc_ns - DAY_NS if since_ns is None else since_ns, picture.utc_ns)
    told = desk.happened({tank}, span, records.MOST_EVENTS, (EventKind.WATER,))
    loads = carried((each.event for each in told), tank)
    return Asked(picture=picture, rinse=chosen, loads=tuple(loads))


def rinse_meant(among: Sequence[Thing], measured: Collection[str], said: str) -> str:
    """Return the rinse that a person means; of another position, say that it is none.

    Raises:
        Refused: no rinse, or more than one, is called so.
    """
    doing = f"show the rinse {said}"
    rinses = [each for each in among if each.id in measured]
    try:
        return meant(rinses, said, doing)
    except Refused as no_rinse:
        try:
            other = meant(among, said, doing)
        except Refused:
            raise no_rinse from None
    if other in measured:
        return other
    named = next(str(each) for each in among if each.id == other)
    listed = ", ".join(map(str, rinses))
    raise Refused(doing, f"{named} is no rinse whose conductivity is read; there are {listed}")


def page(found: Asked, show: Shown) -> Page:
    """Return what was asked for as a page."""
    picture = found.picture
    line = Line(
        name=picture.name,
        utc_ns=picture.utc_ns,
        names={tank.id: tank.called for tank in picture.tanks},
    )
    if found.rinse is None:
        return rinses_page(line, picture.rinses, picture.levels, show)
    return rinse_page(line, found.rinse, found.loads, show)
