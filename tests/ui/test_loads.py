"""Loads on screen: what each received, those that left, and what people say of them."""

from dataclasses import replace

import pytest

from linewatch.core.commands import BakeLoad, DecideLoad, InspectLoad, LoadCard, PlaceLoad
from linewatch.core.events import EventKind
from linewatch.core.loads.record import newest_records
from linewatch.core.pages import Table
from linewatch.ui.draw.bands import left_words
from linewatch.ui.draw.lists import load_list, loads_of
from linewatch.ui.draw.loads import odd_of, record_rows
from linewatch.ui.draw.page import table_rows
from linewatch.ui.draw.parts import load_rows
from linewatch.ui.draw.rows import Look
from linewatch.ui.text import cells
from tests.ui import invented
from tests.ui.seen import app_on, lines_of, press, row_with, settle, text_of

GONE = "3999"


def desk_with_loads():
    desk = invented.InventedDesk(invented.line())
    here = next(tank.load.number for tank in desk.shown.tanks if tank.id == "nickel-1")
    desk.past = [
        invented.stay(1, GONE, "soak-1", minutes_ago=70.0, dwell="too short: 540 s"),
        invented.nickel_stay(2, GONE, minutes_ago=55.0),
        invented.stay(3, here, "soak-1", minutes_ago=20.0),
    ]
    return desk, here


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
async def test_a_load_shows_every_stay_and_layer_at_every_size(size):
    desk, _ = desk_with_loads()
    app = app_on(desk)

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {GONE}", "enter")
        shown = " ".join(text_of(app).split())

    assert app.live.view.NAME == "load"
    assert f"load {GONE}" in shown
    for told in (
        "5.63 ± 0.11",
        "120.5 ± 1.2",
        "59.5 to 61.0 °C",
        "5 min to 15 min",
        "too short: 540 s",
        "Not seen by any signal",
    ):
        assert told in shown


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
async def test_names_of_positions_and_parts_are_whole_where_figures_leave_room(size):
    desk, here = desk_with_loads()
    tanks = tuple(
        replace(
            each,
            number="113",
            name="Rinse after passivate",
            load=replace(each.load, part="Lever, long"),
        )
        if each.load is not None and each.load.number == here
        else each
        for each in desk.shown.tanks
    )
    rinse = replace(invented.RINSE, tank="nickel-1")
    desk.shown = replace(desk.shown, tanks=tanks, rinses=(rinse,))
    app = app_on(desk)

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {here}")
        loads = [row for row in lines_of(app) if row.startswith(f" {here} ")]
        await press(app, pilot, "R")
        rinses = lines_of(app)

    (row,) = loads
    assert "113 Rinse after passivate" in row
    assert "Lever, long" in row
    assert any(each.startswith("  113 Rinse after passivate ") for each in rinses)


@pytest.mark.parametrize("width", [160, 80, 40, 12, 3])
async def test_no_row_of_a_record_is_wider_than_the_screen(width):
    desk, _ = desk_with_loads()
    app = app_on(desk)

    async with app.run_test(size=(width, 24)) as pilot:
        await settle(app, pilot)
        app.live.go("load", f"load {GONE}")
        await settle(app, pilot)
        rows = app.live.body.rows

    assert rows
    assert all(cells("".join(span.text for span in row.spans)) <= width for row in rows)


async def test_loads_that_left_are_listed_with_what_they_received_and_lead_to_their_record():
    desk, here = desk_with_loads()
    app = app_on(desk)

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p")
        gone = row_with(app, GONE)
        assert "Ni 5.6" in gone
        assert "odd: 1" in gone
        assert not any(line.strip().startswith(f"{here} Tap") for line in lines_of(app))

        await press(app, pilot, f"@load {GONE}", "enter", "enter")
        assert (app.live.view.NAME, app.live.view.subject) == ("tank", "tank nickel-1")


async def test_what_was_just_said_of_a_load_stands_on_its_record_at_once():
    desk, _ = desk_with_loads()
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {GONE}", "enter")
        assert "nothing was decided" in text_of(app)
        desk.events.append(
            invented.event(
                9,
                "held by MK: dull patches",
                kind=EventKind.LOAD,
                subject=f"load/{GONE}",
                what="decided",
                decision="held",
                why="dull patches",
                load=GONE,
                trip=1,
            )
        )
        app.look_for_news()
        await settle(app, pilot)

        assert "held by MK: dull patches" in text_of(app)


async def test_a_load_is_decided_on_with_a_reason():
    desk, _ = desk_with_loads()
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {GONE}", "y", *"rew", "enter", "enter")
        assert "why: write a few words" in str(app.screen.query_one("#fault").render())
        await press(app, pilot, *"pits", "enter")

    assert desk.requests == [DecideLoad(who="MK", load=GONE, decision="rework", why="pits")]


async def test_who_releases_a_load_reads_first_what_the_record_holds_against_it():
    desk, _ = desk_with_loads()
    asked = []

    def against(number: str, decision: str) -> tuple[str, ...]:
        asked.append((number, decision))
        return ("Ni worked out as 3.1 [um]: too thin", "odd on its way: load overdue")

    app = app_on(desk, initials="MK", against=against)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {GONE}", "y", *"rel", "enter")
        await app.workers.wait_for_complete()
        await pilot.pause()
        shown = str(app.screen.query_one("#late").render())
        await press(app, pilot, *"mended", "enter")

    assert asked == [(GONE, "released")]
    assert shown.splitlines() == [
        "against it: Ni worked out as 3.1 [um]: too thin",
        "against it: odd on its way: load overdue",
    ]
    assert desk.requests == [DecideLoad(who="MK", load=GONE, decision="released", why="mended")]


async def test_what_was_found_is_noted_from_the_record_or_the_list():
    desk, _ = desk_with_loads()
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {GONE}", "enter", "m")
        await press(app, pilot, *"thickness", "tab", *"8.4um", "tab", *"rim", "enter")

    assert desk.requests == [
        InspectLoad(who="MK", load=GONE, what="thickness", found="8.4um", place="rim")
    ]


async def test_a_card_says_only_what_was_filled_in_and_areas_in_the_units_on_screen():
    desk, here = desk_with_loads()
    app = app_on(desk, initials="MK", units="us")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {here}", "j", *"tap", "tab", "tab", *"-1", "enter")
        assert "above 0" in str(app.screen.query_one("#fault").render())
        await press(app, pilot, "home", "delete", "delete", *"1", "enter")

    (card,) = desk.requests
    assert (card.load, card.part, card.lot) == (here, "tap", "")
    assert card.area_dm2 == pytest.approx(9.290304)  # 1 ft2 = 9.290304 dm2, NIST SP 811
    assert isinstance(card, LoadCard)


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        (("4", "2", "0", "1"), PlaceLoad(who="MK", load="4201", tank="nickel-1")),
        (("minus",), "out"),
    ],
)
async def test_the_load_of_a_tank_is_told_by_key(keys, expected):
    desk, here = desk_with_loads()
    app = app_on(desk, initials="MK")
    if expected == "out":
        expected = PlaceLoad(who="MK", load=here, tank="nickel-1", is_in=False)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "enter", "W", *keys, "enter")

    assert desk.requests == [expected]


async def test_a_load_is_put_where_it_is_from_the_list():
    desk, _ = desk_with_loads()
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {GONE}", "W", *"dryer", "enter", "enter")

    assert desk.requests == [PlaceLoad(who="MK", load=GONE, tank="dry-1")]


@pytest.mark.parametrize(
    ("typed", "oven", "is_in"), [("into", "oven-1", True), ("out of", "", False)]
)
async def test_the_bake_of_a_load_begins_and_ends_by_key(typed, oven, is_in):
    desk = invented.InventedDesk(invented.line(long=True))
    desk.past = [invented.nickel_stay(1, GONE, minutes_ago=30.0)]
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {GONE}", "O", *typed, "enter")

    assert desk.requests == [BakeLoad(who="MK", load=GONE, oven=oven, is_in=is_in)]


async def test_a_load_is_explained_by_its_own_record():
    asked = []
    desk, _ = desk_with_loads()
    app = app_on(desk, explain=lambda _picture, about: asked.append(about) or ())

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {GONE}", "enter", "x")

    assert asked == [f"load {GONE}"]


async def test_a_layer_of_several_tanks_is_added_up_with_what_grows_now():
    desk, here = desk_with_loads()
    desk.past = [invented.nickel_stay(4, here, minutes_ago=12.0, layer_target_um=12.0)]
    app = app_on(desk)
    load = next(tank.load for tank in desk.shown.tanks if tank.id == "nickel-1")
    together = 5.63 + load.thickness_um

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p", f"@load {here}", "enter")
        said = " ".join(row_with(app, "layer so far").split())

    assert said.startswith(f"layer so far {together:.2f}")
    assert "of 12.00 µm Ni of a tank before and this one" in said


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 40)])
async def test_the_hand_over_lists_loads_of_the_shift_that_left_too_thin_or_odd(size):
    desk = invented.InventedDesk(invented.line())
    desk.past = [
        invented.nickel_stay(1, "3990", minutes_ago=500.0, thickness_um=2.0),
        invented.nickel_stay(2, "3991", minutes_ago=60.0),
        invented.nickel_stay(3, "3992", minutes_ago=50.0, dwell="too short: 60 s"),
        invented.nickel_stay(4, "3993", minutes_ago=40.0, thickness_um=4.2),
        # On its way from one tank to the next: it has not left.
        invented.nickel_stay(5, "3994", minutes_ago=1.0, thickness_um=0.1),
    ]
    app = app_on(desk)

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "H")
        await settle(app, pilot)
        shown = lines_of(app)
        thin, odd = row_with(app, "3993"), row_with(app, "3992")
        await press(app, pilot, "@load 3993", "enter")

    assert any("loads that left: 3, too thin: 1, odd besides: 1" in each for each in shown)
    assert "Ni 4.20 µm too thin, wanted 5.00" in thin
    assert "odd: 1" in odd
    assert not any(name in each for each in shown for name in ("3990", "3991", "3994"))
    assert app.live.view.NAME == "load"


async def test_the_hand_over_says_so_when_nothing_odd_was_seen():
    desk = invented.InventedDesk(invented.line())
    desk.past = [invented.nickel_stay(1, GONE, minutes_ago=60.0)]
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "H")
        await settle(app, pilot)

        assert row_with(app, "loads that left: 1, nothing odd was seen")


async def test_the_hand_over_shows_the_gravest_load_first_and_its_worst_oddity():
    desk = invented.InventedDesk(invented.line())
    desk.past = [
        invented.nickel_stay(1, "3991", minutes_ago=60.0, dwell="60 s", reversed_ah=49.9),
        invented.nickel_stay(
            2,
            "3992",
            minutes_ago=50.0,
            dwell="60 s",
            alarms_told="polarity wrong",
            alarms_priority="highest",
        ),
        invented.nickel_stay(3, "3993", minutes_ago=40.0, dwell="60 s"),
        invented.nickel_stay(4, "3994", minutes_ago=30.0, thickness_um=4.2),
    ]
    app = app_on(desk)

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "H")
        await settle(app, pilot)
        rows = [row_with(app, number) for number in ("3994", "3991", "3992", "3993")]
        shown = lines_of(app)

    at = [next(k for k, each in enumerate(shown) if row in each) for row in rows]
    assert at == sorted(at)
    assert "49.9 A·h flowed the wrong way" in rows[1]
    assert "polarity wrong" in rows[2]


def shown_loads(desk, width: int = 160):
    look = Look(width=width, height=50, now_ns=desk.shown.utc_ns)
    records = newest_records([each.event for each in desk.past], 20)
    rows = load_list(desk.shown, look, odd_of(records, desk.shown, look))
    return {
        row.target: ("".join(each.text for each in row.spans), [e.role for e in row.spans])
        for row in rows
    }


@pytest.mark.parametrize("width", [160, 120, 80])
def test_a_load_that_may_be_spoilt_is_marked_as_soon_as_that_is_known(width):
    desk, here = desk_with_loads()
    grave = {"alarms_told": "polarity wrong", "alarms_priority": "highest"}
    desk.past = [invented.nickel_stay(3, here, minutes_ago=20.0, **grave)]
    text, roles = shown_loads(desk, width)[f"load {here}"]

    assert " ! " in text
    assert "outside" in roles
    if width >= 120:
        assert "alarms: polarity wrong" in text


def test_what_is_odd_and_not_grave_is_counted_without_the_mark():
    desk, here = desk_with_loads()
    desk.past = [
        invented.stay(3, here, "soak-1", minutes_ago=20.0, dwell="too short: 540 s"),
        invented.stay(4, here, "soak-1", minutes_ago=10.0, is_first=True),
    ]
    text, _ = shown_loads(desk)[f"load {here}"]

    assert "odd: 1" in text
    assert " ! " not in text


def test_what_happens_in_the_tank_where_it_hangs_is_known_at_once():
    desk, here = desk_with_loads()
    tanks = tuple(
        replace(each, load=replace(each.load, grave=("alarms: polarity wrong",)))
        if each.load is not None and each.load.number == here
        else each
        for each in desk.shown.tanks
    )
    desk.shown, desk.past = replace(desk.shown, tanks=tanks), []

    assert "! " in shown_loads(desk)[f"load {here}"][0]
    assert "alarms: polarity wrong" in shown_loads(desk)[f"load {here}"][0]


def test_a_finished_layer_that_is_too_thin_marks_the_load_and_one_in_progress_does_not():
    desk, here = desk_with_loads()
    bath = next(e.bath for e in desk.shown.tanks if e.load and e.load.number == here)
    for name, is_marked in (("elsewhere", True), (bath, False)):
        desk.past = [
            invented.nickel_stay(3, here, minutes_ago=20.0, layer_target_um=12.0, bath=name)
        ]
        text, _ = shown_loads(desk)[f"load {here}"]
        assert ("too thin" in text) is is_marked
        assert (" ! " in text) is is_marked


def test_the_next_load_of_a_number_is_not_taken_for_the_one_that_was_spoilt():
    desk, here = desk_with_loads()
    grave = {"alarms_told": "polarity wrong", "alarms_priority": "highest"}
    desk.past = [invented.nickel_stay(3, here, minutes_ago=300.0, **grave)]
    desk.past[0].event.values["kind"] = "dry"

    assert " ! " not in shown_loads(desk)[f"load {here}"][0]


def test_a_position_and_the_loads_write_a_dwell_and_its_limits_in_one_way():
    desk, _ = desk_with_loads()
    load = next(each.load for each in desk.shown.tanks if each.load is not None)
    load = replace(load, dwell_s=421.0, shortest_s=120.0, longest_s=210.0)
    look = Look(width=80, height=40, now_ns=desk.shown.utc_ns)
    text = "\n".join("".join(s.text for s in each.spans) for each in load_rows(load, look))

    assert "for 7m01s" in text
    assert "shortest 2m00s, longest 3m30s" in text


@pytest.mark.parametrize("width", [40, 60, 80])
def test_when_a_load_must_be_out_is_whole_in_the_lowest_window(width):
    desk, _ = desk_with_loads()
    look = Look(width=width, height=12, now_ns=desk.shown.utc_ns)

    for tank, load in loads_of(desk.shown):
        words = left_words(load, look).text
        row = next(each for each in load_list(desk.shown, look) if load.number in each.target)
        assert words in "".join(each.text for each in row.spans), (tank.id, words)


def test_why_a_layer_is_not_known_is_whole_in_eighty_columns():
    desk, _ = desk_with_loads()
    why = "39.9 A·h flowed the wrong way: what was laid down may have dissolved"
    ruined = invented.nickel_stay(
        2, GONE, minutes_ago=55.0, thickness_um=None, mass_g=None, thickness_refused=why
    )
    look = Look(width=80, height=24, now_ns=desk.shown.utc_ns)
    record = newest_records([ruined.event], 1)[0]
    rows = [
        "".join(s.text for s in e.spans) for e in record_rows(desk.shown, GONE, record, look)
    ]

    assert f"thickness of Ni: {why}" in " ".join(" ".join(rows).split())
    assert not any("…" in each for each in rows)


def test_a_column_in_which_nothing_stands_takes_no_room_on_the_screen():
    table = Table(heading="", columns=("layer", "found", "wanted"), rows=(("Ni", "", "5 µm"),))
    heads, *_ = table_rows(table, Look(width=80, height=24, now_ns=0))

    assert "".join(each.text for each in heads.spans).split() == ["layer", "wanted"]
