"""What follows from an alarm stands below it, wherever alarms are read."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.ui import invented
from tests.ui.seen import app_on, lines_of, press, row_with, settle, text_of

CAUSE = "nickel-1.temperature.low"


def caused(count: int, state: str = "suppressed"):
    """Return the line on a bad day: so many alarms follow from its cold bath."""
    picture = invented.troubled()
    cause = next(each for each in picture.alarms if each.id == CAUSE)
    others = tuple(each for each in picture.alarms if each.id != CAUSE)
    following = tuple(
        replace(
            cause,
            id=f"rinse-{n}.conductivity.high",
            subject="rinse-1",
            text=f"consequence {n}",
            kind="found",
            state=state,
            behind=CAUSE,
            why="follows from 9 Bright nickel: temperature low",
        )
        for n in range(count)
    )
    return replace(picture, alarms=(*others, cause, *following))


@pytest.mark.parametrize("size", [(160, 50), (120, 40), (80, 24)])
async def test_a_few_consequences_stand_below_their_cause_also_without_a_flood(size):
    app = app_on(invented.InventedDesk(caused(2)))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a")
        shown = lines_of(app)
        cause = next(
            n for n, line in enumerate(shown) if "[!" in line and "temperature low" in line
        )
        assert "standing: 6, 2 behind them" in text_of(app)
        for below, said in ((1, "consequence 0"), (2, "consequence 1")):
            assert "└" in shown[cause + below]
            assert said in shown[cause + below]
            assert "follows" in shown[cause + below]
        assert sum("consequence 0" in line for line in shown) == 1


async def test_many_consequences_are_folded_and_counted_and_enter_opens_and_folds_them():
    app = app_on(invented.InventedDesk(caused(40)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm " + CAUSE)
        assert "└ 40 follow from it" in text_of(app)
        assert "consequence 0 " not in text_of(app)
        await press(app, pilot, "down")
        assert app.live.body.choice == f"fold behind {CAUSE}"
        assert "consequence 0 " not in text_of(app)
        assert "Enter here opens them" in row_with(app, "└ 40 follow from it")
        assert "Enter open " in lines_of(app)[-1]
        await press(app, pilot, "enter")
        assert app.live.body.choice == f"fold behind {CAUSE}"
        assert "Enter here folds them" in row_with(app, "└ 40 follow from it")
        assert "consequence 0 " in text_of(app)
        await press(app, pilot, "4x down", "4x up")
        assert "consequence 0 " in text_of(app)
        await press(app, pilot, "enter")
        assert "consequence 0 " not in text_of(app)


async def test_down_passes_over_what_is_folded():
    app = app_on(invented.InventedDesk(caused(40)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm " + CAUSE)
        order = app.live.body.targets()
        await press(app, pilot, "2x down")
        assert app.live.body.choice == order[order.index("alarm " + CAUSE) + 2]
        assert "consequence" not in app.live.body.choice
        assert "rinse-" not in app.live.body.choice


async def test_nothing_is_asked_of_the_alarms_of_a_tank_where_the_cursor_is_on_a_fold():
    app = app_on(invented.InventedDesk(caused(40, "unacknowledged")), initials="MK")

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm " + CAUSE, "down")
        assert app.live.body.choice == f"fold behind {CAUSE}"
        await press(app, pilot, "space", "z", "o")
        assert "Enter shows those that stand here" in text_of(app)
        assert not app.desk.requests


async def test_an_alarm_that_is_folded_is_shown_to_whoever_is_led_to_it():
    app = app_on(invented.InventedDesk(caused(40)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        app.live.go("alarms", "alarm rinse-7.conductivity.high")
        await settle(app, pilot)
        assert app.live.body.choice == "alarm rinse-7.conductivity.high"
        assert "consequence 7 " in text_of(app)


async def test_a_consequence_says_what_it_follows_from_and_a_cause_how_many_came_with_it():
    app = app_on(invented.InventedDesk(caused(2)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm " + CAUSE)
        assert "2 alarms that came with it" in row_with(app, "behind it")
        await press(app, pilot, "down")
        assert "9 Bright nickel: temperature low" in row_with(app, "follows from")


async def test_the_bar_at_the_bottom_counts_what_follows_behind_the_cause():
    picture = caused(40)
    only = tuple(each for each in picture.alarms if each.id == CAUSE or each.behind)
    app = app_on(invented.InventedDesk(replace(picture, alarms=only)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        assert "(and 40 that follow)" in row_with(app, "temperature low")
        assert "1 of 1 unseen" in text_of(app)


async def test_unseen_consequences_keep_their_cause_first_and_are_counted_as_unseen():
    picture = caused(40, "unacknowledged")
    alarms = tuple(
        replace(each, state="acknowledged", priority="low") if each.id == CAUSE else each
        for each in picture.alarms
        if each.id == CAUSE or each.behind
    )
    app = app_on(invented.InventedDesk(replace(picture, alarms=alarms)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a")
        assert "└ 40 follow from it, 40 unseen" in text_of(app)
        assert "40 of 41 unseen" in text_of(app)


@pytest.mark.parametrize(("count", "said"), [(2, "consequence 1"), (40, "open it to see them")])
async def test_a_shift_hands_a_cause_over_with_what_follows_below_it(count, said):
    app = app_on(invented.InventedDesk(caused(count)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "H")
        shown = lines_of(app)
    cause = next(
        n for n, line in enumerate(shown) if "[!!" in line and "temperature low" in line
    )
    assert "└" in shown[cause + 1]
    assert any(said in line for line in shown[cause + 1 : cause + 3])


async def test_what_follows_from_a_shelved_cause_stands_below_it_where_it_is_shelved():
    picture = caused(2)
    alarms = tuple(
        replace(each, state="shelved", why="known") if each.id == CAUSE else each
        for each in picture.alarms
    )
    app = app_on(invented.InventedDesk(replace(picture, alarms=alarms)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm " + CAUSE)
        shown = lines_of(app)
    shelved = next(n for n, line in enumerate(shown) if "shelved: put aside" in line)
    aside = next(n for n, line in enumerate(shown) if "out of service: for" in line)
    assert any("consequence 0" in line for line in shown[shelved:aside])


async def test_a_tank_says_of_a_consequence_what_it_follows_from():
    app = app_on(invented.InventedDesk(caused(1)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank rinse-1", "enter")
        assert "9 Bright nickel: temperature low" in row_with(app, "follows from")


async def test_a_tank_whose_alarms_all_follow_from_others_does_not_say_that_none_stands():
    picture = caused(1)
    alarms = tuple(
        replace(each, subject="rinse-2") if each.behind else each for each in picture.alarms
    )
    app = app_on(invented.InventedDesk(replace(picture, alarms=alarms)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank rinse-2", "enter")
        shown = text_of(app)

    assert "none stands" not in shown
    assert "none of its own; what follows from others" in shown


async def test_to_see_a_consequence_is_answered_with_its_cause_and_the_cursor_stays():
    app = app_on(invented.InventedDesk(caused(1)), initials="MK")
    here = "alarm rinse-0.conductivity.high"

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", f"@{here}", "space")
        app.pull()
        await settle(app, pilot)
        assert "follows from 9 Bright nickel, temperature low" in text_of(app)
        assert app.live.body.choice == here
        assert app.desk.requests == []


async def test_a_consequence_does_not_ask_for_what_its_cause_may_forbid():
    app = app_on(invented.InventedDesk(caused(2)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", f"@alarm {CAUSE}")
        assert "first do" in text_of(app)
        await press(app, pilot, "@alarm rinse-0.conductivity.high")
        shown = text_of(app)

    assert "first do" not in shown
    assert "if it stays" in shown


@pytest.mark.parametrize("size", [(160, 50), (80, 24)])
async def test_what_a_suspected_cause_holds_back_is_expected_by_no_design(size):
    picture = caused(2)
    waiting = tuple(
        replace(each, behind="") if each.text.startswith("consequence") else each
        for each in picture.alarms
    )
    app = app_on(invented.InventedDesk(replace(picture, alarms=waiting)))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "end")
        shown = lines_of(app)
        seen = " ".join(shown)
        row = next(line for line in shown if "consequence 1" in line)
        assert "follows" in row
        assert "suppressed" not in row
        if size[0] > 80:
            assert "held back: what explains them is suspected" in seen
            assert "9 Bright nickel: temperature low" in seen
            assert "suppressed by design: what the line is doing makes them expected: 1" in seen


def of_the_line(count: int):
    """Return the line on a bad day whose alarms follow from one of the line as a whole."""
    picture = caused(count)
    alarms = tuple(
        replace(each, subject=picture.line_id) if each.id == CAUSE else each
        for each in picture.alarms
    )
    return replace(picture, alarms=alarms)


async def test_enter_on_an_alarm_of_the_whole_line_opens_and_folds_what_follows_from_it():
    app = app_on(invented.InventedDesk(of_the_line(40)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm " + CAUSE, "enter")
        assert app.live.view.NAME == "alarms"
        assert "consequence 0 " in text_of(app)
        await press(app, pilot, "enter")
        assert "consequence 0 " not in text_of(app)


@pytest.mark.parametrize(
    ("count", "said"), [(0, "nothing follows from it"), (2, "what follows stands below it")]
)
async def test_enter_on_an_alarm_of_the_whole_line_says_where_there_is_no_more_to_open(
    count, said
):
    app = app_on(invented.InventedDesk(of_the_line(count)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "@alarm " + CAUSE, "enter")
        assert app.live.view.NAME == "alarms"
        assert said in text_of(app)


@pytest.mark.parametrize(
    ("subject", "is_grouped"), [("nickel", False), ("invented", False), ("nickel-1", True)]
)
async def test_what_is_due_in_a_bath_is_a_job_each_and_of_no_one_cause(subject, is_grouped):
    picture = caused(0)
    cause = next(each for each in picture.alarms if each.id == CAUSE)
    due = tuple(
        replace(cause, id=f"{subject}.due-{n}", subject=subject, group=subject, text=f"due {n}")
        for n in range(2)
    )
    app = app_on(invented.InventedDesk(replace(picture, alarms=due)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a")
        shown = text_of(app)

    assert "due 0" in shown
    assert "due 1" in shown
    assert "one cause" not in shown
    assert ("2 about " in shown) is is_grouped
