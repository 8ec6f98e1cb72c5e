"""Pictures of every view: in three sizes and with faults; in three themes and in 7 bits."""

import re
from pathlib import Path

import pytest
from textual.widgets import Input, Static

from linewatch.ui.screens.views import VIEWS
from tests.ui import invented
from tests.ui.seen import app_on, press, settle, text_of

pytestmark = pytest.mark.snap

SIZES = {"large": (160, 50), "middle": (120, 40), "small": (80, 24)}
DOWN = ["@tank nickel-1"]
KEYS = {
    "line": ["down", "up"],
    "tank": [*DOWN, "enter"],
    "rectifiers": [*DOWN, "r"],
    "baths": [*DOWN, "b"],
    "loads": [*DOWN, "p"],
    "load": [*DOWN, "p", "@load 3999", "enter"],
    "links": ["k", "down"],
    "alarms": ["a", "down"],
    "events": ["e"],
    "trend": [*DOWN, "t", "left", "left", "left"],
    "explain": [*DOWN, "x"],
    "handover": ["H"],
    "help": ["question_mark"],
    "rinses": ["R"],
    "sheet": ["S"],
    "laboratory": ["b", "@bath nickel", "V"],
}
OVERLAYS = {
    "find": (["slash", "n", "i"], "type"),
    "commands": (["ctrl+p"], "Enter: take it"),
    "dose": (["b", "@additive nickel/carrier", "d"], "how much went in"),
    "card": (["p", "j"], "whole area"),
    "decide": (["p", "y"], "what becomes of load"),
    "hand": ([*DOWN, "h"], "a value read by hand"),
}
"""Windows over a view: the keys that open each, and what it must say."""
SAYS = {
    "line": "Bright nickel",
    "tank": "figures",
    "rectifiers": "ripple",
    "baths": "Brightener",
    "loads": "4708",
    "load": "5.63 ± 0.11",
    "links": "not connected",
    "alarms": "standing: 6",
    "events": "thing 59",
    "trend": "trend of 9 Bright nickel",
    "explain": "Q = ∫ I dt",
    "handover": "people's acts",
    "help": "What am I looking at?",
    "rinses": "Rinse",
    "sheet": "one torn at the far end",
    "laboratory": "beyond three standard deviations",
}
"""What each view must say before its picture is taken: an empty screen is no picture."""


def app_with(picture, **wishes):
    events = [
        invented.event(
            number, f"thing {number} happened", subject="nickel-1", after_s=number - 60
        )
        for number in range(1, 60)
    ]
    past = [
        invented.stay(1, "3999", "soak-1", minutes_ago=70.0, dwell="too short: 540 s"),
        invented.nickel_stay(2, "3999", minutes_ago=55.0),
        *invented.nickel_found(),
    ]
    desk = invented.InventedDesk(picture, events=events, past=past)
    return app_on(desk, where="/records/works", **wishes)


def taken_after(app, keys, says):
    """Return what to do before a picture is taken: press keys, see that something is there."""

    async def before(pilot):
        await settle(app, pilot)
        await press(app, pilot, *keys)
        assert says in text_of(app)

    return before


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("view", KEYS)
def test_a_view_with_faults_looks_as_it_did(snap_compare, view, size):
    app = app_with(invented.troubled(long=True))

    assert snap_compare(
        app, terminal_size=SIZES[size], run_before=taken_after(app, KEYS[view], SAYS[view])
    )


def test_every_view_has_its_pictures():
    assert set(VIEWS) <= set(KEYS)


@pytest.mark.parametrize("theme", ["night", "plainest"])
@pytest.mark.parametrize("name", OVERLAYS)
def test_a_window_over_a_view_looks_as_it_did(snap_compare, name, theme):
    app = app_with(invented.troubled(), initials="MK", theme=theme)
    keys, says = OVERLAYS[name]

    async def before(pilot):
        await settle(app, pilot)
        await press(app, pilot, *keys)
        for each in app.screen.query(Input):
            each.cursor_blink = False
        shown = [str(each.render()) for each in app.screen.query(Static)]
        shown += [each.placeholder for each in app.screen.query(Input)]
        assert any(says in each for each in shown), shown

    assert snap_compare(app, terminal_size=SIZES["small"], run_before=before)


@pytest.mark.parametrize("size", SIZES)
def test_a_line_in_good_health_looks_as_it_did(snap_compare, size):
    app = app_with(invented.line(long=True))

    assert snap_compare(
        app,
        terminal_size=SIZES[size],
        run_before=taken_after(app, ["down"], "no alarm stands"),
    )


@pytest.mark.parametrize("theme", ["day", "stark", "plainest", "sixteen"])
@pytest.mark.parametrize("view", KEYS)
def test_a_view_in_another_theme_looks_as_it_did(snap_compare, view, theme):
    app = app_with(invented.troubled(), theme=theme)

    assert snap_compare(
        app, terminal_size=(120, 40), run_before=taken_after(app, KEYS[view], SAYS[view])
    )


@pytest.mark.parametrize("view", ["line", "tank", "trend"])
def test_a_view_in_seven_bits_looks_as_it_did(snap_compare, view):
    app = app_with(invented.troubled(), theme="plainest", is_plain=True)

    async def before(pilot):
        await taken_after(app, KEYS[view], SAYS[view])(pilot)
        for sheet in (app.live.head, app.live.body, app.live.lower, app.live.foot):
            for y in range(sheet.size.height):
                assert sheet.render_line(y).text.isascii()

    assert snap_compare(app, terminal_size=(100, 30), run_before=before)


def test_the_line_in_the_readme(snap_compare):
    app = app_with(invented.troubled(long=True))

    assert snap_compare(
        app, terminal_size=(160, 45), run_before=taken_after(app, KEYS["line"], SAYS["line"])
    )


def test_a_tank_in_the_readme(snap_compare):
    app = app_with(invented.troubled(long=True))

    assert snap_compare(
        app, terminal_size=(140, 45), run_before=taken_after(app, KEYS["tank"], SAYS["tank"])
    )


def test_the_alarms_in_the_readme(snap_compare):
    app = app_with(invented.troubled(long=True), theme="day")

    assert snap_compare(
        app,
        terminal_size=(120, 30),
        run_before=taken_after(app, KEYS["alarms"], SAYS["alarms"]),
    )


def test_every_picture_of_the_readme_is_one_of_these():
    root = Path(__file__).parents[2]
    text = (root / "README.md").read_text(encoding="utf-8")
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", text)

    assert len(pictures) >= 3
    for each in pictures:
        assert (root / each).parent == Path(
            __file__
        ).parent / "__snapshots__" / "test_snapshots"
        assert (root / each).stem in globals()
        assert (root / each).is_file()


def test_a_line_without_a_collector_looks_as_it_did(snap_compare):
    app = app_with(invented.troubled())
    app.desk.is_alive = False

    async def before(pilot):
        await settle(app, pilot)
        app.pull()
        assert "collector not running since 12:00:00" in text_of(app)

    assert snap_compare(app, terminal_size=(120, 40), run_before=before)


def test_a_form_over_a_view_looks_as_it_did(snap_compare):
    app = app_with(invented.troubled(), initials="MK")

    async def before(pilot):
        await settle(app, pilot)
        await press(app, pilot, "a", "z")
        for each in app.screen.query(Input):
            each.cursor_blink = False
        assert app.screen.query_one("#minutes", Input).value == "30"

    assert snap_compare(app, terminal_size=(100, 30), run_before=before)
