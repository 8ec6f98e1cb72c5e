"""From view to view: one key there, one key back, and the cursor where it was."""

import re
from dataclasses import replace

import pytest

from linewatch.core.events import EventKind
from linewatch.core.view import DutyPicture
from linewatch.ui.screens.views import VIEWS
from tests.ui import invented
from tests.ui.seen import app_on, lines_of, press, row_with, settle, text_of


async def test_back_returns_to_where_the_cursor_was():
    app = app_on(invented.InventedDesk(invented.troubled(long=True)))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "20x down")
        chosen, top = app.live.body.choice, app.live.body.top
        assert top > 0

        await press(app, pilot, "enter")
        assert app.live.view.NAME == "tank"
        await press(app, pilot, "b", "escape", "escape")

        assert app.live.view.NAME == "line"
        assert (app.live.body.choice, app.live.body.top) == (chosen, top)


@pytest.mark.parametrize(
    ("key", "view", "chosen"),
    [
        ("r", "rectifiers", "rectifier rect-nickel-1"),
        ("b", "baths", "bath nickel"),
        ("p", "loads", "load 4708"),
        ("a", "alarms", "alarm nickel-1.temperature.low"),
        ("t", "trend", "tag nickel-1.temperature"),
        ("k", "links", "link tank-io"),
    ],
)
async def test_from_a_tank_one_key_leads_to_what_belongs_to_it(key, view, chosen):
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", key)

        assert view == app.live.view.NAME
        assert app.live.body.choice == chosen


@pytest.mark.parametrize(
    ("keys", "view", "subject"),
    [
        (("r", "enter"), "tank", "tank nickel-1"),
        (("b", "enter"), "tank", "tank nickel-1"),
        (("p", "enter", "enter"), "tank", "tank nickel-1"),
        (("a", "enter"), "tank", "tank nickel-1"),
    ],
)
async def test_enter_leads_from_a_list_to_the_tank(keys, view, subject):
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", *keys)

        assert (app.live.view.NAME, app.live.view.subject) == (view, subject)


async def test_left_and_right_lead_to_the_neighbouring_tanks():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "enter", "right")
        assert app.live.view.subject == "tank nickel-2"
        await press(app, pilot, "left", "30x previous")
        assert app.live.view.subject == "tank load-1"
        await press(app, pilot, "escape")
        assert app.live.view.NAME == "line"


async def test_the_line_is_one_key_away_from_everywhere():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        for key in ("a", "r", "b", "p", "k", "e", "question_mark"):
            await press(app, pilot, key, "l")
            assert app.live.view.NAME == "line"


async def test_the_cursor_stays_on_its_alarm_when_others_come_before_it():
    from dataclasses import replace

    picture = invented.troubled()
    few = replace(picture, alarms=tuple(a for a in picture.alarms if a.priority == "low"))
    desk = invented.InventedDesk(few)
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "down")
        chosen = app.live.body.choice
        desk.shown = replace(picture, utc_ns=picture.utc_ns + 1)
        app.pull()

        assert app.live.body.choice == chosen


async def test_a_tank_shows_its_account_of_time_adding_up():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-2", "enter")
        shown = text_of(app)

    assert "96.7 %  4 h 50 min" in shown
    assert "3.0 %  9 min 00 s" in shown
    assert "0.3 %  1 min 00 s" in shown


async def test_a_tank_says_what_is_not_measured_there():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "enter")
        assert "not measured: additive level, metal contamination" in text_of(app)
        await press(app, pilot, "p")
        assert "not measured: thickness spread, adhesion, hidden pores" in text_of(app)


async def test_an_alarm_says_what_to_do_first():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a")
        shown = text_of(app)

    assert "first do" in shown
    assert "hold the next load" in shown
    assert "time to act" in shown
    assert "or else" in shown
    assert "caused by" in shown


async def test_shelved_suppressed_and_out_of_service_alarms_have_their_lists_and_reasons():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "6x down")
        shown = text_of(app)
        assert "shelved: put aside for a time, come back by themselves: 1" in shown
        assert "probe is being cleaned, comes back at 12:30" in shown
        await press(app, pilot, "down")
        assert "no load in the tank" in text_of(app)
        await press(app, pilot, "down")
        assert "heater is being replaced" in text_of(app)


async def test_a_link_tells_its_failures_by_kind_and_the_last_bytes():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "k", "down")
        shown = text_of(app)

    assert "! not connected" in shown
    assert "12 timeout" in shown
    assert "1 bad crc" in shown
    assert "02 03 04 11 5c" in shown
    assert "7, 9" in shown


async def test_an_event_leads_to_what_it_is_about():
    desk = invented.InventedDesk(
        invented.line(), events=[invented.event(1, "load in", subject="nickel-1")]
    )
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "e")
        assert "9 Bright nickel: load in" in text_of(app)
        await press(app, pilot, "enter")
        assert app.live.view.subject == "tank nickel-1"


async def test_events_are_followed_while_the_cursor_is_on_the_newest():
    desk = invented.InventedDesk(invented.line(), events=[invented.event(1, "one")])
    app = app_on(desk)

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "e")
        for number in range(2, 60):
            desk.events.append(invented.event(number, f"thing {number}"))
        app.look_for_news()
        await settle(app, pilot)

        body = app.live.body
        last = len(body.rows) - 1
        assert "thing 59" in "".join(span.text for span in body.rows[last].spans)
        assert body.top <= last < body.top + body.size.height


async def test_units_turn_by_key_and_the_picture_stays_what_it_was():
    picture = invented.troubled()
    app = app_on(invented.InventedDesk(picture))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        assert "54.2▼" in text_of(app)
        await press(app, pilot, "u")
        shown = text_of(app)
        assert "129.6▼" in shown  # 54.2 x 9/5 + 32
        assert "temp °F" in shown
        assert "level in" in shown
        await press(app, pilot, "u")
        assert "54.2▼" in text_of(app)
        assert app.sight.picture is picture


async def test_explain_tells_formula_quality_and_time():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "x")
        shown = text_of(app)
        assert "Q = ∫ I dt" in shown
        assert "m = Σ k η(j) I Δt" in shown
        await press(app, pilot, "escape", "enter", "x")
        assert "nickel-1.temperature" in text_of(app)
        assert "read at" in text_of(app)


async def test_explain_shows_what_was_worked_out_with_inputs_constants_and_budget():
    from linewatch.core.electrochemistry.explanation import (
        Constant,
        Explanation,
        GivenInput,
    )
    from linewatch.core.electrochemistry.uncertainty import Budget, Term

    why = Explanation(
        figure="deposited mass",
        value=1051.17,
        unit="g",
        formula="m = k η Q",
        inputs=(
            GivenInput(
                name="cathodic charge",
                symbol="Q",
                value=1000.0,
                unit="A.h",
                source="rectifier-1",
                quality=0,
                utc_ns=invented.NOON,
            ),
        ),
        constants=(
            Constant(name="Faraday", symbol="F", value=26.8, unit="A·h/mol", source="SI 2019"),
        ),
        budget=Budget(
            terms=(Term(name="current sensor", standard_ratio=0.0025, source="class 0.5"),)
        ),
        source="Faraday 1834",
        notes=("mean if evenly spread",),
    )
    asked = []

    def explain(_picture, about):
        asked.append(about)
        return (why,)

    app = app_on(invented.InventedDesk(invented.line()), explain=explain)

    async with app.run_test(size=(120, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "x")
        shown = text_of(app)

    assert asked == ["tank nickel-1"]
    assert "m = k η Q" in shown
    # The ± has two digits, the figure none beyond them (GUM 7.2.6).
    assert "1051.2 ± 5.3 g" in shown
    assert "cathodic charge; rectifier-1; good at 12:00:00" in shown
    assert "SI 2019" in shown
    assert "0.50 %" in shown
    assert "mean if evenly spread" in shown


async def test_help_holds_five_panels_cautions_limits_of_signals_and_where_the_record_lies():
    app = app_on(invented.InventedDesk(invented.line()), where="/records/works", first_run=True)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        assert app.live.view.NAME == "help"
        shown = text_of(app)

    for panel in "12345":
        assert any(line.strip().startswith(f"{panel} ") for line in shown.splitlines())
    assert "The record lies in /records/works" in shown
    assert "Cyanide and acids must never meet" in shown
    assert "no safety system" in shown
    assert "concentration of gas in breathing air" in shown


@pytest.mark.parametrize("name", sorted(VIEWS))
async def test_every_view_is_drawn_without_any_thing_to_draw(name):
    from dataclasses import replace

    bare = replace(
        invented.line(), tanks=(), rectifiers=(), baths=(), links=(), alarms=(), recording=None
    )
    app = app_on(invented.InventedDesk(bare))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        app.live.go(
            name, "tank nowhere" if name in {"tank", "trend", "explain", "load"} else ""
        )
        await settle(app, pilot)
        assert name == app.live.view.NAME
        assert text_of(app).strip()


async def test_what_a_bath_is_owed_explains_itself():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "b", "x")
        shown = text_of(app)

    assert "843.7 mL: dose per kA·h times charge" in shown
    assert "600 mL: every addition that was logged" in shown
    assert "251 mL: unmetered charge counted at its likely most" in shown


async def test_a_metal_that_is_refused_says_why_and_shows_no_figure():
    from dataclasses import replace

    from linewatch.core.view import MetalPicture

    picture = invented.line()
    why = "current density 0.2 A/dm2 lies outside the efficiency curve"
    tanks = tuple(
        replace(tank, metal=MetalPicture(deposit="Ni", mass_g=0.0, refused=why))
        if tank.id == "nickel-1"
        else tank
        for tank in picture.tanks
    )
    app = app_on(invented.InventedDesk(replace(picture, tanks=tanks)))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        assert "refused" in row_with(app, " 9 Bright nickel ")
        await press(app, pilot, "@tank nickel-1", "enter")
        assert f"no figure: {why}"[:40] in text_of(app)
        await press(app, pilot, "x")
        assert "lies outside the efficiency curve" in text_of(app)


async def test_a_line_at_another_speed_goes_by_its_own_time():
    """Its wall time runs ahead: a load due in ten of its minutes is not due in an hour."""
    from dataclasses import replace

    picture = invented.line()
    ahead = 3600 * invented.S
    load = picture.tanks[8].load
    load = replace(
        load,
        since_utc_ns=load.since_utc_ns + ahead,
        pull_utc_ns=picture.utc_ns + ahead + 600 * invented.S,
    )
    tanks = (*picture.tanks[:8], replace(picture.tanks[8], load=load), *picture.tanks[9:])
    fast = replace(picture, utc_ns=picture.utc_ns + ahead, speed=60.0, tanks=tanks)
    app = app_on(invented.InventedDesk(fast), steady_s=lambda: 100.0)

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        assert row_with(app, " 9 Bright nickel ").rstrip().endswith(" 10m00s")
        assert "60× speed" in text_of(app)
        assert "13:00:00" in text_of(app)


async def test_a_flood_folds_what_one_cause_explains_and_enter_unfolds_it():
    from dataclasses import replace

    picture = invented.troubled()
    lost = next(each for each in picture.alarms if each.group)
    many = tuple(
        replace(lost, id=f"r{n}.current.bad-quality", subject=f"r{n}", state="unacknowledged")
        for n in range(40)
    )
    flood = replace(picture, alarms=many, flood=True, first_out=many[0].id)
    app = app_on(invented.InventedDesk(flood))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a")
        shown = text_of(app)
        assert "40 of one cause: link rectifiers" in shown
        assert "… and 37 more of the same cause" in shown
        await press(app, pilot, "3x down", "enter")
        assert "more of the same cause: Enter here folds them" in text_of(app)
        await press(app, pilot, "down")
        assert app.live.body.choice == "alarm r11.current.bad-quality"
        await press(app, pilot, "up", "enter")
        assert "… and 37 more of the same cause: Enter here opens them" in text_of(app)


async def test_a_shift_hands_over_what_stands_what_is_aside_and_the_journals_seal():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "H")
        shown = text_of(app)

    assert "alarms that stand: " in shown
    assert "probe is being cleaned" in shown
    assert "out of service: for maintenance, without a limit: " in shown
    assert "heater is being replaced" in shown
    assert "17 in the journal since it began" in shown
    assert "01234567 89abcdef" in shown


async def test_hand_over_and_check_sheet_are_of_one_shift_whoever_sits_there_and_say_so():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "H")
        handed_over = text_of(app)
        await press(app, pilot, "i", "m", "k", "enter", "S")
        sheet = text_of(app)
        await press(app, pilot, "H")

        assert "shift 06:00 to 14:00 of 2026-03-29  still goes on" in handed_over
        assert "shift 06:00 to 14:00: " in sheet
        assert "shift 06:00 to 14:00 of 2026-03-29  still goes on, MK at this" in text_of(app)


async def test_in_its_first_hour_a_shift_finds_what_the_one_before_hands_over():
    now_s = [100.0]
    app = app_on(invented.InventedDesk(invented.line()), steady_s=lambda: now_s[0])

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        now_s[0] += 2 * 3600.0 + 1800.0
        await press(app, pilot, "H")
        first_hour = text_of(app)
        now_s[0] += 3600.0
        await press(app, pilot, "l", "H")

        assert "shift 06:00 to 14:00 of 2026-03-29  it is over: hand over" in first_hour
        assert "shift 14:00 to 22:00 of 2026-03-29  still goes on" in text_of(app)


async def test_a_shift_that_is_over_is_handed_over_once_and_unasked():
    now_s = [100.0]
    app = app_on(
        invented.InventedDesk(invented.line()),
        initials="MK",
        steady_s=lambda: now_s[0],
    )

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        app.look_at_shift()
        assert app.live.view.NAME == "line"
        now_s[0] += 2 * 3600.0
        app.look_at_shift()
        await settle(app, pilot)
        assert app.live.view.NAME == "handover"
        shown = text_of(app)
        assert "shift 06:00 to 14:00 of 2026-03-29  it is over: hand over" in shown
        assert "MK at this terminal" in shown
        await press(app, pilot, "l")
        app.look_at_shift()
        assert app.live.view.NAME == "line"


async def test_what_happened_is_not_drowned_by_loads_that_move():
    moved = [
        invented.event(n, f"load {n} came in", kind=EventKind.LOAD, subject="nickel-1")
        for n in range(2, 40)
    ]
    events = [invented.event(1, "the filter was changed", subject="nickel-1"), *moved]
    app = app_on(invented.InventedDesk(invented.line(), events=events))

    async with app.run_test(size=(100, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "e")
        assert "the filter was changed" in text_of(app)
        assert "load 39 came in" not in text_of(app)
        await press(app, pilot, "v")
        assert "load 39 came in" in text_of(app)


def test_a_rectifiers_detail_tells_its_modules_its_findings_and_since_when_it_is_learned():
    from linewatch.ui.draw.lists import rectifier_detail
    from linewatch.ui.draw.rows import Look

    picture = invented.line()
    unit = replace(
        picture.rectifiers[0],
        findings=("module 1 gives 0 % of the current where 33 % is usual",),
        health=(("efficiency", "71.2 % at the last load, 78.0 % is usual there"),),
        base_utc_ns=invented.NOON,
    )
    figure = unit.figures["current"]
    unit = replace(unit, figures={**unit.figures, "current.module-1": figure})
    for width in (80, 160):
        look = Look(width=width, height=50, now_ns=invented.NOON)
        rows = rectifier_detail(picture, unit, look)
        shown = "\n".join("".join(span.text for span in each.spans) for each in rows)
        assert "module 1 " in shown
        assert "33 % is usual" in shown
        assert "71.2 % at the last load" in shown
        assert "it was serviced or replaced" in shown


@pytest.mark.parametrize("width", [80, 100, 160])
def test_a_unit_that_needs_much_says_why_in_its_row_by_its_alarm_where_nothing_is_found(width):
    from linewatch.ui.draw.lists import rectifier_rows, rectifiers_head
    from linewatch.ui.draw.rows import Look
    from linewatch.ui.text import cells

    picture = invented.line()
    first, second, *rest = picture.rectifiers
    alarm = invented.troubled().alarms[0]
    alarms = tuple(
        replace(alarm, id=f"{n}", subject=subject, text=text, state=state, priority=priority)
        for n, (subject, text, state, priority) in enumerate(
            (
                (first.id, "phase lost in one of its legs", "unacknowledged", "high"),
                (first.id, "phase lost", "acknowledged", "high"),
                (first.id, "fan", "unacknowledged", "low"),
                (second.id, "put aside", "shelved", "high"),
            )
        )
    )
    units = (
        replace(first, attention=100.0, findings=()),
        replace(second, attention=20.0, findings=()),
        *rest,
    )
    shown = replace(picture, rectifiers=units, alarms=alarms)
    look = Look(width=width, height=50, now_ns=invented.NOON)
    rows = ["".join(s.text for s in each.spans) for each in rectifier_rows(shown, look)]

    assert rows[0].startswith(" ! ")
    assert "    100  phase lost" in rows[0]
    assert "put aside" not in rows[1]
    assert all(cells(each) <= width for each in rows)
    assert "".join(s.text for s in rectifiers_head(look).spans).rstrip().endswith("  findings")
    found = replace(units[0], findings=("ripple",))
    shown = replace(shown, rectifiers=(found, *units[1:]))
    rows = ["".join(s.text for s in each.spans) for each in rectifier_rows(shown, look)]
    assert "    100  ripple" in rows[0]


@pytest.mark.parametrize(
    ("left_s", "words"),
    [
        (-1035, "overdue by 17 min"),
        (1414, "due in 23 min"),
        (-40, "overdue by 40 s"),
        (-100_000, "overdue by 27 h"),
        (-200_000, "overdue by 2 d"),
    ],
)
def test_what_is_due_is_told_as_a_span_in_words_never_as_what_looks_like_a_time_of_day(
    left_s, words
):
    from linewatch.ui.draw.baths import bath_rows
    from linewatch.ui.draw.rows import Look

    picture = invented.line()
    baths = tuple(
        replace(
            bath,
            additives=tuple(
                replace(each, due=left_s < 0, due_utc_ns=invented.NOON + left_s * 1_000_000_000)
                for each in bath.additives
            ),
        )
        for bath in picture.baths
    )
    look = Look(width=160, height=50, now_ns=invented.NOON)
    shown = bath_rows(replace(picture, baths=baths), look)
    rows = ["".join(span.text for span in each.spans) for each in shown]
    dosed = [each for each in rows if "due" in each]

    assert dosed
    assert all(f"{words} " in each for each in dosed)
    assert not any(re.search(r"\d:\d\d", each) for each in dosed)


def test_what_leaves_less_time_to_respond_comes_before_what_is_newer():
    from linewatch.ui.draw.families import newest

    alarm = replace(
        invented.troubled().alarms[0], state="unacknowledged", priority="highest", behind=""
    )
    acid = replace(alarm, id="acid", since_utc_ns=1, respond_within_s=60.0)
    level = replace(alarm, id="level", since_utc_ns=3, respond_within_s=300.0)
    later = replace(alarm, id="later", since_utc_ns=4, respond_within_s=300.0)
    gone = replace(acid, id="gone", since_utc_ns=5, state="returned")
    no_time = replace(alarm, id="no-time", since_utc_ns=6, respond_within_s=None)
    seen = replace(acid, id="seen", state="acknowledged")

    ordered = newest([seen, no_time, gone, level, later, acid])
    assert [each.id for each in ordered] == [
        "acid", "later", "level", "no-time", "gone", "seen",
    ]  # fmt: skip


@pytest.mark.parametrize("width", [80, 160])
def test_what_stands_in_a_unit_is_told_before_what_has_gone_and_apart_from_it(width):
    from linewatch.ui.draw.lists import rectifier_rows
    from linewatch.ui.draw.rows import Look

    picture = invented.line()
    first, second, *rest = picture.rectifiers
    alarm = replace(invented.troubled().alarms[0], priority="high")
    alarms = (
        replace(alarm, id="1", subject=first.id, text="a fault", state="returned"),
        replace(alarm, id="2", subject=first.id, text="hot", priority="low",
                state="acknowledged"),
        replace(alarm, id="3", subject=second.id, text="a fault", state="returned"),
    )  # fmt: skip
    units = (
        replace(first, attention=20.0, findings=()),
        replace(second, attention=6.0, findings=()),
        *(replace(each, attention=0.0, findings=()) for each in rest),
    )
    look = Look(width=width, height=50, now_ns=invented.NOON)
    shown = rectifier_rows(replace(picture, rectifiers=units, alarms=alarms), look)
    rows = ["".join(s.text for s in each.spans) for each in shown]

    assert rows[0].startswith(" ! ")
    assert "20  hot; gone: a" in rows[0]
    assert rows[1].startswith("(!)")
    assert "6  gone: a fault" in rows[1]
    assert {span.role for span in shown[1].spans} & {"outside", "high"} == set()


async def test_what_stands_below_the_last_that_can_be_chosen_is_reached_with_the_same_keys():
    for keys in (["60x down"], ["end"]):
        app = app_on(invented.InventedDesk(invented.troubled()))
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(app, pilot)
            await press(app, pilot, "H")
            body = app.live.body
            before = body.top
            await press(app, pilot, *keys)
            app.pull()
            await settle(app, pilot)
            rows = body.rows[body.top : body.top + body.shown]
            at = [each.target for each in rows].index(body.choice)
            assert rows[-1] == body.rows[-1] or at == 0
            assert body.top > before
            await press(app, pilot, "home")
            assert body.top == 0


async def test_an_act_on_an_alarm_is_told_once_and_in_words():
    desk = invented.InventedDesk(invented.line())
    alarm = "nickel-1.temperature.low"
    desk.events = [
        invented.event(1, "temperature low acknowledged by MK", subject="nickel-1", who="MK"),
        invented.event(
            2,
            "acknowledge 9 Bright nickel: temperature low by MK",
            kind=EventKind.COMMAND,
            subject=alarm,
            what="Acknowledge",
            alarm=alarm,
        ),
        invented.event(
            3,
            "acknowledge all alarms by MK",
            kind=EventKind.COMMAND,
            subject="invented",
            what="Acknowledge",
            alarm="*",
        ),
    ]
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "e")
        shown = text_of(app)

    assert shown.count("temperature low") == 1
    assert "acknowledge all alarms by MK" in shown
    assert alarm not in shown


async def test_events_name_loads_and_things_in_words_and_an_act_not_twice():
    desk = invented.InventedDesk(invented.line())
    desk.events = [
        invented.event(
            1, "bake begins", kind=EventKind.FINDING, subject="load/4122", what="bake"
        ),
        invented.event(2, "drifts", kind=EventKind.FINDING, subject="nickel-1.ph"),
        invented.event(
            3,
            "capture frames 9 Bright nickel by MK",
            kind=EventKind.COMMAND,
            subject="nickel-1",
            what="CaptureFrames",
        ),
    ]
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "e")
        shown = text_of(app)

    assert "load 4122: bake begins" in shown
    assert "9 Bright nickel: drifts" in shown
    assert "9 Bright nickel: capture" not in shown


@pytest.mark.parametrize("key", ["enter", "t"])
async def test_what_is_measured_is_named_in_words_in_a_position_and_its_trend(key):
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", key)
        shown = text_of(app)

    assert "nickel-1." not in shown
    assert "kind          plating" in shown or key == "t"


async def test_what_began_after_the_shift_is_told_apart_and_counted_apart():
    picture = invented.line()
    end_ns = invented.NOON + 2 * 3600 * invented.S
    first = invented.troubled().alarms[0]
    own = replace(first, id="own", behind="", since_utc_ns=invented.NOON, text="own trouble")
    later = replace(own, id="later", since_utc_ns=end_ns + 60 * invented.S, text="new trouble")
    told = {"kind": EventKind.ALARM, "move": "occur", "priority": "high"}
    desk = invented.InventedDesk(
        replace(picture, alarms=(own, later)),
        events=[
            invented.event(1, "", after_s=60, **told),
            invented.event(2, "", after_s=2 * 3600 + 60, **told),
            invented.event(3, "", after_s=2 * 3600 + 90, **told),
        ],
    )
    now_s = [100.0]
    app = app_on(desk, steady_s=lambda: now_s[0])

    async with app.run_test(size=(160, 60)) as pilot:
        await settle(app, pilot)
        now_s[0] += 2 * 3600.0 + 1800.0
        await press(app, pilot, "H")
        rows = [" ".join(each.split()) for each in lines_of(app)]

    found = [
        next((k for k, each in enumerate(rows) if words in each), None)
        for words in ("alarms that stand: ", "own trouble", "since then, after", "new trouble")
    ]
    assert None not in found, rows
    assert found == sorted(found)
    assert any(each.startswith("alarms 1") for each in rows)
    assert any(each.startswith("since then 2 alarms, 0 entries") for each in rows)


async def test_three_analyses_that_nobody_made_are_named_with_their_place():
    duties = tuple(
        DutyPicture(
            id=f"d{k}",
            text=f"analyse {what} at Final discharge",
            subject="nickel-1",
            due_utc_ns=invented.NOON + 20 * 3600 * invented.S,
            substance=what,
        )
        for k, what in enumerate(("CN", "Cr", "Ni", "Zn"))
    )
    desk = invented.InventedDesk(replace(invented.line(), duties=duties))
    app = app_on(desk)

    async with app.run_test(size=(160, 60)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "H")
        shown = " ".join(text_of(app).split())

    assert "due now analyse CN at Final discharge; never analysed" in shown
    assert "analyse Ni at Final discharge; never analysed" in shown
    assert "analyse Zn" not in shown
    assert "1 more analysis that nobody ever made: `linewatch duty list` has them" in shown
