"""Every key once: no clash, every key does something, the card and the help have them all."""

from collections import Counter

import pytest

from linewatch.ui.draw.naming import kind_of
from linewatch.ui.keys import ALL, EVERYWHERE, KEYS, MOVES, Keys, UnknownKeyId, bindings
from linewatch.ui.screens.actions import ACTIONS
from linewatch.ui.screens.finding import commands
from linewatch.ui.screens.views import VIEWS
from tests.ui import invented
from tests.ui.seen import app_on, press, settle, text_of


@pytest.mark.parametrize("view", sorted(VIEWS))
def test_no_key_means_two_things_in_one_view(view):
    here = [each for each in ALL if view in each.where or EVERYWHERE in each.where]
    pressed = Counter(key for each in here for key in each.key.split(","))

    assert [key for key, count in pressed.items() if count > 1] == []


def test_every_key_names_views_that_exist():
    places = {place for each in ALL for place in each.where} - {EVERYWHERE}

    assert places <= set(VIEWS)


def test_every_key_does_something():
    in_views = {"zoom-in", "zoom-out", "pan-back", "pan-on", "to-now", "loads-too", "well"}
    in_views |= {"sign", "all-well"}
    moves = {each.id for each in MOVES}

    assert {each.id for each in KEYS} - in_views - moves == set(ACTIONS) & {
        each.id for each in KEYS
    }
    assert in_views.isdisjoint(ACTIONS)


def test_every_key_is_bound_by_its_id():
    assert {each.id for each in bindings()} == {each.id for each in ALL}


def test_the_card_to_print_holds_every_key_and_fits_a_sheet():
    card = Keys().card()

    for each in ALL:
        assert each.tells in card
    assert max(len(line) for line in card.splitlines()) <= 120
    assert card.isascii()


@pytest.mark.parametrize("view", sorted(VIEWS))
def test_the_palette_offers_every_command_of_a_view(view):
    offered = {entry.target.partition(" ")[2] for entry in commands(Keys(), view)}
    here = {each.id for each in KEYS if view in each.where or EVERYWHERE in each.where}

    assert offered == here - {"palette"}


def test_a_mapping_for_a_key_that_does_not_exist_is_refused_by_name():
    with pytest.raises(UnknownKeyId, match="no key is called allarms"):
        Keys({"allarms": "f3"})


async def test_a_remapped_key_works_and_footer_help_and_card_name_it():
    app = app_on(invented.InventedDesk(invented.line()), keys={"alarms": "f3", "units": "U"})

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        assert "F3 alarms" in text_of(app)
        await press(app, pilot, "a")
        assert app.live.view.NAME == "line"
        await press(app, pilot, "f3")
        assert app.live.view.NAME == "alarms"
        await press(app, pilot, "u")
        assert app.units == "metric"
        await press(app, pilot, "U")
        assert app.units == "us"

    assert "F3 " in app.keys.card()


async def test_a_command_is_found_by_name_and_done():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "ctrl+p", *"metric", "enter")

        assert app.units == "us"


@pytest.mark.parametrize(
    ("typed", "view", "about"),
    [
        ("chromium", "tank", "tank chromium-1"),
        ("4708", "load", "load 4708"),
        ("level high-high", "alarms", "alarm soak-1.level.high-high"),
        ("heat-sink nickel-2", "trend", "tag rect-nickel-2.heat-sink"),
        ("carrier", "baths", "additive nickel/carrier"),
        ("link rect", "links", "link rectifiers"),
    ],
)
async def test_anything_is_found_by_typing(typed, view, about):
    app = app_on(invented.InventedDesk(invented.troubled()))
    keys = ["space" if sign == " " else "minus" if sign == "-" else sign for sign in typed]

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "slash", *keys, "enter")

        assert view == app.live.view.NAME
        assert about in {app.live.about, app.live.view.subject}


async def test_a_search_for_nothing_finds_nothing_and_leads_nowhere():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "slash", *"zzz", "enter")

        assert app.live.view.NAME == "line"
        assert app.screen is app.live


async def test_q_closes_the_screen():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await pilot.press("q")

    assert app.return_value == 0


@pytest.mark.parametrize("view", sorted(VIEWS))
async def test_every_key_of_a_view_may_be_pressed_on_every_kind_of_row(view):
    desk = invented.InventedDesk(invented.troubled())
    app = app_on(desk, initials="AB")
    here = [each.id for each in KEYS if view in each.where]
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        subject = {"tank": "tank nickel-1", "load": "load 4708", "trend": "tank nickel-1"}
        app.live.go(view, subject.get(view, ""))
        await settle(app, pilot)
        # A fault in a key ends the program, and this test with it.
        for choice in {kind_of(each): each for each in app.live.body.targets()}.values():
            for key_id in here:
                app.live.go_home()
                app.live.go(view, subject.get(view, ""))
                app.live.body.choose(choice)
                app.live.action_do(key_id)
                await settle(app, pilot)
                while app.screen is not app.live:
                    app.pop_screen()
                    await pilot.pause()
        assert app.is_running
