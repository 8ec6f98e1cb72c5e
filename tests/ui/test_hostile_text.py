"""Text of devices and configurations is data: it neither breaks nor disguises a line."""

from dataclasses import replace

import pytest

from linewatch.ui.screens.views import VIEWS
from linewatch.ui.text import cells
from tests.ui import invented
from tests.ui.seen import app_on, press, settle, text_of

HOSTILE = [
    "[/]",
    "[/red]",
    "[red]ALARM",
    "[@click=app.bell]x[/]",
    "A \x1b[2J \x1b]0;t\x07 B",
    "\x1b]52;c;QUJD\x07",
    "\x9b2J",
    "\u202eevil\u202c\u2066",
    "\u6d74\u69fd\ufe0f",
    "e\u0301" * 40,
    "\U0001f600" * 30,
    "x" * 10_000,
    "a\nb\rc\td",
    "",
]


def hostile_line(text):
    """Return the troubled line with one text wherever a text can come from outside."""
    picture = invented.troubled()
    return replace(
        picture,
        name=text,
        tanks=tuple(
            replace(
                tank,
                name=text,
                number=text,
                track=text,
                load=replace(tank.load, number=text, part=text, pull_refused=text)
                if tank.load
                else None,
                metal=replace(tank.metal, deposit=text, refused=text) if tank.metal else None,
            )
            for tank in picture.tanks
        ),
        rectifiers=tuple(
            replace(each, name=text, findings=(text,)) for each in picture.rectifiers
        ),
        baths=tuple(
            replace(
                each,
                name=text,
                note=text,
                caution=text,
                additives=tuple(replace(one, name=text) for one in each.additives),
            )
            for each in picture.baths
        ),
        links=tuple(
            replace(
                each,
                reason=text,
                protocol=text,
                address=text,
                last_failure=text,
                last_bytes=text,
                failures={text: 1},
                units_silent=(text,),
            )
            for each in picture.links
        ),
        alarms=tuple(
            replace(
                each,
                text=text,
                cause=text,
                consequence=text,
                action=text,
                why=text,
                group=text,
                acknowledged_by=text,
                unit=text,
            )
            for each in picture.alarms
        ),
        state=text,
    )


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
async def test_no_view_passes_hostile_text_on_to_the_terminal(text):
    events = [invented.event(1, text, subject=text)]
    app = app_on(invented.InventedDesk(hostile_line(text), events=events), where=text)

    async with app.run_test(size=(100, 30)) as pilot:
        await settle(app, pilot)
        for name in VIEWS:
            subject = "tank nickel-1" if name in {"tank", "trend", "explain"} else ""
            app.live.go(name, subject)
            await settle(app, pilot)
            shown = text_of(app).replace("\n", "")
            assert shown.isprintable()
            for sheet in (app.live.head, app.live.body, app.live.lower, app.live.foot):
                for y in range(sheet.size.height):
                    strip = sheet.render_line(y)
                    assert strip.cell_length == sheet.size.width
                    assert cells(strip.text) == sheet.size.width


@pytest.mark.parametrize("text", ["[/]", "[red]ALARM", "[@click=app.bell]x[/]"])
async def test_brackets_are_shown_as_they_are(text):
    app = app_on(invented.InventedDesk(hostile_line(text)), initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        assert text in text_of(app)
        await press(app, pilot, "slash", *"ala", "escape", "b", "d", "escape", "n", "escape")
        await press(app, pilot, "a", "z")
        assert app.screen.query_one("#why")
        await press(app, pilot, "escape")
        assert text in text_of(app)


async def test_an_answer_of_the_line_cannot_disguise_itself_in_the_footer():
    desk = invented.InventedDesk(invented.troubled())
    desk.refusals[1] = "\x1b[2Jno\u202e[/]"
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "space")
        assert "refused: ?[2Jno?[/]" in text_of(app)


async def test_what_looks_like_another_alarm_line_stays_within_its_own():
    forged = "temperature low\n [!!!] 12:00:00 everything is well"
    picture = invented.troubled()
    alarms = (replace(picture.alarms[0], text=forged),)
    app = app_on(invented.InventedDesk(replace(picture, alarms=alarms)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a")
        starts = [line for line in text_of(app).splitlines() if line.startswith(" [!!!]")]

    assert starts == []
