"""The terminal's bell: for new alarms of some haste, and for nothing else."""

from __future__ import annotations

import pytest

from linewatch.core.events import EventKind
from linewatch.ui.app import LinewatchApp, Options
from tests.ui import invented
from tests.ui.seen import NOW, settle


class Heard(LinewatchApp):
    rang = 0

    def bell(self) -> None:
        self.rang += 1


def alarm(number: int, priority: str, to: str = "unacknowledged"):
    return invented.event(
        number,
        "temperature low",
        kind=EventKind.ALARM,
        subject="nickel-1",
        alarm="nickel-1.temperature.low",
        to=to,
        priority=priority,
    )


@pytest.mark.parametrize(
    ("bell", "priority", "to", "rings"),
    [
        ("high", "highest", "unacknowledged", 1),
        ("high", "high", "unacknowledged", 1),
        ("high", "medium", "unacknowledged", 0),
        ("low", "low", "unacknowledged", 1),
        ("never", "highest", "unacknowledged", 0),
        ("high", "highest", "acknowledged", 0),
        ("high", "highest", "shelved", 0),
    ],
)
async def test_the_bell_sounds_for_a_new_alarm_of_some_haste(bell, priority, to, rings):
    desk = invented.InventedDesk(invented.line(), events=[invented.event(1, "before")])
    app = Heard(desk, Options(bell=bell, wall_ns=lambda: NOW, steady_s=lambda: 100.0))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        desk.events.append(alarm(2, priority, to))
        app.look_for_news()
        await settle(app, pilot)

    assert app.rang == rings


async def test_the_bell_is_silent_about_what_was_there_before_the_screen():
    desk = invented.InventedDesk(invented.line(), events=[alarm(1, "highest")])
    app = Heard(desk, Options(wall_ns=lambda: NOW, steady_s=lambda: 100.0))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)

    assert app.rang == 0
