"""The line view, seen through the pilot."""

from dataclasses import replace

import pytest

from linewatch.core.readings import Quality
from linewatch.ui.draw.bands import alarm_rows
from linewatch.ui.draw.line import layout_of, other_figure, tank_row
from linewatch.ui.draw.rows import Look
from linewatch.ui.marks import is_new
from tests.ui import invented
from tests.ui.seen import app_on, lines_of, press, row_with, settle, text_of


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
async def test_every_tank_can_be_reached_at_every_size(size):
    desk = invented.InventedDesk(invented.troubled(long=True))
    app = app_on(desk)

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        reached = {app.live.body.choice}
        await pilot.press("down")
        for _ in range(40):
            reached.add(app.live.body.choice)
            app.live.action_do("down")
            reached.add(app.live.body.choice)

    assert reached == {f"tank {tank.id}" for tank in desk.shown.tanks}


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
async def test_every_tank_stands_on_the_ribbon_without_scrolling(size):
    picture = invented.line(long=True)
    app = app_on(invented.InventedDesk(picture))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        numbers = "".join(span.text for span in app.live.head.rows[1].spans)

    last_digits = [tank.number[-1] for tank in picture.tanks]
    assert [sign for sign in numbers if sign.isdigit()].count("1") >= last_digits.count("1")
    assert len(picture.tanks) * 2 <= len(numbers) <= size[0]


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
async def test_the_cursor_is_always_in_sight(size):
    app = app_on(invented.InventedDesk(invented.line(long=True)))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        for key in ("end", "up", "up", "home", "pagedown", "pagedown", "pageup"):
            await press(app, pilot, key)
            body = app.live.body
            at = [row.target for row in body.rows].index(body.choice)
            assert body.top <= at < body.top + body.size.height


async def test_a_bad_value_is_a_word_and_never_a_number():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        nickel = row_with(app, "10 Bright nickel ")
        strike = row_with(app, " 7 Copper strike ")
        chromium = row_with(app, "11 Chromium ")

    assert "sensor" in nickel
    assert strike.count("silent") == 2
    assert "stale" in chromium


async def test_a_value_outside_its_window_has_a_mark_beside_it():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)

        assert "54.2▼" in row_with(app, " 9 Bright nickel ")
        assert "941▲▲" in row_with(app, " 2 Soak clean ")
        assert "24.0~" in row_with(app, " 5 Acid activate ")


async def test_figures_keep_their_columns_while_they_change():
    desk = invented.InventedDesk(invented.line())
    app = app_on(desk)

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        before = row_with(app, " 9 Bright nickel ")
        desk.shown = invented.line(second=7)
        app.pull()
        after = row_with(app, " 9 Bright nickel ")

    assert before != after
    assert len(before) == len(after)
    places = [index for index, sign in enumerate(before) if sign == "."]
    assert places == [index for index, sign in enumerate(after) if sign == "."]


async def test_a_well_line_is_quiet_and_says_so():
    app = app_on(invented.InventedDesk(invented.line(long=True)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        roles = {
            span.role
            for sheet in (app.live.head, app.live.body, app.live.foot)
            for row in sheet.rows
            for span in row.spans
        }
        shown = text_of(app)

    assert "no alarm stands" in shown
    assert roles <= {"plain", "quiet", "strong", "head", "band", "key", "gauge", "now"}


async def test_the_newest_alarm_and_the_number_behind_it_stand_at_the_bottom():
    app = app_on(invented.InventedDesk(invented.troubled(long=True)))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        [first] = [line for line in text_of(app).splitlines() if "unseen" in line]

    assert first.startswith(" [!!!] 11:54:20 2 Soak clean: level high-high")
    assert first.rstrip().endswith("4 of 6 unseen")


async def test_values_lost_with_one_link_are_said_once_at_the_bottom_by_the_link():
    picture = invented.troubled()
    lost = next(each for each in picture.alarms if each.group)
    many = tuple(
        replace(lost, id=f"r{n}.current.bad-quality", subject=f"r{n}", state="unacknowledged")
        for n in range(71)
    )
    app = app_on(invented.InventedDesk(replace(picture, alarms=many)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        shown = text_of(app)

    assert "link rectifiers is not connected: 71 values unreadable" in shown
    assert "strike-1: current unreadable" not in shown


async def test_a_flood_is_announced_with_its_first_out():
    picture = replace(invented.troubled(), flood=True, first_out="nickel-1.temperature.low")
    app = app_on(invented.InventedDesk(picture))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        assert "alarm flood, begun at 9 Bright nickel; 4 of 6 unseen" in text_of(app)
        await press(app, pilot, "a")
        assert "3 of one cause: link rectifiers" in text_of(app)


async def test_a_flood_that_a_consequence_began_is_begun_where_its_cause_is():
    picture = replace(invented.troubled(), flood=True, first_out="nickel-1.temperature.low")
    cause = next(each for each in picture.alarms if each.subject == "soak-1")
    alarms = tuple(
        replace(each, behind=cause.id) if each.id == picture.first_out else each
        for each in picture.alarms
    )
    app = app_on(invented.InventedDesk(replace(picture, alarms=alarms)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        assert "alarm flood, begun at 2 Soak clean" in text_of(app)


@pytest.mark.parametrize("width", [160, 148, 120, 80])
async def test_no_name_is_cut_while_there_is_room_and_no_two_are_cut_alike(width):
    picture = invented.line(long=True)
    wanted = ("Rinse after chromium", "Rinse after cyanide", "Rinse before nickel")
    tanks = list(picture.tanks)
    for index, name in enumerate(wanted):
        tanks[index] = replace(tanks[index], name=name, number=str(901 + index))
    app = app_on(invented.InventedDesk(replace(picture, tanks=tuple(tanks))))

    async with app.run_test(size=(width, 50)) as pilot:
        await settle(app, pilot)
        rows = [row_with(app, f" {number} Rin")[10:] for number in (901, 902, 903)]

    if width >= 120:
        assert all(row.startswith(name) for row, name in zip(rows, wanted, strict=True))
    else:
        assert len({row[:14] for row in rows}) == len(wanted)
        assert rows[0].startswith(wanted[0])
        assert all("…" in row[:14] for row in rows[1:])


@pytest.mark.parametrize(
    ("over_s", "shown"), [(68, "OUT+1m10s"), (3590, "OUT+59m"), (3900, "OUT+1h05m")]
)
async def test_a_load_that_is_overdue_says_by_how_much_in_its_column(over_s, shown):
    picture = invented.line()
    load = replace(picture.tanks[8].load, pull_utc_ns=picture.utc_ns - over_s * invented.S)
    tanks = (*picture.tanks[:8], replace(picture.tanks[8], load=load), *picture.tanks[9:])
    app = app_on(invented.InventedDesk(replace(picture, tanks=tanks)))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        assert row_with(app, " 9 Bright nickel ").rstrip().endswith(shown)


@pytest.mark.parametrize(
    ("pull_s", "dwell_s", "shown"),
    [(285, 1200.0, "4m43s"), (285, 1570.0, "OUT+1m10s"), (-68, 1200.0, "OUT+1m10s")],
)
async def test_a_load_is_due_at_the_earlier_of_its_thickness_and_longest_dwell(
    pull_s, dwell_s, shown
):
    """The screen's time is two seconds past the picture's."""
    picture = invented.line()
    load = replace(
        picture.tanks[8].load,
        since_utc_ns=picture.utc_ns - round(dwell_s * invented.S),
        dwell_s=dwell_s,
        longest_s=1500.0,
        pull_utc_ns=picture.utc_ns + pull_s * invented.S,
    )
    tanks = (*picture.tanks[:8], replace(picture.tanks[8], load=load), *picture.tanks[9:])
    desk = invented.InventedDesk(replace(picture, tanks=tanks))
    app = app_on(desk, steady_s=lambda: 100.0)

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        assert row_with(app, " 9 Bright nickel ").rstrip().endswith(shown)


async def test_the_next_loads_out_are_told_with_their_times():
    app = app_on(invented.InventedDesk(invented.line(long=True)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        line = row_with(app, " next out ")

    assert line.startswith(" next out  9 Bright nickel: 4708 in 1m33s")


async def test_a_line_that_does_not_record_says_since_when():
    from dataclasses import replace

    from linewatch.core.view import RecordingPicture

    stopped = RecordingPicture(
        running=False, since_utc_ns=invented.NOON - 61 * invented.S, reason="disk full"
    )
    app = app_on(invented.InventedDesk(replace(invented.line(), recording=stopped)))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        assert "NOT RECORDING since 11:58:59" in text_of(app)


async def test_an_empty_store_waits_for_the_first_picture():
    app = app_on(invented.InventedDesk(None))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        assert "waiting for the first picture" in text_of(app)
        await press(app, pilot, "a", "enter", "slash", "t", "x", "d", "escape")


@pytest.mark.parametrize(("missed_ah", "mark"), [(0.0, ""), (7.9, ""), (8.1, "*")])
def test_a_charge_is_marked_only_where_more_may_be_missing_than_its_uncertainty(
    missed_ah, mark
):
    picture = invented.line()
    tank = next(each for each in picture.tanks if each.charge is not None)
    charge = replace(
        tank.charge,
        cathodic_ah=400.0,
        anodic_ah=0.0,
        uncertainty_ah=8.0,
        unmetered_s=90.0,
        missed_ah=missed_ah,
    )
    look = Look(width=160, height=50, now_ns=invented.NOON)

    tank = replace(tank, charge=charge)
    row = tank_row(tank, layout_of([tank], look), look)
    shown = "".join(each.text for each in row.spans)

    assert f" 400.0{mark} " in shown


@pytest.mark.parametrize(
    ("unseen", "has_gone", "mark"),
    [(2, False, "[!! ]"), (0, False, " !!  "), (2, True, "(!! )"), (0, True, "<!! >")],
)
def test_a_position_whose_alarms_have_gone_wears_the_mark_of_gone(unseen, has_gone, mark):
    tank = replace(
        invented.line().tanks[0],
        alarms=2,
        worst="high",
        unacknowledged=unseen,
        has_gone=has_gone,
    )
    look = Look(width=120, height=40, now_ns=invented.NOON)
    shown = tank_row(tank, layout_of([tank], look), look)

    assert shown.spans[0].text == mark
    name = next(span for span in shown.spans if tank.name in span.text)
    assert name.role.startswith("high") is not has_gone


@pytest.mark.parametrize("count", [12, 30])
def test_the_ribbon_frames_what_has_gone_where_there_is_room_and_never_in_colour(count):
    from linewatch.ui.draw.ribbon import ribbon_rows

    gone = replace(invented.line().tanks[0], alarms=1, worst="high", has_gone=True)
    tanks = tuple(replace(gone, id=f"t{n}") for n in range(count))
    look = Look(width=80, height=40, now_ns=invented.NOON)
    _, vessels = ribbon_rows(replace(invented.line(), tanks=tanks), look, "")
    told = vessels.spans[1]

    assert told.text.strip() == ("(!!)" if count == 12 else "*")
    assert told.role == "quiet"


@pytest.mark.parametrize(
    ("kind", "value", "side", "said"),
    [
        ("heat-sink", 69.4, "high", "sink 69.4 ▲"),
        ("flow", 0.0, "low", "flow 0.0 ▼"),
        ("conductivity", 1310.0, "high", "cond. 1310 ▲"),
        ("draught", -410.0, "low-low", "drau. -410 ▼▼"),
        ("turbidity", 8.4, "high-high", "turbi. 8.4 ▲▲"),
        ("ph", 4.12, "", "pH 4.12"),
    ],
)
def test_a_figure_outside_its_window_keeps_its_label_where_its_unit_has_no_room(
    kind, value, side, said
):
    name = f"rinse-1.{kind}"
    tank = next(each for each in invented.line().tanks if each.id == "rinse-1")
    tank = replace(tank, figures={kind: invented.figure(name, value, side=side)}, charge=None)
    look = Look(width=78, height=24, now_ns=invented.NOON)
    row = tank_row(tank, layout_of([tank], look), look)

    assert said in "".join(span.text for span in row.spans)


async def test_a_key_of_another_view_says_where_it_works():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "A")
        assert "all seen: not here, but in alarms (a)" in text_of(app)
        assert not app.desk.requests


def test_a_long_name_is_whole_where_nothing_stands_beside_it_and_the_columns_stay():
    rinse = next(each for each in invented.line().tanks if each.id == "rinse-1")
    tanks = [
        replace(rinse, id=f"r{k}", name=name, figures=figures)
        for k, (name, figures) in enumerate(
            [
                ("Rinse before nickel", rinse.figures),
                ("Rinse before nickel A", {"temperature": warm()}),
                ("Rinse before a very long word that has no room at all", rinse.figures),
                ("Rinse", rinse.figures),
            ]
        )
    ]
    look = Look(width=78, height=24, now_ns=invented.NOON)
    layout = layout_of(tanks, look)
    rows = ["".join(s.text for s in tank_row(each, layout, look).spans) for each in tanks]

    assert " Rinse before nickel  " in rows[0]
    assert "…" in rows[1]
    assert "…" in rows[2]
    assert len({len(each) for each in rows}) == 1
    assert len({each.index("310") for each in (rows[0], rows[2], rows[3])}) == 1


def warm():
    return invented.figure("rinse-1.temperature", 55.0, (45, 60))


@pytest.mark.parametrize(
    ("size", "told"),
    [((60, 20), ("54.2▼", "1188", "1m33s")), ((40, 12), ("54.2▼", "1188")), ((24, 8), ())],
)
async def test_a_small_window_gives_up_figures_one_after_the_other(size, told):
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        row = next(line for line in lines_of(app) if "[!! ]" in line and " 9 " in line)

    assert "Bright" in row
    for each in told:
        assert each in row


@pytest.mark.parametrize(("alarms", "mark"), [(0, "  └  "), (1, "[!! ]")])
def test_a_position_whose_alarms_follow_from_one_elsewhere_is_marked_quietly(alarms, mark):
    tank = replace(
        invented.line().tanks[0],
        follows=2,
        alarms=alarms,
        unacknowledged=alarms,
        worst="high" if alarms else "",
    )
    look = Look(width=120, height=40, now_ns=invented.NOON)

    assert tank_row(tank, layout_of([tank], look), look).spans[0].text == mark


@pytest.mark.parametrize(("width", "said"), [(160, "3 highest, 4 of 6 unseen"), (80, "3 !!!")])
def test_of_several_that_ask_for_most_haste_the_bar_says_how_many(width, said):
    picture = invented.troubled()
    left = 3
    alarms = []
    for each in picture.alarms:
        is_raised = left > 0 and is_new(each.state)
        left -= is_raised
        alarms.append(replace(each, priority="highest" if is_raised else "low"))
    look = Look(width=width, height=40, now_ns=picture.utc_ns)
    (first,) = alarm_rows(replace(picture, alarms=tuple(alarms)), look, 1)

    assert said in "".join(each.text for each in first.spans)


def test_of_one_that_asks_for_most_haste_the_bar_counts_nothing():
    picture = invented.troubled()
    look = Look(width=160, height=40, now_ns=picture.utc_ns)
    (first,) = alarm_rows(picture, look, 1)

    assert sum(each.priority == "highest" for each in picture.alarms) <= 1
    assert "highest" not in "".join(each.text for each in first.spans)


def test_where_a_rectifiers_link_is_lost_what_is_read_of_the_bath_stays_in_sight():
    picture = invented.line()
    tank = next(each for each in picture.tanks if each.id == "nickel-1")
    lost = {
        name: invented.figure(f"rect-nickel-1.{name}", None, quality=Quality.NOT_CONNECTED)
        for name in ("current", "voltage", "ripple")
    }
    read = {"ph": invented.figure("nickel-1.ph", 4.1)}
    torn = {"ph": invented.figure("nickel-1.ph", None, quality=Quality.SENSOR_FAULT)}

    assert other_figure(replace(tank, figures={**lost, **read})).kind == "ph"
    assert other_figure(replace(tank, figures={**lost, **torn})).kind == "ph"
    assert other_figure(replace(tank, figures=lost)).kind == "ripple"


def test_a_position_whose_only_alarm_is_shelved_wears_its_mark_and_not_that_of_a_consequence():
    tank = replace(invented.line().tanks[0], follows=2, shelved="highest")
    look = Look(width=120, height=40, now_ns=invented.NOON)

    assert tank_row(tank, layout_of([tank], look), look).spans[0].text == "z!!!z"
