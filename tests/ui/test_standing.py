"""Where the cursor of the alarms goes when what it is on was seen, or is over."""

from __future__ import annotations

from dataclasses import replace

from tests.ui import invented
from tests.ui.seen import app_on, press, settle


def five(*states: str):
    """Return the line with so many alarms of the same haste, and two that are expected."""
    picture = invented.troubled()
    one = next(each for each in picture.alarms if each.id == "nickel-1.temperature.low")
    alarms = tuple(
        replace(one, id=f"alarm-{n}", state=state, since_utc_ns=one.since_utc_ns - n)
        for n, state in enumerate((*states, "suppressed", "suppressed"))
        if state
    )
    return replace(picture, alarms=alarms)


async def show(app, pilot, picture) -> None:
    app.desk.shown = picture
    app.pull()
    await settle(app, pilot)


async def test_after_one_was_seen_the_cursor_is_on_the_next_that_was_not():
    app = app_on(invented.InventedDesk(five(*["unacknowledged"] * 4)), initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm alarm-1", "space")
        assert [each.alarm for each in app.desk.requests] == ["alarm-1"]
        states = ["unacknowledged", "acknowledged", "unacknowledged", "unacknowledged"]
        await show(app, pilot, five(*states))
        assert app.live.body.choice == "alarm alarm-2"
        await press(app, pilot, "space")
        states[2] = ""
        await show(app, pilot, five(*states))
        assert app.live.body.choice == "alarm alarm-3"
        await press(app, pilot, "space")
        states[3] = "acknowledged"
        await show(app, pilot, five(*states))
        assert app.live.body.choice == "alarm alarm-0"
        await press(app, pilot, "space")
        states[0] = "acknowledged"
        await show(app, pilot, five(*states))
        assert app.live.body.choice == "alarm alarm-0"


async def test_what_somebody_else_has_seen_does_not_take_the_cursor_from_it():
    app = app_on(invented.InventedDesk(five(*["unacknowledged"] * 3)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm alarm-1")
        await show(app, pilot, five("unacknowledged", "acknowledged", "unacknowledged"))
        assert app.live.body.choice == "alarm alarm-1"


async def test_when_all_were_seen_the_cursor_does_not_end_among_the_suppressed():
    app = app_on(invented.InventedDesk(five(*["unacknowledged"] * 3)), initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm alarm-2", "A")
        assert [each.alarm for each in app.desk.requests] == ["*"]
        await show(app, pilot, five("acknowledged", "acknowledged", ""))
        assert app.live.body.choice in {"alarm alarm-0", "alarm alarm-1"}
