"""The mouse is a convenience: it points, opens and scrolls."""

from tests.ui import invented
from tests.ui.seen import app_on, press, settle


async def test_a_click_chooses_and_a_second_one_opens():
    app = app_on(invented.InventedDesk(invented.line(long=True)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        at = [row.target for row in app.live.body.rows].index("tank nickel-1")
        await pilot.click(app.live.body, offset=(20, at))
        assert app.live.body.choice == "tank nickel-1"
        assert app.live.view.NAME == "line"
        await pilot.click(app.live.body, offset=(20, at))
        await settle(app, pilot)
        assert app.live.view.subject == "tank nickel-1"


async def test_a_click_on_a_heading_changes_nothing():
    app = app_on(invented.InventedDesk(invented.line(long=True)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        before = app.live.body.choice
        await pilot.click(app.live.body, offset=(20, 0))
        await settle(app, pilot)
        assert app.live.body.choice == before


async def test_the_wheel_scrolls_as_far_as_there_are_rows():
    from textual.events import MouseScrollDown, MouseScrollUp

    app = app_on(invented.InventedDesk(invented.line(long=True)))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        body = app.live.body

        def wheel(kind):
            return kind(body, 5, 5, 0, 0, 0, shift=False, meta=False, ctrl=False)

        for _ in range(20):
            body.post_message(wheel(MouseScrollDown))
        await settle(app, pilot)
        assert body.top == len(body.rows) - body.size.height
        for _ in range(20):
            body.post_message(wheel(MouseScrollUp))
        await settle(app, pilot)
        assert body.top == 0


async def test_a_click_takes_what_the_search_found():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "slash", *"chromium")
        await pilot.click(app.screen.sheet, offset=(3, 0))
        await settle(app, pilot)
        assert app.live.view.subject == "tank chromium-1"
