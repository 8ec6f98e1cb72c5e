"""What the laboratory found in a bath, on screen."""

from dataclasses import replace

import pytest

from linewatch.core.view import DutyPicture
from linewatch.ui.draw.figures import label_of
from linewatch.ui.text import cells
from tests.ui import invented
from tests.ui.seen import app_on, lines_of, press, settle, text_of


def desk_with(past):
    desk = invented.InventedDesk(invented.line(), past=past)
    due = DutyPicture(
        id="analyse-nickel",
        text="analyse nickel in Nickel bath",
        subject="nickel",
        due_utc_ns=invented.NOON - 3600 * invented.S,
    )
    desk.shown = replace(desk.shown, duties=(due,))
    return desk


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 50)])
async def test_one_key_shows_a_baths_analyses_with_limits_rules_and_what_is_due(size):
    app = app_on(desk_with(invented.nickel_found()))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "b", "@bath nickel", "V")
        await settle(app, pilot)
        shown = " ".join(text_of(app).split())
        await press(app, pilot, "escape")
        back = app.live.view.NAME

    assert "OVERDUE 2026-03-29 11:00:00 analyse nickel in Nickel bath" in shown
    assert "control limits" in shown
    assert "66 g/L" in shown
    assert "65 to 75" in shown
    assert "beyond three standard deviations" in shown
    assert back == "baths"


async def test_a_position_leads_to_the_analyses_of_its_bath():
    app = app_on(desk_with(invented.nickel_found()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        app.live.go("tank", "tank nickel-1")
        await settle(app, pilot)
        await press(app, pilot, "V")
        await settle(app, pilot)

        assert app.live.view.subject == "bath nickel"
        assert "66 g/L" in text_of(app)


async def test_a_position_of_the_line_leads_to_its_baths_laboratory_or_says_why_not():
    app = app_on(desk_with(invented.nickel_found()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank rinse-3", "V")
        refused, still = text_of(app), app.live.view.NAME
        await press(app, pilot, "@tank nickel-1", "V")
        await settle(app, pilot)

        assert (still, app.live.view.NAME) == ("line", "laboratory")
        assert app.live.view.subject == "bath nickel"
        assert "nothing is analysed here: it is baths that are, and what is let go" in refused


async def test_a_bath_without_analyses_says_how_they_are_written_down():
    app = app_on(desk_with([]))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "b", "@bath nickel", "V")
        shown = text_of(app)
        app.live.go("tank", "tank rinse-3")
        await settle(app, pilot)
        await press(app, pilot, "V")

        assert "no analysis stands in the record" in shown
        assert "nothing is analysed here: it is baths that are, and what is let go" in text_of(
            app
        )


@pytest.mark.parametrize("width", [160, 80, 40, 12, 3])
async def test_no_row_of_the_laboratory_is_wider_than_the_screen(width):
    app = app_on(desk_with(invented.nickel_found()))

    async with app.run_test(size=(width, 24)) as pilot:
        await settle(app, pilot)
        app.live.go("laboratory", "bath nickel")
        await settle(app, pilot)
        rows = app.live.body.rows

    assert rows
    assert all(cells("".join(span.text for span in row.spans)) <= width for row in rows)
    assert lines_of(app)


def never_analysed():
    desk = desk_with([])
    boric = DutyPicture(
        id="nickel.analysis-boric-acid",
        text="analyse boric acid in Nickel bath",
        subject="nickel",
        due_utc_ns=invented.NOON + 86400 * invented.S,
        substance="boric acid",
    )
    late = replace(boric, id="late", substance="Ni", due_utc_ns=invented.NOON - invented.S)
    later = replace(boric, id="later", substance="pH", done_utc_ns=invented.NOON)
    desk.shown = replace(desk.shown, duties=(later, boric, late))
    return desk


async def test_a_substance_that_was_never_analysed_is_due_now_in_its_own_words():
    app = app_on(never_analysed())

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "b", "@bath nickel")
        bath = " ".join(text_of(app).split())
        await press(app, pilot, "V")
        await settle(app, pilot)
        rows = [" ".join(each.split()) for each in lines_of(app)]
        await press(app, pilot, "escape", "H")
        await settle(app, pilot)
        handed = " ".join(text_of(app).split())

    assert "overdue: Ni" in bath
    assert "due now, never analysed: boric acid" in bath
    assert "due now analyse boric acid in Nickel bath; never analysed" in rows
    assert sum(each.startswith("due now") for each in rows) == 1
    assert any(each.startswith("OVERDUE") and "never analysed" in each for each in rows)
    order = [handed.index(each) for each in ("OVERDUE", "due now analyse boric", "due 2026")]
    assert order == sorted(order)
    assert "now analyse boric acid in Nickel bath; never analysed" in handed


async def test_a_tank_without_a_bath_leads_to_its_own_analyses():
    picture = invented.line()
    tank = next(each for each in picture.tanks if each.bath is None)
    due = DutyPicture(
        id="analyse-cn", text="analyse CN", subject=tank.id, due_utc_ns=invented.NOON
    )
    desk = invented.InventedDesk(replace(picture, duties=(due,)), past=[])
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        for where in ("line", "tank"):
            app.live.go(where, f"tank {tank.id}")
            await settle(app, pilot)
            await press(app, pilot, f"@tank {tank.id}" if where == "line" else "home", "V")
            assert app.live.view.NAME == "laboratory"
            assert app.live.view.subject == f"tank {tank.id}"
            assert "analyse CN" in text_of(app)
            assert f"laboratory: {tank.called}" in text_of(app)


async def test_where_nothing_is_worked_out_every_figure_that_is_read_is_explained():
    picture = invented.line()
    tank = next(
        each for each in picture.tanks if each.charge is None and "temperature" in each.figures
    )
    app = app_on(invented.InventedDesk(picture))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, f"@tank {tank.id}", "x")
        shown = text_of(app)

    assert "no figure here" not in shown
    for name in tank.figures:
        assert f"{tank.called}, {label_of(name)}" in shown
