"""What confused somebody new, and no longer does."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from linewatch.core.electrochemistry.explanation import Constant, Explanation, GivenInput
from linewatch.core.events import EventKind
from linewatch.core.readings import Quality
from linewatch.core.view import DutyPicture
from linewatch.ui.draw.control import held_words
from linewatch.ui.draw.explain import explanation_rows
from linewatch.ui.draw.parts import alarm_line
from linewatch.ui.draw.rows import Look
from linewatch.ui.draw.trend import Curve, Marks, plot_rows
from linewatch.ui.draw.warming import slope_per_s, warming_rows, warming_words
from linewatch.ui.palette import PLAINEST, style
from linewatch.ui.screens.forms import Entry, matching
from linewatch.ui.screens.views import VIEWS
from linewatch.ui.text import counted, since_clock
from tests.ui import invented
from tests.ui.seen import NOW, app_on, lines_of, press, row_with, settle, text_of

HOUR_NS = 3600 * invented.S


def footer(app):
    return lines_of(app)[-1]


@pytest.mark.parametrize("name", sorted(VIEWS))
async def test_the_way_back_and_the_help_stand_in_every_footer_of_80_columns(name):
    app = app_on(invented.InventedDesk(invented.troubled(long=True)))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        app.live.go(name, "tank nickel-1" if name in {"tank", "trend", "explain"} else "")
        await settle(app, pilot)

        assert (" Esc back" in footer(app)) == (name != "line")
        assert ("? help" in footer(app)) == (name != "help")


async def test_a_key_that_would_do_nothing_is_not_in_the_footer():
    app = app_on(invented.InventedDesk(invented.troubled()))

    async with app.run_test(size=(160, 50)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1")
        assert "Space seen" in footer(app)
        await press(app, pilot, "@tank eclean-1")
        assert "Space seen" not in footer(app)
        await press(app, pilot, "@tank nickel-1", "enter")
        assert "d log addition" in footer(app)
        await press(app, pilot, "l", "@tank rinse-1", "enter")
        assert "d log addition" not in footer(app)
        await press(app, pilot, "k")
        assert "t trend" not in footer(app)
        assert "x explain" not in footer(app)
        await press(app, pilot, "a", "@alarm rinse-1.conductivity.high")
        assert "z shelve" not in footer(app)


async def test_in_a_flood_the_alarm_itself_is_not_cut_for_the_words_behind_it():
    picture = invented.troubled()
    first = replace(picture.alarms[1], text="level high-high")
    flood = replace(
        picture, flood=True, first_out="nickel-1.temperature.low", alarms=(first,) * 3
    )
    app = app_on(invented.InventedDesk(flood))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        line = row_with(app, "alarm flood")

    assert "2 Soak clean: level high-high: 941 mm, limit 920" in line
    assert line.rstrip().endswith("alarm flood")


async def test_an_alarm_whose_cause_has_gone_says_what_it_came_back_to():
    picture = invented.troubled()
    gone = replace(picture.alarms[0], state="returned", value=60.4)
    app = app_on(invented.InventedDesk(replace(picture, alarms=(gone,))))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        assert "temperature low: back at 60.4 °C, limit 58.0" in text_of(app)


async def test_alarms_are_grouped_by_names_in_a_flood_as_ever():
    picture = replace(invented.troubled(), flood=True)
    alarms = [replace(each, state="unacknowledged") for each in picture.alarms[:5]]
    groups = ("nickel-1", "soak-1", "nickel-2", "nickel-2", "nickel-2")
    alarms = [replace(each, group=group) for each, group in zip(alarms, groups, strict=True)]
    app = app_on(invented.InventedDesk(replace(picture, alarms=tuple(alarms))))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a")
        shown = lines_of(app)

    heads = [line.strip() for line in shown if "of one cause" in line]
    assert heads == ["3 of one cause: 10 Bright nickel"]
    assert "[!!!]" in next(line for line in shown if "[" in line)
    quiet = app_on(invented.InventedDesk(replace(picture, flood=False, alarms=tuple(alarms))))
    async with quiet.run_test(size=(120, 40)) as pilot:
        await settle(quiet, pilot)
        await press(quiet, pilot, "a")
        order = [line for line in lines_of(quiet) if "[" in line]

    # The last is the bar, where a flood is told.
    assert order[:-1] == [line for line in shown if "[" in line][:-1]


async def test_what_is_expected_asks_nobody_to_do_anything():
    picture = invented.troubled()
    app = app_on(invented.InventedDesk(picture))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank eclean-1", "enter")
        shown = text_of(app)

    assert "expected:" in shown
    assert "no load in the tank" in shown
    assert "first do" not in shown


async def test_an_expected_alarm_asks_for_nothing_in_its_list_and_for_no_acknowledgement():
    picture = invented.troubled()
    chosen = next(each for each in picture.alarms if each.state == "suppressed")
    app = app_on(invented.InventedDesk(picture))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", f"@alarm {chosen.id}")
        shown = text_of(app)
        await press(app, pilot, "space")
        answer = text_of(app)

    assert "nothing as long as that is so" in shown
    assert chosen.action not in shown
    assert "it does not wait to be seen" in answer


async def test_events_of_several_days_have_a_heading_a_day():
    events = [
        invented.event(1, "yesterday's news", after_s=-24 * 3600),
        invented.event(2, "today's news", after_s=0),
    ]
    app = app_on(invented.InventedDesk(invented.line(), events=events))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "e")
        shown = [line.strip() for line in lines_of(app)]

    days = [line for line in shown if len(line) == 10 and line[4] == line[7] == "-"]
    assert len(days) == 2
    assert days[0] < days[1]


async def test_an_event_leads_to_the_trend_of_what_it_is_about():
    events = [invented.event(1, "something", subject="nickel-1")]
    app = app_on(invented.InventedDesk(invented.line(), events=events))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "e", "t")
        assert app.live.view.NAME == "trend"
        assert "trend of 9 Bright nickel" in text_of(app)


def test_a_time_of_another_day_is_told_by_its_date():
    assert since_clock(NOW, NOW).count(":") == 2
    assert since_clock(NOW - 48 * HOUR_NS, NOW).count("-") == 1
    assert len(since_clock(NOW - 48 * HOUR_NS, NOW)) == 8


def test_one_is_not_said_as_many():
    assert counted(1, "act") == "1 act"
    assert counted(2, "act") == "2 acts"
    assert counted(0, "entry", "entries") == "0 entries"


async def test_the_handover_counts_one_entry_as_one():
    events = [invented.event(1, "note", kind=EventKind.NOTE, who="MK")]
    app = app_on(invented.InventedDesk(invented.line(), events=events))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "H")
        assert "1 entry of what they did" in text_of(app)


async def test_what_is_being_looked_at_is_not_cut_off_the_title():
    app = app_on(invented.InventedDesk(invented.line(long=True)))

    async with app.run_test(size=(50, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t")
        assert "trend of 9 Bright nickel" in lines_of(app)[0]


async def test_a_trend_says_what_is_drawn_and_in_which_unit():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "@tank nickel-1", "t", "@tag nickel-1.temperature")
        await settle(app, pilot)
        line = row_with(app, "Left Right")

    assert line.split("  ")[1].strip() == "temp, °C"
    assert line.rstrip().endswith("window")


@pytest.mark.parametrize(("low", "high"), [(881.2, 884.1), (60.01, 60.03), (0.0, 0.5)])
def test_no_two_ticks_of_a_scale_read_alike(low, high):
    look = app_on(invented.InventedDesk(None)).look_for(100, 40)
    curve = Curve(
        tag="t.level", start_ns=0, end_ns=HOUR_NS, bands=((low, high),) * 60, means=(low,) * 60
    )
    rows = plot_rows(curve, Marks(), (80, 30), look)
    ticks = [row.spans[0].text for row in rows if "┤" in row.spans[0].text]

    assert len(ticks) >= 3
    assert len(set(ticks)) == len(ticks)


EXPLAINED = Explanation(
    figure="deposited Ni",
    value=490.0114,
    unit="g",
    formula="m = k eta Q",
    inputs=(
        GivenInput(
            name="cathodic charge through acid-copper-1",
            symbol="Q",
            value=490.011,
            unit="A.h",
            source="samples of rectifier-copper-1.current, the meter in the gaps",
            quality=0,
            utc_ns=NOW,
        ),
    ),
    constants=(
        Constant(
            name="molar mass of Ni",
            symbol="M(Ni)",
            value=58.6934,
            unit="g/mol",
            source="a table of standard atomic weights with a rather long title, of some year",
        ),
    ),
)


@pytest.mark.parametrize("width", [160, 120, 80])
def test_an_explanation_is_shown_whole(width):
    look = app_on(invented.InventedDesk(None)).look_for(width - 2, 40)
    rows = explanation_rows(EXPLAINED, look)
    lines = ["".join(span.text for span in row.spans) for row in rows]
    whole = " ".join(" ".join(lines).split())

    assert all(len(line) <= width for line in lines)
    for each in (*EXPLAINED.inputs, *EXPLAINED.constants):
        assert " ".join(each.source.split()) in whole


async def test_a_refusal_is_told_whole_in_80_columns():
    desk = invented.InventedDesk(invented.troubled())
    desk.refusals[1] = "only a latched alarm whose cause has gone can be released; this one" * 2
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "a", "L")
        shown = " ".join(text_of(app).split())

    assert desk.refusals[1] in shown


def test_without_colours_the_cursor_is_quieter_than_a_new_alarm():
    assert not style(PLAINEST.name, "plain", chosen=True).reverse
    assert style(PLAINEST.name, "plain", chosen=True).underline
    assert style(PLAINEST.name, "low-new", chosen=True).reverse


# Finding.


def found(typed, *names):
    return [each.name for each in matching([Entry(name, name) for name in names], typed)]


def test_the_name_that_was_typed_comes_before_one_that_merely_holds_its_letters():
    names = ("13 Rinse before nickel", "16 Nickel 3", "Nickel 3 rectifier", "3 Nickel")

    assert found("nickel 3", *names)[0] == "16 Nickel 3"


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("kühlung", "7 Kühlung"),
        ("kuehlung", "7 Kühlung"),
        ("kuhlung", "7 Kühlung"),
        ("KÜHLUNG", "7 Kühlung"),
        ("spulbad gross", "Spülbad groß"),
        ("spuelbad", "Spülbad groß"),
        ("nike", "Nikél"),
        ("anodovani", "Anodování"),
        ("никель", "Никель 2"),
        ("镍", "镍 3"),
        ("saure", "Säure"),
        ("saeure", "Säure"),
        ("kadmium vaske", "Kadmium våske"),
    ],
)
def test_a_name_is_found_however_its_letters_are_typed(typed, name):
    assert found(typed, "Chromium", name, "Rinse") == [name]


@pytest.mark.parametrize("typed", ["", " ", "\u00a0", "\t"])
def test_nothing_typed_leaves_all_in_its_order(typed):
    assert found(typed, "b", "a", "c") == ["b", "a", "c"]


@pytest.mark.parametrize(
    "typed", ["[", "(", "*", "\\", "'", '"', "%", "\x1b[2J", "\u202e", "x" * 9999]
)
def test_signs_are_looked_for_as_they_are(typed):
    assert found(typed, "Chromium", "Rinse") == []


async def test_the_record_of_a_load_that_left_is_found_by_its_number():
    desk = invented.InventedDesk(invented.line())
    desk.past = [invented.nickel_stay(2, "3999", minutes_ago=55.0)]
    app = app_on(desk)

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "slash", *"3999", "enter")
        assert app.live.view.NAME == "load"
        assert "5.63 ± 0.11" in text_of(app)


async def test_a_load_that_nobody_knows_says_so():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "slash", *"999123", "enter")
        assert "the record knows no such load" in text_of(app)


def test_a_name_is_not_continued_by_itself_where_numbers_follow():
    names = ("13 Rinse before nickel", "14 Nickel 1", "15 Nickel 2")

    assert found("nickel 1", *names)[0] == "14 Nickel 1"


async def test_a_load_without_a_number_has_a_name_to_find_it_by():
    picture = invented.line()
    tanks = tuple(
        replace(each, load=replace(each.load, number="")) if each.load else each
        for each in picture.tanks
    )
    app = app_on(invented.InventedDesk(replace(picture, tanks=tanks)))

    async with app.run_test(size=(120, 40)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "p")
        assert "no number" in text_of(app)


# Questions.


def rectifier(**figures):
    one = next(each for each in invented.line().rectifiers)
    made = {
        kind.replace("_", "-"): invented.figure(f"r.{kind.replace('_', '-')}", value)
        for kind, value in figures.items()
    }
    return replace(one, figures=made, rated_current_a=1000.0)


@pytest.mark.parametrize(
    ("figures", "said"),
    [
        ({"current": 500.0, "voltage": 4.0}, "not told: no set value"),
        ({"current": 500.0, "voltage": 4.0, "current_set": 505.0}, "current: what flows"),
        (
            {"current": 400.0, "voltage": 4.0, "current_set": 505.0, "voltage_set": 4.01},
            "volts: they are",
        ),
        (
            {"current": 400.0, "voltage": 3.0, "current_set": 505.0, "voltage_set": 4.0},
            "neither",
        ),
        ({"current": 400.0, "voltage": 3.0, "current_set": 505.0}, "neither"),
        ({"current": 400.0, "voltage": 11.9, "current_set": 505.0}, "its highest volts"),
        ({"current": 600.0, "voltage": 11.9, "current_set": 505.0}, "neither"),
        ({"current": 1.0, "voltage": 0.1, "current_set": 0.0}, "not told while no current"),
        ({"current_set": 505.0}, "not told while no current"),
        ({"current": -500.0, "voltage": -4.0, "current_set": 505.0}, "not told: its current"),
    ],
)
def test_what_a_rectifier_holds_is_told_by_its_set_values(figures, said):
    assert held_words(rectifier(**figures)).startswith(said)


def warming(slope_k_per_h, noise_k=0.0, minutes=60):
    """Return a curve that ends at 40 degC after a straight rise."""
    at_s = np.arange(120) * minutes * 60.0 / 120
    wobble = noise_k * np.resize([1.0, -1.0], 120)
    means = 40.0 + (at_s - at_s[-1]) * slope_k_per_h / 3600.0 + wobble
    return Curve(
        tag="t.temperature",
        start_ns=0,
        end_ns=minutes * 60 * invented.S,
        bands=tuple((value, value) for value in means),
        means=tuple(float(value) for value in means),
        good_s=(30.0,) * 120,
    )


def cold(value=40.0):
    return invented.figure("t.temperature", value, (55.0, 65.0), side="low")


def test_the_slope_is_that_of_the_last_twenty_minutes():
    slope, error = slope_per_s(warming(10.0))

    assert slope * 3600 == pytest.approx(10.0, rel=1e-9)
    assert error == pytest.approx(0.0, abs=1e-9)


def test_a_tank_that_warms_says_when_it_will_be_in_its_window():
    look = Look(width=120, height=40, now_ns=NOW)

    said = warming_words(warming(10.0), cold(), look)

    # 15 K at 10 K/h.
    assert said.startswith("in its window in 1 h 30 min ± 1 min at the earliest")
    assert "no cold load comes in" in said


def test_a_restless_slope_is_told_with_a_larger_doubt():
    look = Look(width=120, height=40, now_ns=NOW)

    calm = warming_words(warming(10.0, noise_k=0.05), cold(), look)
    restless = warming_words(warming(10.0, noise_k=0.5), cold(), look)

    doubts = [said.split(" ± ")[1].split(" at ")[0] for said in (calm, restless)]
    minutes = [int(each.split()[0]) for each in doubts]
    assert 0 < minutes[0] < minutes[1]


@pytest.mark.parametrize(
    ("curve", "said"),
    [
        (warming(-2.0), "does not warm"),
        (warming(0.0, noise_k=0.2), "does not warm"),
        (warming(0.1), "so slowly"),
        (warming(10.0, minutes=4), "too little of it is recorded"),
    ],
    ids=["falls", "still", "slow", "short"],
)
def test_where_no_time_can_be_told_none_is(curve, said):
    look = Look(width=120, height=40, now_ns=NOW)

    assert said in warming_words(curve, cold(), look)


def test_a_tank_in_its_window_and_another_quantity_say_nothing():
    look = Look(width=120, height=40, now_ns=NOW)
    level = invented.figure("t.level", 40.0, (55.0, 65.0))

    assert warming_words(warming(10.0), cold(58.0), look) == ""
    assert warming_words(warming(10.0), level, look) == ""
    assert warming_words(warming(10.0), None, look) == ""


# Text of people and devices on the newer pages.

HOSTILE = (
    "[red]x[/]",
    "A\x1b[2J\x07B",
    "\u202eevil\u202c",
    "\u6d74\u69fd" * 30,
    "e\u0301" * 90,
    "x" * 10_000,
    "a\nb\tc",
    "",
)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
@pytest.mark.parametrize("width", [160, 80, 30])
async def test_no_record_and_no_handover_passes_hostile_text_on(text, width):
    picture = invented.troubled()
    duty = DutyPicture(id="d", text=text, subject=text, due_utc_ns=NOW - HOUR_NS)
    desk = invented.InventedDesk(replace(picture, duties=(duty,)))
    told = dict.fromkeys(
        ("tank_name", "part", "bath", "deposit", "area_from", "odd", "doubts"), text
    )
    desk.past = [
        invented.nickel_stay(1, "3999", minutes_ago=55.0, **told),
        invented.event(
            2, text, kind=EventKind.LOAD, subject="load/3999", after_s=-60,
            what="card", load="3999", who=text, lot=text, reference=text, part=text, why=text,
        ),
        invented.event(
            3, text, kind=EventKind.LOAD, subject="load/3999", after_s=-50,
            what="found", load="3999", who=text, looked_at=text, found=text, place=text,
        ),
        invented.event(
            4, text, kind=EventKind.LOAD, subject="load/3999", after_s=-40,
            what="decided", load="3999", who=text, decision=text, why=text,
        ),
    ]  # fmt: skip
    app = app_on(desk, initials="MK")

    async with app.run_test(size=(width, 40)) as pilot:
        await settle(app, pilot)
        for keys in (("p",), ("p", "@load 3999", "enter"), ("H",), ("x",)):
            await press(app, pilot, *keys)
            assert text_of(app).replace("\n", "").isprintable()
            for sheet in (app.live.head, app.live.body, app.live.lower, app.live.foot):
                for y in range(sheet.size.height):
                    assert sheet.render_line(y).cell_length == sheet.size.width


def test_a_forecast_is_said_whole_where_it_does_not_fit_one_row():
    look = Look(width=60, height=24, now_ns=NOW)

    rows = [
        "".join(span.text for span in row.spans)
        for row in warming_rows(warming(10.0), cold(), look)
    ]

    assert len(rows) > 1
    assert all(len(row) <= 60 for row in rows)
    assert " ".join(" ".join(rows).split()).endswith("no cold load comes in")


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (160, 50)])
async def test_no_page_of_the_help_ends_on_a_heading(size):
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=size) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "question_mark")
        body = app.live.body
        seen, last = set(), []
        while body.top not in seen and body.top + body.shown < len(body.rows):
            seen.add(body.top)
            last.append(body.rows[body.top + body.shown - 1])
            await press(app, pilot, "pagedown")

    assert len(last) > 1
    assert not [each for each in last if each.spans and each.spans[0].role == "head"]


async def test_the_marks_of_alarms_stand_on_the_first_page_of_the_help_those_of_figures_next():
    app = app_on(invented.InventedDesk(invented.line()))

    async with app.run_test(size=(80, 24)) as pilot:
        await settle(app, pilot)
        await press(app, pilot, "question_mark")
        body = app.live.body
        pages = []
        for _ in range(2):
            rows = body.rows[body.top : body.top + body.shown]
            pages.append("\n".join("".join(one.text for one in each.spans) for each in rows))
            await press(app, pilot, "pagedown")

    for word in ("highest", "low", "new", "seen", "gone, not seen", "latched, seen", "shelved"):
        assert word in pages[0]
    for word in ("±  ", "~  ", "A·h *", "an  ", "suppressed", "out of service"):
        assert word in pages[1]


@pytest.mark.parametrize(
    ("days", "width", "said"),
    [
        (0, 8, "12:00:00"),
        (0, 11, "12:00:00   "),
        (1, 8, "12:00-1 "),
        (1, 11, "03-28 12:00"),
        (40, 8, "12:00-40"),
        (400, 8, "02-22   "),
    ],
)
def test_what_began_on_another_day_keeps_its_time(days, width, said):
    began_ns = invented.NOON - days * 24 * HOUR_NS

    assert since_clock(began_ns, invented.NOON, datetime.UTC, width) == said


@pytest.mark.parametrize(("width", "said"), [(160, "03-28 11:"), (80, " 11:")])
def test_an_alarm_of_yesterday_says_when_it_began(width, said):
    picture = invented.troubled()
    old = replace(picture.alarms[0], since_utc_ns=picture.alarms[0].since_utc_ns - 24 * HOUR_NS)
    look = Look(width=width, height=40, now_ns=invented.NOON, zone=datetime.UTC)
    text = "".join(each.text for each in alarm_line(old, "Nickel", look).spans)

    assert said in text
    assert width > 80 or "-1 " in text


def test_a_reading_in_doubt_tells_nothing_of_how_the_bath_warms():
    look = Look(width=120, height=40, now_ns=NOW)
    doubted = replace(cold(), quality=Quality.DOUBTED)

    assert warming_words(warming(-80.0), cold(), look)
    assert warming_words(warming(-80.0), doubted, look) == ""
