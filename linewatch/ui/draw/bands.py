"""What stands above and below every view: who, when, recording; the newest alarm; the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewatch.core.alarms.wording import how_to
from linewatch.core.units import with_symbols
from linewatch.ui.draw.families import GONE, consequences, heads, of_link
from linewatch.ui.draw.naming import alarm_of, names
from linewatch.ui.draw.rows import Look, Row, Span, clip, edge_to_edge, row, width_of, wrap
from linewatch.ui.marks import PRIORITY_MARKS, PRIORITY_ORDER, alarm_mark, is_new, is_standing
from linewatch.ui.scales import scale
from linewatch.ui.text import (
    CLOCK_CELLS,
    DATED_CELLS,
    age,
    cells,
    clean,
    clock,
    cut,
    fit,
    number,
    since_clock,
    span,
    span_within,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from linewatch.core.view import AlarmPicture, LinePicture, LoadPicture, TankPicture

NS_PER_S = 1_000_000_000
SOON_S = 120.0
FOR_COUNT = 17
"""Cells that '12 of 34 unseen' behind an alarm wants."""
FOR_LEAST_COUNT = 9
"""Cells that '12 new' wants, and the one before it."""
LEAST_NAME = 8
"""Cells of a name that its alarm's words leave it: enough for the number of a position."""
LEAST_UNNUMBERED = 18
"""The same of a name that begins with no number: cut shorter it might be another's."""
BELOW = " └"
"""Of what stands before the name of something that is drawn below its cause."""
OVER_CELLS = 5
START_AGAIN = "linewatch run FILE starts it"
"""What to do about a collector that does not run; FILE is the line's configuration."""
WITH_DATE = 90
"""Width from which on the time of another day has room for its date."""
MOST_SAID = 3
"""Rows that what was just said may take."""
WITH_LIMIT = frozenset({"high-high", "high", "low", "low-low"})
"""Conditions whose value and limit are of the same kind as the tag."""
OVERDUE = "overdue"


def title_row(picture: LinePicture, view: str, look: Look) -> Row:
    """Return the top row: line and view at the left; state, record and clock at the right."""
    state = "" if picture.state == "producing" else f"{clean(picture.state, 30)} · "
    pace = "" if picture.speed == 1.0 else f"{picture.speed:g}× speed · "
    when = clock(look.now_ns, look.zone) if look.is_live else "NOT LIVE"
    right = [
        Span(f"{state}{pace}", "band"),
        *_recording(picture, look),
        Span(f" {when} ", "band"),
    ]
    left = [Span(f" {clean(picture.name, 60)} ", "band"), Span(f"· {view}", "band")]
    if width_of(left) + width_of(right) + 1 > look.width:
        # Where both have no room, what is being looked at matters more than whose line it is.
        left = [Span(f" {view}", "band")]
    return edge_to_edge(left, right, look.width, fill="band")


def _recording(picture: LinePicture, look: Look) -> list[Span]:
    recording = picture.recording
    unwell = [
        link for link in picture.links if link.state != "connected" or of_link(picture, link.id)
    ]
    down = len(unwell)
    spans = []
    if down:
        spans.append(Span(f" ! {down} of {len(picture.links)} links not well ", "high-new"))
        spans.append(Span(" ", "band"))
    if picture.not_heard:
        ways = ", ".join(clean(way, 20) for way in picture.not_heard)
        spans.append(Span(f" ! notices not heard: {ways} ", "high-new"))
        spans.append(Span(" ", "band"))
    if not look.is_live:
        # A record that nobody is seen to write is not called running.
        return spans
    if recording is None:
        spans.append(Span("recording unknown ·", "band"))
    elif recording.running:
        lost = f", {recording.dropped} lost" if recording.dropped else ""
        aside = f", {recording.set_aside} files set aside" if recording.set_aside else ""
        spans.append(Span(f"recording{lost}{aside} ·", "band"))
    else:
        since = clock(recording.since_utc_ns, look.zone)
        spans.append(Span(f" !!! NOT RECORDING since {since} ", "highest-new"))
    return spans


def dead_row(picture: LinePicture, look: Look, *, alive: bool) -> Row:
    """Return the banner over a picture that is not live."""
    since = clock(picture.utc_ns, look.zone)
    old = age((look.now_ns - picture.utc_ns) / NS_PER_S)
    what = "picture is old: none came" if alive else "collector not running"
    said = f" {what} since {since} ({old})"
    if not alive:
        # What to do comes before what the brackets mean, where there is no room for both.
        said += f": {START_AGAIN}"
    whole = f"{said}. Figures in ( ) are the last known, not live."
    text = whole if cells(whole) <= look.width or alive else said
    return row(Span(fit(text, look.width), "banner"), fill="banner")


def alarm_role(alarm: AlarmPicture) -> str:
    """Return the role that an alarm's text plays."""
    priority = alarm.priority if alarm.priority in PRIORITY_ORDER else "medium"
    return f"{priority}-new" if is_new(alarm.state) else priority


def alarm_rows(picture: LinePicture, look: Look, count: int) -> list[Row]:
    """Return the alarms that matter most, the first with how many stand behind it."""
    first_of = heads(picture.alarms)
    if not first_of:
        said = "no alarm stands" if look.is_live else "no alarm stood when last heard"
        return [row(Span(fit(f" {said}", look.width), "quiet"))]
    called = names(picture)
    lead, subject, said = _alarm_texts(first_of[0], called, look)
    text = about(subject, said, look.width - cells(lead) - FOR_LEAST_COUNT)
    alike = [each for each in first_of if each.group and each.group == first_of[0].group]
    lost = _lost(alike)
    mine = len(consequences(picture.alarms).get(first_of[0].id, ()))
    first = lead + (lost or _with_more(text, mine, look.width - cells(lead)))
    standing = [each for each in picture.alarms if is_standing(each.state)]
    tail = Span(_behind(picture, standing, called, look.width - cells(first) - 1), "strong")
    room = max(look.width - width_of([tail]), 0)
    rows = [row(Span(fit(first, room), alarm_role(first_of[0])), tail)]
    others = [each for each in first_of[1:] if not lost or each.group != first_of[0].group]
    for alarm in others[: count - 1]:
        lead, subject, said = _alarm_texts(alarm, called, look)
        text = about(subject, said, look.width - cells(lead) - 1)
        rows.append(Row(clip([Span(lead, alarm_role(alarm)), Span(f" {text}")], look.width)))
    return rows


def _with_more(text: str, count: int, room: int) -> str:
    """Return an alarm's words with how many follow from it, shorter where there is no room."""
    if not count:
        return text
    whole = f"{text} (and {count} that {'follows' if count == 1 else 'follow'})"
    return whole if cells(whole) + FOR_COUNT <= room else f"{text} (+{count})"


def _lost(alike: Sequence[AlarmPicture]) -> str:
    """Return what many unreadable values of one link or device say together; '' for others."""
    kind, _, name = alike[0].group.partition(" ") if alike else ("", "", "")
    said = {"link": "is not connected", "device": "does not answer"}.get(kind)
    if said is None or len(alike) == 1 or any(each.kind != "bad-quality" for each in alike):
        return ""
    return f"{kind} {clean(name, 40)} {said}: {len(alike)} values unreadable"


def about(subject: str, said: str, room: int) -> str:
    """Return words about a thing: where they have no room its name is cut before they are."""
    named = subject.lstrip(BELOW)
    deeper = subject[: len(subject) - len(named)]
    left = room - cells(deeper) - cells(said) - cells(": ")
    least = LEAST_NAME if named[:1].isdigit() else LEAST_UNNUMBERED
    return f"{deeper}{cut(named, max(left, least))}: {said}"


def _alarm_texts(
    alarm: AlarmPicture, called: dict[str, str], look: Look
) -> tuple[str, str, str]:
    """Return an alarm's mark and time, what it is about, and its words."""
    mark = alarm_mark(alarm.priority, alarm.state)
    subject = called.get(alarm.subject, clean(alarm.subject, 40))
    wide = DATED_CELLS if look.width >= WITH_DATE else CLOCK_CELLS
    since = since_clock(alarm.since_utc_ns, look.now_ns, look.zone, wide).rstrip()
    return f" {mark} {since} ", subject, alarm_words(alarm, look)


def alarm_words(alarm: AlarmPicture, look: Look) -> str:
    """Return what an alarm says, with the present value and its limit.

    Where nothing good tells the present value, it is the one that raised it.
    """
    said = clean(alarm.text)
    is_gone = alarm.state in GONE
    # What an alarm carries once its cause has gone is the value that it came back to.
    value = alarm.value if is_gone or alarm.now is None else alarm.now
    if value is None or alarm.limit is None:
        return said
    if alarm.kind == OVERDUE:
        until = f", limit {span(alarm.limit)}" if alarm.limit else ""
        return said if is_gone else f"{said}: {span(value)}{until}"
    if alarm.kind not in WITH_LIMIT:
        return said
    shown = scale(alarm.tag.partition(".")[2], look.units)
    told, limit = (number(shown.shown(each), shown.decimals) for each in (value, alarm.limit))
    how = "limit"
    if not is_gone:
        how = how_to(alarm.kind, value, alarm.limit)
        # By how much it is inside, and for how long, the moment's value does not tell.
        how = how if alarm.now is None else how.removeprefix("barely ")
    text = f"{said}: {'back at ' if is_gone else ''}{told} {shown.label}, {how} {limit}"
    return text.replace("  ", " ").replace(" ,", ",")


def _behind(
    picture: LinePicture, standing: Sequence[AlarmPicture], called: dict[str, str], room: int
) -> str:
    """Return the words behind the newest alarm: how many there are, or that it is a flood.

    The alarm itself comes first: whatever of it has no room beside the words cuts them short.
    """
    new = [each for each in standing if is_new(each.state)]
    unseen, worst = len(new), sum(1 for each in new if each.priority == PRIORITY_ORDER[0])
    count = f"{unseen} of {len(standing)} unseen"
    said = [f" {count} ", f" {unseen} unseen ", f" {unseen} new "]
    if worst > 1:
        # The alarm beside it is only one of those that ask for most haste.
        count = f"{worst} {PRIORITY_ORDER[0]}, {count}"
        lead = f"{worst} {PRIORITY_ORDER[0]}"
        said = [f" {count} ", f" {lead}, {unseen} unseen ", f" {lead} "]
        said.append(f" {worst} {PRIORITY_MARKS[PRIORITY_ORDER[0]]} ")
    if picture.flood:
        first = alarm_of(picture, picture.first_out)
        if first is not None and first.behind:
            # What the first one follows from is where to go.
            first = alarm_of(picture, first.behind) or first
        subject = first.subject if first is not None else picture.first_out
        began = f" alarm flood, begun at {called.get(subject, clean(subject, 30))}; {count} "
        said = [began, f" alarm flood; {count} ", " alarm flood "]
    return next((each for each in said if cells(each) <= room), said[-1])


def pulls(picture: LinePicture) -> list[tuple[TankPicture, LoadPicture]]:
    """Return the loads that have a time to pull or a longest dwell, the most urgent first."""
    found = [(tank, tank.load) for tank in picture.tanks if tank.load is not None]
    timed = [(tank, load) for tank, load in found if due_ns(load) is not None]
    return sorted(timed, key=lambda pair: due_ns(pair[1]) or 0)


def due_ns(load: LoadPicture) -> int | None:
    """Return when a load must be out: its time to pull or the end of its longest dwell.

    The earlier of the two: what is thick enough and what may stay no longer are both due.
    """
    dues = [load.pull_utc_ns] if load.pull_utc_ns is not None else []
    if load.longest_s is not None:
        dues.append(load.since_utc_ns + int(load.longest_s * NS_PER_S))
    return min(dues, default=None)


def is_due_by_dwell(load: LoadPicture) -> bool:
    """Say whether the longest dwell is what a load must be out by, not its thickness."""
    return load.longest_s is not None and due_ns(load) != load.pull_utc_ns


def left_words(load: LoadPicture, look: Look) -> Span:
    """Return how long until a load must be out: '4m05s', 'OUT+1m10s' when it is over."""
    if not look.is_live:
        return Span("not live", "off")
    left_s = _left_s(load, look)
    if left_s is None:
        return Span("–" if not load.pull_refused else "no time", "quiet")
    if left_s <= 0:
        return Span(f"OUT+{span_within(-left_s, OVER_CELLS)}", "now")
    return Span(span(left_s), "strong" if left_s < SOON_S else "plain")


def _left_s(load: LoadPicture, look: Look) -> float | None:
    if is_due_by_dwell(load):
        return (load.longest_s or 0.0) - load.dwell_s
    if load.pull_utc_ns is not None:
        return (load.pull_utc_ns - look.now_ns) / NS_PER_S
    return None


def _in_the_air(picture: LinePicture, look: Look) -> list[Span]:
    """Return the loads that are out for longer than they may be, and how many there are."""
    late = [each for each in picture.ways if each.is_late]
    if not late or not look.is_live:
        return []
    called = names(picture)
    # Where others are due too, they keep some of the row.
    room = look.width * 3 // 5 if pulls(picture) else look.width
    spans = [Span(" in the air ", "outside")]
    for index, way in enumerate(late):
        left = len(late) - index - 1
        said = f"{clean(way.number, 12) or 'no number'} {span(way.out_s)}"
        named = called.get(way.before, clean(way.before, 40))
        more = [
            Span("   " if index else ""),
            Span(f"after {cut(named, 28)}: ", "quiet"),
            Span(said, "outside"),
        ]
        for_rest = cells(f"   and {left} more") if left else 0
        if index and width_of(spans) + width_of(more) + for_rest > room:
            return [*spans, Span(f"   and {left + 1} more", "outside")]
        spans += more
    return spans


def _air_in_brief(picture: LinePicture) -> list[Span]:
    """Return the first load in the air, and how many more there are, as short as can be."""
    late = [each for each in picture.ways if each.is_late]
    said = f"{clean(late[0].number, 12) or 'no number'} {span(late[0].out_s)}"
    more = f" +{len(late) - 1}" if late[1:] else ""
    return [Span(" in the air ", "outside"), Span(f"{said}{more}", "outside")]


def _next_out(picture: LinePicture, look: Look, room: int, *, is_brief: bool) -> list[Span]:
    """Return as many of the next loads to pull as have room, urgent first."""
    spans: list[Span] = []
    for tank, load in pulls(picture):
        left = left_words(load, look)
        # On its own in a row of text, '4m05s' might be how long it has been in.
        is_to_come = look.is_live and (_left_s(load, look) or 0.0) > 0.0
        called = tank.number if is_brief and tank.number else tank.called
        more = [
            Span("   " if spans else ""),
            Span(f"{clean(called, 28)}: ", "quiet"),
            Span(f"{clean(load.number, 12) or 'no number'} ", "strong"),
            Span("in " if is_to_come else "", "quiet"),
            left,
        ]
        if width_of(spans) + width_of(more) > room:
            break
        spans += more
    return spans


def pulls_rows(picture: LinePicture, look: Look, count: int) -> list[Row]:
    """Return what hangs in the air too long, then the next loads to pull, urgent first.

    Where both have no room, both are brief: at least the first of each is to be seen.
    """
    air = _in_the_air(picture, look)
    lead = Span("   next out  " if air else " next out  ", "quiet")
    out = _next_out(picture, look, look.width - width_of([*air, lead]), is_brief=False)
    if air and not out:
        brief = _air_in_brief(picture)
        out = _next_out(picture, look, look.width - width_of([*brief, lead]), is_brief=True)
        air = brief if out else air
    nothing = air or [lead, Span("no load has a time", "quiet")]
    spans = [*air, lead, *out] if out else nothing
    return [Row(clip(spans, look.width))][:count]


def hints_rows(hints: Sequence[tuple[str, str]], said: str, width: int) -> list[Row]:
    """Return the footer: what was just said, whole, else the keys that count here."""
    if said:
        lines = wrap(clean(with_symbols(said)), max(width - 2, 1))[:MOST_SAID]
        return [row(Span(fit(f" {line}", width), "strong")) for line in lines]
    spans: list[Span] = [Span(" ")]
    for key, label in hints:
        more = [Span(key, "key"), Span(f" {label}  ", "quiet")]
        if width_of(spans) + width_of(more) > width:
            break
        spans += more
    return [Row(tuple(spans))]
