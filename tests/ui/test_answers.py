"""What people ask of a line: whether what answers is whole, in sight, and says its limits."""

from dataclasses import replace

import pytest

from linewatch.core.events import EventKind
from tests.ui import invented
from tests.ui.seen import app_on, lines_of, press, row_with, settle, text_of


async def test_an_alarm_is_explained_by_its_limit_its_rule_and_what_is_read():
    asked = []
    app = app_on(
        invented.InventedDesk(invented.troubled()),
        explain=lambda _picture, about: asked.append(about) or (),
    )

    async with app.run_test(size=(120, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm nickel-1.temperature.low", "x")
        shown = text_of(app)

    assert "why: 9 Bright nickel: temperature low" in shown
    assert "at first 54.2, limit 58.0 °C" in shown
    assert "read from the device and scaled" in shown
    assert "there is no figure" not in shown


async def test_an_additive_is_explained_by_its_own_name():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "b", "@additive nickel/carrier", "x")

        assert "why: Carrier" in lines_of(app)[0]


def with_alarms(picture, states):
    """Return a line with so many alarms, each in the state that is said."""
    from dataclasses import replace

    one = next(each for each in picture.alarms if each.subject == "nickel-1")
    return replace(
        picture,
        alarms=tuple(
            replace(one, id=f"nickel-1.a{n}.low", state=state) for n, state in enumerate(states)
        ),
    )


async def test_an_alarm_that_the_line_itself_puts_aside_does_not_take_the_cursor_along():
    picture = invented.troubled()
    stands, aside = "unacknowledged", "suppressed"
    desk = invented.InventedDesk(with_alarms(picture, [stands, stands, aside, aside]))
    app = app_on(desk)

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a")
        assert app.live.body.choice == "alarm nickel-1.a0.low"
        desk.shown = with_alarms(picture, [aside, stands, aside, aside])
        app.pull()
        await settle(app, pilot)
        assert app.live.body.choice == "alarm nickel-1.a1.low"
        # Nothing stands for a while; then what does is seen without a key.
        desk.shown = with_alarms(picture, ["normal", aside, aside, aside])
        app.pull()
        await settle(app, pilot)
        desk.shown = with_alarms(picture, [stands, aside, aside, aside])
        app.pull()
        await settle(app, pilot)
        assert app.live.body.choice == "alarm nickel-1.a0.low"
        # Who goes there himself stays there.
        await press(app, pilot, "2x down")
        app.pull()
        await settle(app, pilot)
        assert app.live.body.choice == "alarm nickel-1.a2.low"


DEPOSIT = ("thickness spread", "adhesion", "hidden pores", "oil on the parts", "a single tip")
SOLUTION = ("additive level", "metal contamination", "free against complexed cyanide")
WATER = ("hexavalent chromium at trace level", "free against complexed cyanide")


@pytest.mark.parametrize(
    ("view", "about", "words"),
    [
        ("baths", "bath nickel", SOLUTION),
        ("tank", "tank nickel-1", (*SOLUTION, *DEPOSIT)),
        ("tank", "tank soak-1", ("oil on the parts",)),
        ("tank", "tank cr-reduce", WATER),
        ("tank", "tank scrub", ("concentration of gas in breathing air",)),
        ("tank", "tank rinse-1", ("a dead corner of the tank",)),
        ("rinses", "", ("oil, wetting agent and fines",)),
        ("rectifiers", "", ("contact of a single tip",)),
        ("loads", "", DEPOSIT),
        ("load", "load HERE", DEPOSIT),
        ("help", "", (*DEPOSIT, *SOLUTION, *WATER, "concentration of gas in breathing air")),
    ],
)
async def test_what_no_signal_tells_is_said_where_somebody_would_look(view, about, words):
    picture = invented.troubled(long=True)
    load = next(tank.load.number for tank in picture.tanks if tank.id == "nickel-1")
    app = app_on(invented.InventedDesk(picture))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        app.live.go(view, about.replace("HERE", load))
        await settle(app, pilot)
        shown = " ".join(text_of(app).split())

    for each in words:
        assert each in shown
    assert view == "help" or "not measured: " in shown


async def test_the_whole_name_of_an_additive_stands_at_every_size():
    from dataclasses import replace

    picture = invented.line()
    nickel = next(bath for bath in picture.baths if bath.id == "nickel")
    named = replace(nickel.additives[0], name="Copper brightener", due=False)
    baths = (replace(nickel, additives=(named,)),)
    app = app_on(invented.InventedDesk(replace(picture, baths=baths)))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "b", "down")
        found = [line for line in lines_of(app) if "Copper brightener" in line]

    assert len(found) == 2, "in its row and in the detail"


async def test_an_alarms_whole_text_is_found_by_typing_on_a_small_screen():
    from dataclasses import replace

    picture = invented.troubled()
    text = "more volts than usual for the same current"
    alarms = (replace(picture.alarms[0], text=text), *picture.alarms[1:])
    app = app_on(invented.InventedDesk(replace(picture, alarms=alarms)))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "slash", *"volts")
        rows = ["".join(span.text for span in row.spans) for row in app.screen.sheet.rows]

    assert any(f"alarm {text} " in row for row in rows)
    assert all(len(row) <= 77 for row in rows)


async def test_on_a_small_screen_what_asks_for_somebody_comes_before_what_is_counted():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "enter")
        heads = [line.strip() for line in lines_of(app)]

    assert heads.index("figures") < heads.index("alarms") < heads.index("charge")


async def test_a_handover_counts_as_acts_only_what_people_did():
    started = {"run": "r", "speed": 1.0, "who": "MK"}
    desk = invented.InventedDesk(
        invented.line(),
        events=[
            invented.event(1, "", kind=EventKind.RUN_STARTED, **started),
            invented.event(
                2, "", kind=EventKind.CONFIGURATION, **{"from": "", "to": "1a", "who": "MK"}
            ),
        ],
    )
    app = app_on(desk)
    changed = app_on(
        replace(
            desk,
            events=[
                *desk.events,
                invented.event(
                    3,
                    "",
                    kind=EventKind.CONFIGURATION,
                    **{"from": "1a", "to": "2b", "who": "MK"},
                ),
                invented.event(4, "", who="MK"),
            ],
        )
    )
    said = []
    for each in (app, changed):
        async with each.run_test(size=(120, 50)) as pilot:
            await settle(each, pilot)
            await press(each, pilot, "H")
            said.append(row_with(each, "of what they did"))

    assert "0 entries" in said[0]
    assert "2 entries" in said[1]
