"""The trend: zoom, pan, cursor and what it asks of the desk."""

import re

from linewatch.core.events import EventKind
from linewatch.ui.draw.stays import loads_at, stays_among
from linewatch.ui.draw.trend import SPANS
from tests.ui import invented
from tests.ui.seen import NOW, app_on, press, settle, text_of


class Asked(invented.InventedDesk):
    spans: list[tuple[str, int, int]]

    def series(self, tag, start_utc_ns, end_utc_ns, width):
        self.spans = [
            *getattr(self, "spans", []),
            (tag, end_utc_ns - start_utc_ns, end_utc_ns),
        ]
        return super().series(tag, start_utc_ns, end_utc_ns, width)


async def test_zoom_reaches_from_ten_minutes_to_ninety_days():
    desk = Asked(invented.line())
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t", "plus", "11x zoom-in")
        assert desk.spans[-1][1] == SPANS[0][0]
        await press(app, pilot, "minus", "11x zoom-out")

    assert desk.spans[-1][:2] == ("nickel-1.temperature", 90 * 86400 * invented.S)


async def test_pan_goes_back_and_the_present_is_one_key_away():
    desk = Asked(invented.line())
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t", "comma", "comma")
        assert desk.spans[-1][2] == NOW - 3600 * invented.S
        assert "in the past" in text_of(app)
        await press(app, pilot, "0")
        assert desk.spans[-1][2] >= NOW
        assert "in the past" not in text_of(app)


async def test_the_cursor_shows_values_and_the_gap_says_that_nothing_was_recorded():
    desk = Asked(invented.line())
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t", *["left"] * 4)
        assert "mean " in text_of(app)
        assert "least " in text_of(app)
        await press(app, pilot, "50x previous")
        assert "nothing good was recorded" in text_of(app)


async def test_another_tag_is_chosen_by_moving_the_cursor():
    desk = Asked(invented.line())
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t", "down", "down")

    assert desk.spans[-1][0] == "nickel-1.current"


async def test_nothing_is_asked_again_while_nothing_has_changed():
    desk = Asked(invented.line())
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t")
        asked = len(desk.spans)
        for second in range(1, 6):
            desk.shown = invented.line(second=second)
            app.pull()
            await settle(app, pilot)

    assert len(desk.spans) == asked


async def test_a_tag_that_was_never_recorded_says_so():
    from dataclasses import replace

    picture = invented.line()
    tank = picture.tanks[1]
    nowhere = {"temperature": invented.figure("soak-1.nowhere", 1.0)}
    tanks = (picture.tanks[0], replace(tank, figures=nowhere), *picture.tanks[2:])
    app = app_on(Asked(replace(picture, tanks=tanks)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "down", "t")
        assert "soak-1.nowhere was never recorded" in text_of(app)


async def test_what_is_shown_can_be_saved_and_says_where():
    saved = []

    def save(name, series, picture):
        saved.append((name, [each.tag for each in series], picture[:4]))
        return f"/exports/{name}.csv"

    app = app_on(Asked(invented.line()), save=save)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t", "w")
        assert "saved as /exports/trend-nickel-1-2026-" in text_of(app)

    assert re.fullmatch(r"[A-Za-z0-9.-]+-\d{4}-\d\d-\d\d-\d{6}", saved[0][0])
    assert saved[0][1:] == (["nickel-1.temperature"], "<svg")


async def test_a_tank_shows_the_last_hour_of_the_chosen_figure():
    desk = Asked(invented.line())
    app = app_on(desk)

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "enter", "down")
        assert "9 Bright nickel, level, the last hour" in text_of(app)

    assert desk.spans[-1][:2] == ("nickel-1.level", 3600 * invented.S)


async def test_the_cursor_names_the_load_that_was_in():
    told = [
        ("came in", {"what": "in", "load": ""}, -900),
        ("the load is number 4109", {"what": "named", "load": "4109"}, -899),
        ("load 4109 left", {"what": "out", "load": "4109", "dwell_s": 600.0}, -300),
        ("load 77 left", {"what": "out", "load": "77", "dwell_s": 60.0}, -1500),
    ]
    events = [
        invented.event(
            number, text, kind=EventKind.LOAD, subject="nickel-1", after_s=after_s, **values
        )
        for number, (text, values, after_s) in enumerate(told, 1)
    ]
    stays = stays_among(events, {"nickel-1"})

    def at(after_s: int) -> str:
        return loads_at(stays, invented.NOON + after_s * invented.S)

    assert at(-1530) == "load 77 in"
    assert at(-600) == "load 4109 in"
    assert at(-200) == at(-1000) == ""
    assert stays_among(events, {"nickel-2"}) == ()

    app = app_on(invented.InventedDesk(invented.line(), events=events))
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t")
        assert "^" in text_of(app)
        seen = set()
        for _ in range(40):
            await press(app, pilot, "left")
            seen.add("load 4109 in" in text_of(app))

    assert seen == {True, False}


async def test_what_happened_long_ago_is_marked_in_the_span_in_which_it_happened():
    day_ns = 86400 * invented.S
    alarm = invented.event(
        1,
        "temperature low",
        kind=EventKind.ALARM,
        subject="nickel-1",
        alarm="nickel-1.temperature.low",
        move="occur",
        after_s=-20 * 86400,
    )
    other = invented.event(
        2,
        "temperature low",
        kind=EventKind.ALARM,
        subject="acid-1",
        alarm="acid-1.temperature.low",
        move="occur",
        after_s=-19 * 86400,
    )
    desk = invented.InventedDesk(invented.line(), past=[alarm, other])
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t")
        assert app.past["nickel-1.temperature"] == []
        await press(app, pilot, "20x zoom-out")
        assert SPANS[-1][0] > 20 * day_ns
        assert [each.number for each in app.past["nickel-1.temperature"]] == [1]
        [axis] = [line for line in text_of(app).splitlines() if "└" in line]
    assert axis.count("!") == 1


async def opens(*keys):
    """Return what is asked first of a trend that is opened so, and what it says."""
    desk = Asked(invented.line())
    app = app_on(desk)
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, *keys, "t")
        await settle(app, pilot)
        return desk.spans[-1][0], text_of(app)


async def test_the_trend_of_a_rectifier_begins_with_its_current_and_volts():
    first, shown = await opens("r", "@rectifier rect-nickel-1")

    assert first == "nickel-1.current"
    rows = [line for line in shown.splitlines() if line.startswith("  9 Bright nickel ")]
    kinds = [" ".join(line.split()[3:]).partition(" ")[0] for line in rows]
    assert kinds[:2] == ["current", "volts"]


async def test_a_tank_that_was_opened_from_its_rectifier_begins_with_the_current_too():
    first, _ = await opens("r", "@rectifier rect-nickel-1", "enter", "enter")

    assert first == "nickel-1.current"


async def test_a_trend_begins_with_what_was_looked_at():
    from_a_load, _ = await opens("p", "@load 4708")
    from_a_bath, _ = await opens("b", "@bath nickel")
    from_the_line, _ = await opens("@tank nickel-1", "enter")

    assert from_a_load == "nickel-1.current"
    assert from_a_bath == "nickel-1.charge"
    assert from_the_line == "nickel-1.temperature"
