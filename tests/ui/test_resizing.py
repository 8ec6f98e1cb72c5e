"""The screen in any size, and changing size while it runs."""

import pytest

from linewatch.ui.screens.views import VIEWS
from tests.ui import invented
from tests.ui.seen import app_on, press, settle, text_of

SIZES = [(1, 1), (20, 5), (300, 100), (2, 200), (200, 3), (24, 80), (1, 24), (80, 1)]


@pytest.mark.parametrize("name", sorted(VIEWS))
async def test_a_view_is_resized_through_everything_without_an_error(name):
    app = app_on(invented.InventedDesk(invented.troubled(long=True)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        app.live.go(name, "tank nickel-1" if name in {"tank", "trend", "explain"} else "")
        await settle(app, pilot)
        before = text_of(app)
        for size in SIZES:
            await pilot.resize_terminal(*size)
            app.live.action_do("down")
            app.live.action_do("up")
            await pilot.pause()
            for sheet in (app.live.head, app.live.body, app.live.lower, app.live.foot):
                for y in range(min(sheet.size.height, 5)):
                    assert sheet.render_line(y).cell_length == sheet.size.width
        await pilot.resize_terminal(160, 50)
        await settle(app, pilot)

        assert text_of(app) == before


@pytest.mark.parametrize("size", SIZES)
async def test_forms_and_search_open_in_any_size(size):
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "slash", "n", "down", "escape", "ctrl+p", "escape")
        await press(app, pilot, "a", "space", "m", "enter", "z", "w", "escape")

        assert app.screen is app.live


@pytest.mark.parametrize("size", [(20, 5), (12, 4), (40, 2)])
async def test_in_a_tiny_terminal_the_newest_alarm_is_still_there(size):
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        assert any("[!!!]" in line for line in text_of(app).splitlines())
