"""Nothing is drawn again that did not change."""

from dataclasses import replace

from linewatch.ui.draw.rows import Span, row
from linewatch.ui.widgets.sheet import Sheet
from tests.ui import invented
from tests.ui.seen import NOW, app_on, settle


async def test_one_changed_figure_paints_one_row_of_the_table():
    picture = invented.line(long=True)
    desk = invented.InventedDesk(picture)
    app = app_on(desk)

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        before = app.live.body.painted
        tank = picture.tanks[8]
        warmer = replace(tank.figures["temperature"], value=61.9)
        changed = replace(tank, figures={**tank.figures, "temperature": warmer})
        tanks = (*picture.tanks[:8], changed, *picture.tanks[9:])
        # As of now: times that loads have been in do not change with it.
        desk.shown = replace(picture, tanks=tanks, utc_ns=NOW)
        app.pull()
        await settle(app, pilot)

        assert app.live.body.painted == before + 1


async def test_an_equal_picture_paints_nothing():
    desk = invented.InventedDesk(invented.line(long=True))
    app = app_on(desk)

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        sheets = (app.live.head, app.live.body, app.live.lower, app.live.foot)
        before = [sheet.painted for sheet in sheets]
        desk.shown = invented.line(long=True)
        for _ in range(5):
            app.pull()
            await settle(app, pilot)

        assert [sheet.painted for sheet in sheets] == before


async def test_moving_the_cursor_paints_two_rows():
    app = app_on(invented.InventedDesk(invented.line(long=True)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        before = app.live.body.painted
        await pilot.press("down")
        await settle(app, pilot)

        assert app.live.body.painted <= before + 2


async def test_a_sheet_keeps_its_choice_by_what_the_row_is_about():
    sheet = Sheet()
    rows = [row(Span(name), target=f"tank {name}") for name in "abc"]
    sheet.show(rows, 3)
    sheet.choose("tank b")

    sheet.show([row(Span("new"), target="tank new"), *rows], 4)
    assert sheet.choice == "tank b"

    sheet.show([rows[0], rows[2]], 2)
    assert sheet.choice in {"tank c", "tank a"}


async def test_five_thousand_alarms_leave_the_screen_usable():
    picture = invented.troubled(long=True)
    one = picture.alarms[0]
    many = tuple(replace(one, id=f"a{number}.temperature.low") for number in range(5000))
    app = app_on(invented.InventedDesk(replace(picture, alarms=many, flood=True)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await pilot.press("a")
        await pilot.press("end")
        await settle(app, pilot)

        assert app.live.body.choice == "alarm a4999.temperature.low" or (
            app.live.body.choice.startswith("alarm a")
        )
        assert app.live.body.top > 4000
