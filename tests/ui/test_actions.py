"""What a person asks of the line: with initials, through the desk, and told the outcome."""

import re
from dataclasses import replace

import pytest

from linewatch.core.commands import (
    Acknowledge,
    CaptureFrames,
    HandReading,
    LogAddition,
    MarkMeter,
    ResetLatch,
    ReturnToService,
    SetLineState,
    Shelve,
    TakeOutOfService,
    Unshelve,
    WriteNote,
)
from linewatch.core.view import CapturePicture
from linewatch.ui.draw.lists import capture_rows
from linewatch.ui.draw.rows import Look, wrap_path
from tests.ui import invented
from tests.ui.seen import app_on, press, settle, text_of


def desk_and_app(**wishes):
    desk = invented.InventedDesk(invented.troubled())
    return desk, app_on(desk, **wishes)


async def test_initials_are_asked_at_the_first_action_and_not_again():
    desk, app = desk_and_app()

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "space", "m", "k", "enter")
        assert desk.requests == [Acknowledge(who="MK", alarm="soak-1.level.high-high")]

        await press(app, pilot, "down", "space")
        assert desk.requests[1] == Acknowledge(who="MK", alarm="nickel-1.temperature.low")


async def test_initials_are_asked_again_in_the_next_shift():
    now = [100.0]
    desk, app = desk_and_app(initials="AB", steady_s=lambda: now[0])

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "space")
        now[0] += 8 * 3600.0
        await press(app, pilot, "space", "c", "d", "enter")

    assert [each.who for each in desk.requests] == ["AB", "CD"]


async def test_leaving_the_question_for_initials_asks_nothing_of_the_line():
    desk, app = desk_and_app()

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "space", "escape")

    assert desk.requests == []


async def test_initials_that_are_none_are_refused_with_a_remedy():
    desk, app = desk_and_app()

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "space", "minus", "enter")
        said = str(app.screen.query_one("#fault").render())
        await press(app, pilot, "escape")

    assert "letters, as MK" in said
    assert desk.requests == []


async def test_space_on_a_tank_acknowledges_what_waits_there_and_nothing_else():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "space")
        assert "nothing here waits to be seen" in text_of(app)
        await press(app, pilot, "@tank nickel-1", "space")

    assert desk.requests == [Acknowledge(who="MK", alarm="nickel-1.temperature.low")]


async def test_all_are_acknowledged_by_one_key():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "A")

    assert desk.requests == [Acknowledge(who="MK", alarm="*")]


async def test_shelving_asks_why_and_for_how_long():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "z", "enter")
        assert "why: write a few words" in str(app.screen.query_one("#fault").render())
        await press(app, pilot, *"probe", "tab", "4", "5", "enter")

    assert desk.requests == [
        Shelve(who="MK", alarm="soak-1.level.high-high", for_s=2700.0, why="probe")
    ]


async def test_shelved_alarms_are_brought_back_and_latched_ones_released():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", *["down"] * 5, "L", "down", "Z")

    assert desk.requests == [
        ResetLatch(who="MK", alarm="acid-1.temperature.rate"),
        Unshelve(who="MK", alarm="rinse-1.conductivity.high"),
    ]


async def test_a_tank_goes_out_of_service_with_a_reason_and_comes_back():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "enter", "o", *"liner", "enter")
        await press(app, pilot, "escape", *["down"] * 3, "enter", "o")

    assert desk.requests == [
        TakeOutOfService(who="MK", subject="nickel-1", why="liner"),
        ReturnToService(who="MK", subject="dry-1"),
    ]


async def test_an_addition_is_logged_in_under_five_keys():
    desk, app = desk_and_app(initials="MK")
    keys = ["b", "d", "enter"]

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, *keys)

    assert len(keys) < 5
    assert desk.requests == [
        LogAddition(who="MK", bath="nickel", additive="brightener", amount_ml=244.0)
    ]


@pytest.mark.parametrize("position", ["rinse-1", "dry-1", "soak-1"])
async def test_no_dose_is_offered_where_another_positions_bath_is_due(position):
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "l", f"@tank {position}", "enter", "d")
        shown = text_of(app)

    assert "no additive is counted here" in shown
    assert not [each for each in desk.requests if isinstance(each, LogAddition)]


async def test_an_addition_is_logged_from_its_tank_in_us_units_and_with_a_lot():
    desk, app = desk_and_app(initials="MK", units="us")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "enter", "d")
        await press(app, pilot, "8", "tab", *"L17", "enter")

    [logged] = desk.requests
    assert isinstance(logged, LogAddition)
    # 1 US fluid ounce = 29.5735 mL: NIST SP 811 (2008), appendix B.
    assert logged.amount_ml == pytest.approx(8 * 29.57353, abs=1e-4)
    assert logged.lot == "L17"


@pytest.mark.parametrize("typed", ["0", "lots", "3kg"])
async def test_an_amount_that_is_none_is_refused(typed):
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "b", "d", *typed, "enter")
        said = str(app.screen.query_one("#fault").render())
        await press(app, pilot, "escape")

    assert said.startswith("how much went in")
    assert desk.requests == []


async def test_a_hand_reading_is_taken_in_the_unit_on_screen_or_its_own():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "h", *"temp", "enter")
        await press(app, pilot, *"140", "space", *"degF", "enter")

    [read] = desk.requests
    assert isinstance(read, HandReading)
    assert (read.subject, read.kind, read.unit) == ("nickel-1", "temperature", "degC")
    assert read.value == pytest.approx(60.0, abs=1e-9)


async def test_a_hand_reading_that_cannot_be_is_refused():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "h", *"ph", "enter", *"41", "enter")
        said = str(app.screen.query_one("#fault").render())
        await press(app, pilot, "escape")

    assert "pH lies from -2 to 16" in said
    assert desk.requests == []


async def test_a_note_on_a_load_stands_with_its_tank():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "p", "n", *"ok", "enter")

    assert desk.requests == [WriteNote(who="MK", subject="nickel-1", text="load 4708: ok")]


async def test_the_lines_state_is_chosen_and_said():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "s", *"plann", "enter", "enter")

    assert desk.requests == [SetLineState(who="MK", state="planned-stop")]


def capturing(picture, *, ended: str = ""):
    """Return a picture on which the frames of the rectifiers' link are being captured."""
    capture = CapturePicture(
        subject="rect-nickel-1",
        file="/var/store/line=shop/frames/20260302T120000Z-rectifiers.txt",
        until_utc_ns=invented.NOON + 3600 * invented.S,
        frames=7201,
        bytes=540_000,
        ended=ended,
    )
    links = tuple(
        replace(link, capture=capture) if link.id == "rectifiers" else link
        for link in picture.links
    )
    return replace(picture, links=links)


async def test_a_rectifier_is_marked_serviced_with_what_was_done():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "r", "M", "enter", "f", "a", "n", "enter")

    (asked,) = desk.requests
    assert isinstance(asked, MarkMeter)
    assert asked.rectifier.startswith("rect-")
    assert (asked.what, asked.why) == ("serviced", "fan")


async def test_a_rectifier_goes_out_of_service_with_a_reason():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "r", "o", "f", "a", "n", "enter")

    (asked,) = desk.requests
    assert isinstance(asked, TakeOutOfService)
    assert asked.subject.startswith("rect-")


async def test_raw_frames_of_a_rectifier_are_asked_for_with_a_reason_for_an_hour():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "r", "F", "o", "d", "d", "enter", "enter")

    (asked,) = desk.requests
    assert isinstance(asked, CaptureFrames)
    assert asked.subject.startswith("rect-")
    assert (asked.who, asked.for_s, asked.why) == ("MK", 3600.0, "odd")


async def test_raw_frames_are_offered_among_rectifiers_and_asked_for_in_a_tank_too():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "r")
        shown = text_of(app)
        app.live.go("tank", "tank nickel-1")
        await settle(app, pilot)
        await press(app, pilot, "@tag nickel-1.temperature", "F", *"odd", "enter", "enter")

    assert "F raw frames" in shown
    assert [(type(each), each.subject) for each in desk.requests] == [
        (CaptureFrames, "nickel-1")
    ]


def test_a_files_path_is_broken_behind_its_separators():
    path = "/var/store/line=shop/frames/20260302T120000Z-rectifiers.txt"

    assert wrap_path(path, 34) == [
        "/var/store/line=shop/frames/",
        "20260302T120000Z-rectifiers.txt",
    ]
    assert wrap_path(path, 200) == [path]
    assert "".join(wrap_path(path, 9)) == path


async def test_a_capture_shows_that_it_runs_and_where_its_file_lies_and_the_key_ends_it():
    desk, app = desk_and_app(initials="MK")
    desk.shown = capturing(invented.line())

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "k", "down")
        shown = text_of(app)
        assert re.search("7201 raw frames, 0.5 MB, captured for another (60|59) min", shown)
        assert "20260302T120000Z-rectifiers.txt" in shown
        await press(app, pilot, "F")

    assert desk.requests == [CaptureFrames(who="MK", subject="rectifiers", for_s=0.0)]


@pytest.mark.parametrize(("speed", "left"), [(1.0, "60 min"), (10.0, "6 min"), (60.0, "60 s")])
def test_how_long_a_capture_still_goes_is_told_in_the_walls_time_whatever_the_lines_speed(
    speed, left
):
    picture = capturing(invented.line())
    link = next(each for each in picture.links if each.capture is not None)
    look = Look(width=120, height=40, now_ns=invented.NOON)

    def words(shown: Look) -> str:
        rows = capture_rows(link, shown, speed)
        return " ".join("".join(span.text for span in each.spans) for each in rows)

    assert f"captured for another {left}" in words(look)
    assert "was being captured when last heard" in words(replace(look, is_live=False))


async def test_a_capture_that_is_over_says_how_it_ended_and_may_be_begun_again():
    desk, app = desk_and_app(initials="MK")
    desk.shown = capturing(invented.line(), ended="its time is over")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "k", "down")
        assert "its time is over" in text_of(app)
        await press(app, pilot, "F", "x", "enter", "enter")

    assert [each.for_s for each in desk.requests] == [3600.0]


async def test_what_became_of_a_request_is_told():
    desk, app = desk_and_app(initials="MK")
    desk.refusals[1] = "seen: 2 Soak clean, level high-high: it is seen"

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "space")
        assert "level high-high: refused: it is seen" in text_of(app)
        await press(app, pilot, "space")
        assert "seen: 2 Soak clean, level high-high: done" in text_of(app)


async def test_without_a_collector_a_request_is_saved_and_waits():
    desk, app = desk_and_app(initials="MK")
    desk.is_alive = False

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "space")
        assert "saved; done when the collector is back" in text_of(app)

    assert len(desk.requests) == 1


async def test_requests_are_left_from_a_thread_and_not_from_the_screens_loop():
    import threading

    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "space")

    assert "request" in desk.asked
    assert threading.main_thread().name not in desk.threads


async def test_letters_typed_at_once_with_the_key_that_opens_a_form_are_not_lost():
    desk, app = desk_and_app()

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a")
        await pilot.press("space", "m", "k")
        await settle(app, pilot)
        await press(app, pilot, "enter")

    assert [each.who for each in desk.requests] == ["MK"]


async def test_the_line_cannot_be_asked_for_anything_by_the_keys_that_only_look():
    desk, app = desk_and_app(initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        looks = ["a", "p", "t", "x", "question_mark", "l", "r", "b", "k", "e", "u", "c"]
        await press(app, pilot, *looks, "escape", "enter")

    assert desk.requests == []


async def test_what_was_said_is_taken_away_by_the_next_key_and_stays_while_there_is_none():
    app = app_on(invented.InventedDesk(invented.line()), initials="MK")

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "space")
        assert "nothing here waits" in text_of(app)
        app.pull()
        assert "nothing here waits" in text_of(app)
        await press(app, pilot, "down")
        assert "nothing here waits" not in text_of(app)
        assert "Enter open" in text_of(app)


@pytest.mark.parametrize(("key", "width"), [("n", 80), ("slash", 100)])
async def test_no_letter_of_the_view_stands_beside_a_window_hardly_narrower(key, width):
    app = app_on(invented.InventedDesk(invented.troubled(long=True)), initials="MK")

    async with app.run_test(size=(width, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "down", key)
        await pilot.pause()
        sheet = app.screen.query_one("#sheet").region
        rows = [
            "".join(each.text for each in strip)
            for strip in app.screen._compositor.render_strips()
        ][sheet.y : sheet.bottom]

    assert any("│" in each for each in rows)
    assert {each[: sheet.x].strip() + each[sheet.right :].strip() for each in rows} == {""}
