"""The check sheet and the rinses on screen: filled by key, signed, read at every size."""

from dataclasses import replace

import pytest

from linewatch.core.commands import LogCheck, SignSheet
from linewatch.core.sheets.seen import CheckPicture
from linewatch.ui.text import cells
from tests.ui import invented
from tests.ui.seen import app_on, lines_of, press, row_with, settle, text_of


def desk_with(**more):
    desk = invented.InventedDesk(invented.line())
    desk.shown = replace(desk.shown, rinses=(invented.RINSE,), levels=(invented.LEVEL,), **more)
    return desk


async def test_what_is_found_is_written_down_by_one_key_or_in_words():
    desk = desk_with()
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "S", "@check nickel-1/anodes", "g")
        await press(app, pilot, "@check nickel-1/bags", "enter")
        await press(app, pilot, *"torn", "enter")
        assert "y for bad, n for well" in str(app.screen.query_one("#fault").render())
        await press(app, pilot, "y", "enter")

    assert desk.requests == [
        LogCheck(who="MK", subject="nickel-1", item="anodes", found="good"),
        LogCheck(who="MK", subject="nickel-1", item="bags", found="torn", is_bad=True),
    ]


async def test_a_whole_position_is_good_by_one_key_but_for_what_was_found_already():
    now = invented.line().utc_ns
    torn = CheckPicture(
        subject="nickel-1", item="bags", found="torn", is_bad=True, who="AB", utc_ns=now - 10**9
    )
    desk = desk_with(checks=(torn,))
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "S", "@check nickel-1/anodes", "Y")
        await press(app, pilot, "@tag nickel-1.temperature", "Y")

    (first, second) = desk.requests
    assert first == second
    assert first == LogCheck(
        who="MK", subject="nickel-1", item="surface,air,anodes,panel,bars", found="good"
    )


async def test_a_sheet_is_signed_and_tells_of_its_blanks_first():
    desk = desk_with()
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "S", "G")
        shown = " ".join(str(each.render()) for each in app.screen.query("Static"))
        await press(app, pilot, "enter")

    assert "positions have blanks" in shown
    assert desk.requests == [SignSheet(who="MK")]


async def test_what_was_found_in_an_earlier_shift_is_a_blank_again():
    now = invented.line().utc_ns
    old = CheckPicture(
        subject="nickel-1",
        item="bags",
        found="whole as of yesterday",
        is_bad=False,
        who="AB",
        utc_ns=now - 20 * 3600 * 10**9,
    )
    new = replace(old, item="anodes", found="two baskets low", is_bad=True, utc_ns=now - 10**9)
    app = app_on(desk_with(checks=(old, new)))

    async with app.run_test(size=(120, 200)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "S")
        shown = text_of(app)

    assert "two baskets low" in shown
    assert "whole as of yesterday" not in shown


async def test_a_rinse_above_its_limit_says_so_and_what_it_needs():
    app = app_on(desk_with())

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "R")
        shown = " ".join(text_of(app).split())

    for told in (
        "184 ± 139",
        "needs 0.8 L/min more",
        "2 of 12 loads left it above its limit",
        "3.8 more than usual",
    ):
        assert told in shown


@pytest.mark.parametrize("width", [160, 80, 40, 12])
@pytest.mark.parametrize("view", ["rinses", "sheet"])
async def test_no_row_is_wider_than_the_screen(view, width):
    app = app_on(desk_with())

    async with app.run_test(size=(width, 24)) as pilot:
        await settle(app, pilot)
        app.live.go(view)
        await settle(app, pilot)
        rows = [*app.live.body.rows, *app.live.lower.rows]

    assert rows
    longest = max(cells("".join(span.text for span in row.spans)) for row in rows)
    assert longest <= width


async def test_a_position_tells_of_its_rinse_and_of_its_water():
    app = app_on(desk_with())

    async with app.run_test(size=(160, 60)) as pilot:
        await settle(app, pilot)
        app.live.go("tank", "tank rinse-3")
        await settle(app, pilot)
        rinse = " ".join(text_of(app).split())
        app.live.go("tank", "tank nickel-1")
        await settle(app, pilot)
        water = " ".join(text_of(app).split())

    assert "184 ± 139 mL a load" in rinse
    assert "falls 20.8 L/h" in water
    assert "3.8 more than usual" in water


@pytest.mark.parametrize("width", [160, 80])
async def test_a_blank_stands_between_all_columns_of_the_rinses(width):
    wide = replace(
        invented.RINSE,
        exit_us=51100.0,
        limit_us=13000.0,
        film_ml=11590.0,
        film_pm_ml=11557.0,
        film_ml_per_m2=9400.0,
        film_pm_ml_per_m2=9300.0,
    )
    desk = desk_with()
    desk.shown = replace(desk.shown, rinses=(wide,))
    app = app_on(desk)

    async with app.run_test(size=(width, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "R")
        told = row_with(app, "13000 ").split()

    begin = told.index("51100")
    figures = ["51100", "13000", "11590", "±", "11557", "9400", "±", "9300"]
    assert told[begin : begin + len(figures)] == figures


def signed_desk(signed_ns: int):
    """A desk on which the sheet was signed when a tank read 70.0 °C, and its pH not at all."""
    read = {"read soak-1 level": 890.0, "read soak-1 temperature": 70.0}
    unread = {
        "why nickel-1 ph": "sensor fault",
        "low nickel-1 ph": 3.9,
        "high nickel-1 ph": 4.5,
    }
    event = invented.event(9, "sheet", what="sheet-whole", by="AB", **read, **unread)
    event = replace(event, event=replace(event.event, utc_ns=signed_ns, subject="invented"))
    desk = desk_with(sheet_signed=(signed_ns, "AB"))
    desk.shown = replace(desk.shown, line_id="invented")
    desk.past.append(event)
    return desk


async def test_a_signed_sheet_shows_what_was_signed_and_says_so():
    desk = signed_desk(invented.NOON - 60 * invented.S)
    live = next(each for each in desk.shown.tanks if each.id == "soak-1").figures["temperature"]
    app = app_on(desk)

    async with app.run_test(size=(120, 200)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "S")
        await settle(app, pilot)
        rows = [" ".join(each.split()) for each in lines_of(app)]

    assert live.value != 70.0
    assert any("signed by AB at 11:59:00, as it was read then" in each for each in rows)
    assert sum(each.startswith("temp 70.0 °C") for each in rows) == 1
    # In the order of the live sheet, however the record has it.
    labels = [each.split()[0] for each in rows if each.startswith(("temp 70.0", "level 890"))]
    assert labels == ["temp", "level"]
    assert any(
        each.startswith("pH ........ 3.9 to 4.5 sensor fault: read it by hand") for each in rows
    )


async def test_a_sheet_that_was_signed_in_an_earlier_shift_is_of_now():
    app = app_on(signed_desk(invented.NOON - 20 * 3600 * invented.S))

    async with app.run_test(size=(120, 200)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "S")
        await settle(app, pilot)
        shown = text_of(app)

    assert "not signed yet" in shown
    assert "sensor fault" not in shown
