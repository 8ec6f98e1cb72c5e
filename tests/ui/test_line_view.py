"""The line view, seen through the pilot."""

import datetime

import pytest

from linewatch.ui.app import LinewatchApp, Options
from tests.ui import invented


def app_on(desk, **wishes):
    now = invented.NOON + 2 * invented.S
    return LinewatchApp(desk, Options(zone=datetime.UTC, wall_ns=lambda: now, **wishes))


def text_of(app):
    """Return everything on the view on top, as plain text."""
    live = app.live
    return "\n".join(
        "".join(span.text for span in row.spans)
        for sheet in (live.head, live.body, live.lower, live.foot)
        for row in sheet.rows
    )


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
async def test_every_tank_can_be_reached_at_every_size(size):
    desk = invented.InventedDesk(invented.troubled(long=True))
    app = app_on(desk)

    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        assert app.live.view.NAME == "line"
        reached = {app.live.body.choice}
        for _ in range(40):
            await pilot.press("down")
            reached.add(app.live.body.choice)

    assert reached == {f"tank {tank.id}" for tank in desk.shown.tanks}


async def test_a_bad_value_is_a_word_and_never_a_number():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(160, 50)) as pilot:
        await pilot.pause()
        rows = text_of(app).splitlines()

    [nickel] = [row for row in rows if " 10 Bright nickel" in row]
    assert "sensor" in nickel
    assert "°C" not in nickel


@pytest.mark.parametrize("size", [(1, 1), (20, 5), (300, 100), (2, 200), (200, 3)])
async def test_a_line_is_drawn_in_any_size_without_an_error(size):
    app = app_on(invented.InventedDesk(invented.troubled(long=True)))

    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        assert app.live.body.rows
