"""What is not live is never shown as if it were."""

import re
from dataclasses import dataclass, replace

import pytest

from linewatch.core.events import EventKind
from linewatch.ui.draw.line import line_rows
from linewatch.ui.draw.ribbon import ribbon_rows
from linewatch.ui.draw.rows import Look
from linewatch.ui.feed import OLD_AFTER_S
from tests.ui import invented
from tests.ui.seen import app_on, press, row_with, settle, text_of


@dataclass
class Steady:
    now_s: float = 100.0

    def __call__(self) -> float:
        return self.now_s


async def test_without_a_collector_a_banner_says_since_when_and_figures_stand_in_brackets():
    desk = invented.InventedDesk(invented.troubled(), is_alive=False)
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        app.pull()
        shown = text_of(app)
        nickel = row_with(app, " 9 Bright nickel ")

    assert "collector not running since 12:00:00 (2 s)" in shown
    assert "NOT LIVE" in shown
    assert "(54.2)" in nickel


async def test_marks_that_stood_when_the_line_was_last_heard_stay_without_their_colours():
    live = app_on(invented.InventedDesk(invented.troubled()))
    gone = app_on(invented.InventedDesk(invented.troubled(), is_alive=False))
    rows = []
    for app in (live, gone):
        async with app.run_test(size=(120, 40)) as pilot:
            await settle(app, pilot)
            app.pull()
            rows.append(row_with(app, " 9 Bright nickel "))

    was, nickel = rows
    assert "[!!" in was
    assert nickel[: was.index("Bright")] == was[: was.index("Bright")]
    assert "(54.2)▼" in nickel


@pytest.mark.parametrize("width", [160, 120, 80, 40])
def test_a_strip_of_vessels_and_its_rows_have_the_marks_of_the_last_picture(width):
    picture = invented.troubled()
    look = Look(width=width, height=40, now_ns=invented.NOON)
    after = replace(look, is_live=False)

    assert texts(ribbon_rows(picture, after, "")) == texts(ribbon_rows(picture, look, ""))
    alarms = [
        [each.spans[0].text for each in line_rows(picture.tanks, shown) if each.target]
        for shown in (look, after)
    ]
    assert alarms[0] == alarms[1]
    assert any("[" in each for each in alarms[1])
    roles = {span.role for each in ribbon_rows(picture, after, "")[1:] for span in each.spans}
    assert not {role for role in roles if role.endswith("-new") or role == "outside"}


def texts(rows) -> list[str]:
    return ["".join(span.text for span in each.spans) for each in rows]


async def test_a_picture_that_is_not_replaced_turns_old():
    steady = Steady()
    app = app_on(invented.InventedDesk(invented.line()), steady_s=steady)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        assert "NOT LIVE" not in text_of(app)
        steady.now_s += OLD_AFTER_S + 0.1
        app.pull()
        shown = text_of(app)

    assert "picture is old: none came since 12:00:00" in shown
    assert "NOT LIVE" in shown


async def test_a_picture_that_is_replaced_is_live_again():
    steady = Steady()
    desk = invented.InventedDesk(invented.line())
    app = app_on(desk, steady_s=steady)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        steady.now_s += 60.0
        app.pull()
        desk.shown = invented.line(second=1)
        app.pull()

        assert "NOT LIVE" not in text_of(app)


async def test_an_old_picture_is_not_live_at_the_first_look():
    desk = invented.InventedDesk(invented.line())
    app = app_on(desk, wall_ns=lambda: invented.NOON + 3600 * invented.S)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        assert "picture is old" in text_of(app)


async def test_time_to_pull_is_not_counted_down_on_an_old_picture():
    app = app_on(invented.InventedDesk(invented.line(), is_alive=False))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        app.pull()
        assert "not live" in row_with(app, " 9 Bright nickel ")


async def test_an_alarm_is_on_screen_before_the_picture_has_it():
    desk = invented.InventedDesk(invented.line())
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        assert "no alarm stands" in text_of(app)
        desk.events.append(
            invented.event(
                1,
                "temperature low: 54.2 °C, limit 58.0 °C",
                kind=EventKind.ALARM,
                subject="nickel-1",
                alarm="nickel-1.temperature.low",
                to="unacknowledged",
                priority="high",
            )
        )
        app.look_for_news()
        await settle(app, pilot)
        bottom = row_with(app, "temperature low: 54.2")

    assert bottom.startswith(" [!! ] 12:00:01 9 Bright nickel: temperature low")


async def test_a_desk_that_fails_is_told_and_the_screen_stays():
    class Failing(invented.InventedDesk):
        def latest(self, _limit=200):
            raise OSError("the disk is away")

    desk = Failing(invented.line(), events=[invented.event(1, "x")])
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        while "the disk is away" not in text_of(app):
            await pilot.pause()
        assert app.is_running


async def test_only_picture_and_news_are_asked_on_the_screens_loop():
    import threading

    desk = invented.InventedDesk(invented.line(), events=[invented.event(1, "x")])
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await pilot.press("t")
        await settle(app, pilot)

    assert set(desk.asked) >= {"alive", "latest"}
    assert threading.main_thread().name not in desk.threads


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
async def test_without_a_collector_no_figure_stands_outside_brackets(size):
    app = app_on(invented.InventedDesk(invented.line(long=True), is_alive=False))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        app.pull()
        rows = [row for row in app.live.body.rows if row.target]
        shown = ["".join(span.text for span in row.spans)[10:] for row in rows]
        title = "".join(span.text for span in app.live.head.rows[0].spans)

    loads = re.compile(r"\b47\d\d\b")
    outside = [re.sub(r"\([^)]*\)|\([^ ]*…", "", loads.sub("", text)) for text in shown]
    assert [text for text in outside if any(sign.isdigit() for sign in text)] == []
    assert "recording" not in title
    assert "no alarm stands" not in text_of(app)


async def test_without_a_collector_no_figure_of_a_tank_stands_outside_brackets():
    app = app_on(invented.InventedDesk(invented.line(), is_alive=False))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "enter")
        app.pull()
        shown = text_of(app)

    assert "(6499.2 ± 32.8 A·h)" in shown
    assert "(6560 ± 31 g)" in shown
    assert "(7.40 ± 0.50 of 12.00 µm)" in shown
    assert "(60.7 °C)" in shown


@pytest.mark.parametrize("width", [80, 120])
async def test_the_banner_of_a_dead_line_says_how_to_start_it_again(width):
    app = app_on(invented.InventedDesk(invented.troubled(), is_alive=False))

    async with app.run_test(size=(width, 24)) as pilot:
        await settle(app, pilot)
        app.pull()
        banner = row_with(app, "collector not running")

    assert "(2 s): linewatch run FILE starts it" in banner
    assert len(banner) <= width


async def test_a_line_whose_collector_lives_is_not_told_to_be_started():
    app = app_on(
        invented.InventedDesk(invented.line()),
        wall_ns=lambda: invented.NOON + 3600 * invented.S,
    )

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        assert "starts it" not in text_of(app)


async def test_a_handover_without_a_collector_does_not_call_the_record_running():
    live = app_on(invented.InventedDesk(invented.line()))
    dead = app_on(invented.InventedDesk(invented.line(), is_alive=False))
    said = []
    for app in (live, dead):
        async with app.run_test(size=(120, 50)) as pilot:
            await settle(app, pilot)
            app.pull()
            await press(app, pilot, "H")
            said.append(row_with(app, "  recording     "))

    assert said[0].split() == ["recording", "runs"]
    assert "not seen to run: last heard at 12:00:00" in said[1]


async def test_what_was_last_known_of_a_link_stands_in_brackets():
    app = app_on(invented.InventedDesk(invented.line(), is_alive=False))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        app.pull()
        await press(app, pilot, "k")
        shown = text_of(app)

    links = invented.line().links
    assert shown.count("(connected)") == len(links) + 1
    assert not re.search(r"(?<!\()\bconnected", shown.replace("not connected", ""))


async def test_a_link_that_was_not_connected_is_told_whole_on_a_dead_line_in_eighty_columns():
    app = app_on(invented.InventedDesk(invented.troubled(), is_alive=False))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        app.pull()
        await press(app, pilot, "k")
        assert "(not connected)" in row_with(app, "rectifiers  ")
