"""A load between two positions is seen in the line, among the loads, and by itself."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewatch.core.view import HeldPicture, TankPicture, WayPicture
from linewatch.ui.draw.bands import pulls_rows
from linewatch.ui.draw.line import line_rows
from linewatch.ui.draw.loads import record_rows
from linewatch.ui.draw.rows import Look
from linewatch.ui.draw.ways import way_rows
from linewatch.ui.text import cells
from tests.ui import invented
from tests.ui.seen import app_on, press, settle

SIZES = [(160, 50), (120, 40), (80, 24)]


def tank(name: str, number: str, **more) -> TankPicture:
    return TankPicture(id=name, name=f"Tank {name}", kind="rinse", number=number, **more)


def way(before: str, to: tuple[str, ...] = (), *, out_s: float = 40.0, load="7208", **more):
    return WayPicture(
        load=load,
        number=more.pop("number", load),
        before=before,
        to=to,
        since_utc_ns=invented.NOON,
        out_s=out_s,
        **more,
    )


def shown(tanks, ways, width: int = 120, *, live: bool = True) -> list[str]:
    look = Look(width=width, height=40, now_ns=invented.NOON, is_live=live)
    return ["".join(each.text for each in row.spans) for row in line_rows(tanks, look, ways)]


FOUR = (
    tank("a", "9", state="empty"),
    tank("b", "10", state="empty"),
    tank("c", "11", state="empty"),
    tank("d", "12", state="empty"),
)


def busy(number: str):
    picture = invented.line(long=True)
    load = next(each.load for each in picture.tanks if each.load is not None)
    return replace(load, number=number)


def test_a_load_on_its_way_stands_where_it_left_with_its_time_and_where_it_goes():
    first, second, *_ = shown(FOUR, [way("a", ("b",))])

    assert first.split() == ["9", "Tank", "a", "→", "7208", "40s", "to", "10"]
    assert second.split() == ["10", "Tank", "b", "_"]


def test_in_eighty_columns_it_says_where_it_goes_and_no_time_that_reads_as_the_time_left():
    first, *_ = shown(FOUR, [way("a", ("b",))], 80)

    assert first.split() == ["9", "Tank", "a", "→", "to", "10"]


def test_in_eighty_columns_a_load_long_in_the_air_says_for_how_long_whatever_is_usual():
    first, *_ = shown(FOUR, [way("a", ("b",), out_s=763.0)], 80)

    assert first.split() == ["9", "Tank", "a", "→", "air", "12m"]


@pytest.mark.parametrize("width", [80, 120, 160])
@pytest.mark.parametrize("out_s", [0.0, 59.0, 1799.0])
@pytest.mark.parametrize("to", [(), ("b",), ("b", "c", "d")])
def test_the_columns_stand_where_they_stood(width, out_s, to):
    bare = shown(FOUR, [], width)
    with_way = shown(FOUR, [way("a", to, out_s=out_s)], width)

    assert [cells(line) for line in with_way] == [cells(line) for line in bare]
    assert with_way[1:] == bare[1:]
    assert with_way[0].index("→") == bare[0].index("_")


def test_one_of_several_positions_is_told_by_the_first_and_the_last():
    assert shown(FOUR, [way("a", ("b", "c", "d"))])[0].split()[-2:] == ["to", "10-12"]


def test_three_digits_are_never_cut():
    three = tuple(replace(each, number=str(114 + k)) for k, each in enumerate(FOUR))

    assert shown(three, [way("a", ("b", "c", "d"))])[0].split()[-1] == "115-117"
    assert shown(three, [way("a", ("b", "c", "d"))], 80)[0].split()[-1] == "115-117"
    assert shown(three, [way("a", ("b",))], 80)[0].split()[-2:] == ["to", "115"]


def test_where_nobody_knows_where_it_goes_it_is_on_its_way():
    assert shown(FOUR, [way("a")])[0].split()[-2:] == ["40s", "out"]
    assert shown(FOUR, [way("a")], 80)[0].split()[-2:] == ["gone", "40s"]
    assert shown(FOUR, [way("a", out_s=1799.0)], 80, live=False)[0].split()[-1] == "gone"


def test_where_the_next_load_hangs_already_it_stands_where_it_goes():
    full = (replace(FOUR[0], state="in", load=busy("7209")), *FOUR[1:])
    first, second, *_ = shown(full, [way("a", ("b",))])

    assert "7209" in first
    assert second.split()[-5:] == ["→", "7208", "40s", "from", "9"]


def test_a_tank_with_a_load_in_it_never_shows_another_ones_way():
    full = tuple(replace(each, state="in", load=busy("7209")) for each in FOUR[:2])

    assert shown(full, [way("a", ("b",))]) == shown(full, [])


def test_what_is_not_live_is_in_brackets():
    assert "(40s)" in shown(FOUR, [way("a", ("b",))], live=False)[0]


def test_a_number_that_means_nothing_is_not_shown():
    assert shown(FOUR, [way("a", load="t-1772000123", number="")])[0].split()[3:5] == [
        "→",
        "40s",
    ]


def on_the_way():
    """Return a line with a load on its way, and where it goes."""
    picture = invented.line(long=True)
    before, to = [each for each in picture.tanks if each.load is None and each.number][:2]
    gone = way(before.id, (to.id,), load="7777", part="Lever")
    return replace(picture, ways=(gone,)), to


@pytest.mark.parametrize("size", SIZES)
async def test_the_loads_view_lists_the_loads_on_their_way_whole(size):
    picture, to = on_the_way()
    app = app_on(invented.InventedDesk(picture))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p")
        rows = ["".join(s.text for s in each.spans) for each in app.live.body.rows]

    assert any("on their way: 1, the longest out first" in each for each in rows)
    (told,) = [each for each in rows if each.strip().startswith("7777")]
    assert "40s  from " in told
    assert f" to {to.number} " in told


async def test_a_load_on_its_way_opens_and_says_where_it_is():
    picture, *_ = on_the_way()
    look = Look(width=120, height=40, now_ns=invented.NOON)
    rows = [
        "".join(s.text for s in each.spans) for each in record_rows(picture, "7777", None, look)
    ]

    assert "on its way" in rows[0]
    assert "for 40s from " in rows[0]


def test_without_a_load_on_its_way_there_is_no_list():
    assert way_rows(invented.line(), Look(width=80, height=24, now_ns=0)) == []


@pytest.mark.parametrize("size", SIZES)
async def test_the_hand_over_lists_a_load_on_hold_though_nothing_about_it_was_odd(size):
    hold = HeldPicture(load="7208", utc_ns=invented.NOON, who="MK", why="thin at the tip")
    app = app_on(invented.InventedDesk(replace(invented.line(long=True), held=(hold,))))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "H")
        rows = ["".join(s.text for s in each.spans) for each in app.live.body.rows]

    (at,) = [k for k, each in enumerate(rows) if "loads on hold: 1" in each]
    assert "7208" in rows[at + 1]
    assert "MK: thin at the tip" in rows[at + 1]
    assert app.live.body.rows[at + 1].target == "load 7208"


def late_line(count: int = 1):
    """Return a line with loads that hang in the air, beside others that are due."""
    picture = invented.line(long=True)
    before, to = [each for each in picture.tanks if each.load is None and each.number][:2]
    late = tuple(
        way(before.id, (to.id,), load=str(4118 + k), out_s=703.0, allowed_s=300.0)
        for k in range(count)
    )
    return replace(picture, ways=late), before


@pytest.mark.parametrize("width", [60, 80, 120, 160])
def test_a_time_in_the_air_is_marked_once_it_is_longer_than_it_may_be(width):
    late = shown(FOUR, [way("a", ("b",), out_s=703.0, allowed_s=300.0)], width)[0]
    usual = shown(FOUR, [way("a", ("b",), out_s=703.0, allowed_s=800.0)], width)[0]

    assert "▲" in late
    assert "11m" in late
    assert "▲" not in usual
    assert cells(late) == cells(usual)


def test_a_load_that_was_told_to_hang_is_marked_though_nothing_else_is_known():
    assert "11m43s▲" in shown(FOUR, [way("a", ("b",), out_s=703.0, hangs=True)])[0]


def test_a_time_in_the_air_is_marked_by_its_colour_too():
    look = Look(width=160, height=40, now_ns=invented.NOON)
    (first, *_) = line_rows(FOUR, look, [way("a", ("b",), out_s=703.0, allowed_s=300.0)])

    assert [each.role for each in first.spans if "11m43s" in each.text] == ["outside"]


def test_what_hangs_in_the_air_comes_first_of_what_is_next_out():
    picture, before = late_line()
    look = Look(width=160, height=40, now_ns=picture.utc_ns)
    text = "".join(each.text for each in pulls_rows(picture, look, 1)[0].spans)

    assert text.startswith(f" in the air after {before.number} ")
    assert "4118 11m43s   next out  " in text
    assert " in " in text.partition("next out")[2]


@pytest.mark.parametrize("width", [80, 120, 160])
def test_what_hangs_in_the_air_and_has_no_room_is_counted(width):
    picture, _ = late_line(6)
    look = Look(width=width, height=40, now_ns=picture.utc_ns)
    text = "".join(each.text for each in pulls_rows(picture, look, 1)[0].spans)
    named = text.count("11m43s")

    assert 1 <= named < 6
    assert (f"+{6 - named} " if width == 80 else f"and {6 - named} more") in text


def test_the_list_of_loads_says_which_of_those_on_their_way_hang():
    picture, _ = late_line()
    look = Look(width=160, height=40, now_ns=picture.utc_ns)
    rows = ["".join(s.text for s in each.spans) for each in way_rows(picture, look)]

    assert "11m43s ▲ from " in rows[-1]
    assert "hangs in the air, at most 5m00s here" in rows[-1]
